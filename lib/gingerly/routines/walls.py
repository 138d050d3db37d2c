"""Touching walls from outside: up and over at the hop level, down beside the wall, and in.

::

      hop level   ┌───────────────┐  ← aside
                  │  ════════     │
      depth e ────┼──┤ metal ├── ← ┘ start, standoff before the wall
                     └───────┘

`Outside` knows any wall that stands up, of any direction; `CornerWalls` the two walls of a corner of the stock,
touched on the plate's lips or on the stock itself. Shared by every routine that touches a wall from outside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from gingerly.geometry import SLACK, Axis, Position
from gingerly.kinematics import speed_mm_s
from gingerly.messages.commands import Question
from gingerly.messages.faults import StartOutsideWindow, UnsuitablePlate, UnsuitableTool
from gingerly.messages.touches import Leg, Metal, Place, Touch, TouchPlan
from gingerly.plate import Placement
from gingerly.reach import side_depth, side_objections
from gingerly.routines.course import Faces, Site, StepMaker
from gingerly.routines.features import check_bare
from gingerly.routines.preflight import ROOM
from gingerly.routines.top import SENSE_MARGIN, TopSpot
from gingerly.tool import Tool

TURN_A_FLUTE = "Use a plain pin or the shank; or say flute_faced = true, and turn a flute to each wall when asked."
"""What to do about a cutter whose flutes do not cover the face, where a flute turned to the wall would."""

BESIDE = 15.0
"""Millimetres from the corner at which a wall is touched, where there is room: near the corner skew does little.
Our own choice."""

DIRECT_CHAMFER = 0.5
"""The broken edge assumed on bare stock, in mm: common practice, no source."""

AGAIN = "top again"
"""The name of the touch of the flat that shows that the test lead is still on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """The way to walls that stand up around the flat touched by `top`, their depth (mm) below it settled.

    Each lies within `within` mm of where it is expected.
    """

    top: Touch
    tool: Tool
    depth: float
    within: float
    question: Question | None = None

    def touch(
        self,
        name: str,
        faces: Faces,
        at: Position,
        direction: Position,
        *,
        within: float | None = None,
        window: tuple[float, float] | None = None,
        lip: str | None = None,
        beside: float = 0.0,
    ) -> Touch:
        """Return the touch of a wall that is expected with the tool's axis at `at` (X and Y count, mm).

        `direction` is the level unit vector that leads into the metal; `within` may be another doubt (mm), and
        `window` says from where to where about `at` the wall may be met, if it is not that much either way. `lip`
        and `beside` are those of `Metal`.
        """
        within = self.within if within is None else within
        early, late = (-within, within) if window is None else window
        standoff = ROOM - early
        x, y, _ = at.minus(direction.times(standoff))
        aside = Position(x, y, self.top.exit.z)
        start = Position(x, y, faces[0].position.z - self.depth)
        feed = self.top.plan.leave_feed
        return Touch(
            name=name,
            legs=(Leg(aside, feed), Leg(start, feed)),
            start=start,
            end=start.plus(direction.times(standoff + late + SENSE_MARGIN)),
            near=standoff + early,
            far=standoff + late,
            exit=aside,
            plan=self.top.plan,
            question=self.question,
            metal=Metal(lip=lip, beside=beside, shortfall=self.shortfall),
        )

    @property
    def shortfall(self) -> float:
        """By how many mm the tool may read short at this depth; 0 where a flute is turned to each wall."""
        return 0.0 if self.question is Question.TURN_FLUTE else self.tool.flute_shortfall(self.depth)

    def again(self, site: Site, faces: Faces) -> Touch:
        """Return one quick touch of the flat, whose height is known by now."""
        top, plan = self.top, _touched_once(self.top.plan)
        height = faces[0].position.z
        known = top.exit.z - height
        doubt = plan.spread + speed_mm_s(plan.fast_feed) * site.facts.latch_s.half_width
        return Touch(
            name=AGAIN,
            legs=(Leg(top.exit, plan.leave_feed),),
            start=top.exit,
            end=Position(top.exit.x, top.exit.y, height - SENSE_MARGIN),
            near=known - doubt,
            far=known + doubt,
            exit=top.exit,
            plan=plan,
            question=top.question,
            metal=top.metal,
        )

    def steps(
        self, site: Site, makers: tuple[StepMaker, ...], conclude: StepMaker, *, assure_lead: bool
    ) -> tuple[StepMaker, ...]:
        """Return the steps of a course: the top, then each wall, all but the first after a touch of the flat.

        `assure_lead` leaves these assurances out where it is False. Makers and `conclude` see the faces without
        them: the top first, then the walls in order.
        """

        def plain(maker: StepMaker) -> StepMaker:
            return lambda faces: maker(tuple(face for face in faces if face.touch != AGAIN))

        steps: list[StepMaker] = [lambda faces: self.top]
        for number, maker in enumerate(makers):
            if assure_lead and number > 0:
                steps.append(lambda faces: self.again(site, faces))
            steps.append(plain(maker))
        return (*steps, plain(conclude))


@lru_cache(maxsize=64)
def _touched_once(plan: TouchPlan) -> TouchPlan:
    return replace(plan, retouches=0)


@dataclass(frozen=True, slots=True)
class CornerWalls:
    """The two walls of the stock's corner at `spot`, touched on the plate's lips or on the stock itself.

    `may_face` says that the routine can ask for a flute to be turned to each wall, `flute_faced` that it does.
    """

    spot: TopSpot
    flute_faced: bool = False
    may_face: bool = True

    def check(self) -> None:
        """Raise `UnsuitablePlate` where nothing can be touched beside this corner."""
        self.spot.check()
        if self.spot.plate is not None and self.spot.placement is not Placement.SEATED:
            raise UnsuitablePlate(
                f"a plate laid {self.spot.placement.value} has no lip beside the stock; seat it in the corner"
            )

    def places(self) -> tuple[Place, ...]:
        """Return where the circuit must be seen to close."""
        return (Place.TIP, Place.FLANK) if self.spot.plate is not None else (Place.STOCK,)

    def outside(self, site: Site) -> Outside:
        """Return the way to both walls; raises a `PlanFault` where there is no depth or no height for it."""
        self.check()
        spot = self.spot
        try:
            depth = self._depth(flute_faced=self.flute_faced)
        except UnsuitableTool as fault:
            if self.may_face and not self.flute_faced and self._fits_faced():
                fault.advice = TURN_A_FLUTE
            raise
        top = spot.touch(site, "top")
        check_hop(top, spot, site.here)
        question = Question.TURN_FLUTE if self.flute_faced else None
        return Outside(top=top, tool=spot.tool, depth=depth, within=spot.within, question=question)

    def _depth(self, *, flute_faced: bool) -> float:
        spot, plate = self.spot, self.spot.plate
        return wall_depth(
            spot,
            chamfer=plate.chamfer if plate is not None else DIRECT_CHAMFER,
            wall_height=spot.stock.proud + spot.thickness() - spot.within,
            face_height=plate.height if plate is not None else spot.stock.thickness,
            flute_faced=flute_faced,
        )

    def _fits_faced(self) -> bool:
        try:
            self._depth(flute_faced=True)
        except UnsuitableTool:
            return False
        return True

    def wall(
        self,
        site: Site,
        outside: Outside,
        faces: Faces,
        axis: Axis,
        *,
        along: float | None = None,
        skew_within: float = 0.0,
        name: str = "",
    ) -> Touch:
        """Return the touch of the wall across `axis`, `along` mm from the corner on it, or near the corner.

        The stock may be turned about its corner by up to `skew_within` rad.
        """
        along = self.beside(axis) if along is None else along
        # Whoever says how far the stock may be turned is about to find it: skew is no doubt then.
        arm = 0.0 if skew_within else along * self.spot.corner.inward[other_axis(axis)]
        return outside.touch(
            name or f"{axis.name} wall",
            faces,
            self.expected(site, axis, along),
            self.inward(axis),
            within=outside.within + along * math.tan(skew_within),
            lip=self.lip_name(axis),
            beside=arm,
        )

    def lip_name(self, axis: Axis) -> str | None:
        """Return which lip of the plate hangs over the wall across `axis`: "a", "b", or None without a plate."""
        if self.spot.plate is None:
            return None
        return "a" if (axis is Axis.X) == (self.spot.corner.quarter_turns % 2 == 0) else "b"

    def expected(self, site: Site, axis: Axis, along: float) -> Position:
        """Return where the tool's axis is expected at contact with the wall across `axis` (X and Y, mm)."""
        spot, inward, other = self.spot, self.spot.corner.inward, other_axis(axis)
        corner = spot.corner_place(site.here)
        aside = spot.tool.radius + self.lip(axis)
        self._check_bolt(axis, along)
        return corner.with_axes(
            {axis: corner[axis] - inward[axis] * aside, other: corner[other] + inward[other] * along}
        )

    def inward(self, axis: Axis) -> Position:
        """Return the unit vector across the wall into the stock."""
        return Position(0.0, 0.0, 0.0).with_axes({axis: float(self.spot.corner.inward[axis])})

    def lip(self, axis: Axis) -> float:
        """Return the mm of metal between the touched face and the stock's own face across `axis`."""
        plate = self.spot.plate
        return plate.compensation(self.spot.placement, self.spot.corner, axis) if plate is not None else 0.0

    def stock_face(self, contact: Position, axis: Axis) -> float:
        """Return the stock's face beyond the tool's radius and the lip, seen from the tool's axis at contact."""
        return contact[axis] + self.spot.corner.inward[axis] * (self.spot.tool.radius + self.lip(axis))

    def wall_length(self, axis: Axis) -> float:
        """Return how far in mm the wall across `axis` can be touched, from the corner on."""
        spot = self.spot
        length = (spot.stock.size_x, spot.stock.size_y)[other_axis(axis)]
        return length if spot.plate is None else min(length, spot.plate.wall_length(spot.corner, axis))

    def beside(self, axis: Axis) -> float:
        """Return how many mm from the corner the wall across `axis` is touched."""
        return min(BESIDE, self.wall_length(axis) / 2.0)

    def _check_bolt(self, axis: Axis, along: float) -> None:
        """Raise `UnsuitablePlate` where the bolt would be struck before the lip is."""
        spot, plate = self.spot, self.spot.plate
        if plate is None or plate.bolt is None:
            return
        aside, other = spot.tool.radius + self.lip(axis), other_axis(axis)
        inward = spot.corner.inward
        x, y, _ = Position(0.0, 0.0, 0.0).with_axes({axis: -inward[axis] * aside, other: inward[other] * along})
        a, b = plate.from_machine(spot.corner, x, y)
        across, beside = plate.bolt.a - a, plate.bolt.b - b
        if (axis is Axis.X) == (spot.corner.quarter_turns % 2 == 1):
            across, beside = beside, across
        # Across the wall the contact itself settles where the tool stands; along it the place is doubtful.
        away = math.hypot(across, max(0.0, abs(beside) - spot.within))
        needed = plate.bolt.radius + max(spot.tool.radius, (spot.tool.shank or 0.0) / 2.0) + ROOM
        if away < needed - SLACK:
            raise UnsuitablePlate(
                f"at the {axis.name} wall the tool's axis comes within {away:.3f} mm of the bolt's, and needs"
                f" {needed:.3f} mm: {needed - away:.3f} mm too near; choose another corner, or move the bolt"
            )


def standing(spot: TopSpot, site: Site, *, what: str, height: float) -> Outside:
    """Return the way around bare metal that stands `height` mm up, touched on top at `spot`.

    Raises a `PlanFault` where there is no depth or no height for it.
    """
    check_bare(spot, what)
    high = min(height, spot.stock.proud - spot.within)
    depth = wall_depth(spot, chamfer=DIRECT_CHAMFER, wall_height=high, face_height=height, flute_faced=False)
    top = spot.touch(site, "top")
    check_hop(top, spot, site.here)
    return Outside(top=top, tool=spot.tool, depth=depth, within=spot.within)


def wall_depth(
    spot: TopSpot,
    *,
    chamfer: float,
    wall_height: float,
    face_height: float,
    flute_faced: bool,
) -> float:
    """Return the depth in mm of the tip below the upper edge of a wall; raises `UnsuitableTool` without room.

    Sizes as `side_depth` has them. Where there is a choice it is half the touched face.
    """
    tool = spot.tool
    allowed = side_depth(
        tool,
        chamfer=chamfer,
        wall_height=wall_height,
        flute_faced=flute_faced,
        face_height=face_height,
        standing=spot.highest(),
    )
    objections = side_objections(tool)
    high = allowed.high
    if (tool.shank or 0.0) > tool.diameter:
        high = min(high, tool.free_length - ROOM)  # the shoulder passes over the edge
    if allowed.refusal is not None:
        objections = (*objections, allowed.refusal)
    elif high < allowed.low:
        objections = (
            *objections,
            f"the tip must stand {allowed.low:.3f} mm below the wall's edge ({allowed.low_because}), and the wider"
            f" shank begins {tool.free_length:.3f} mm up and must pass {ROOM:g} mm above that edge:"
            f" {allowed.low - high:.3f} mm are missing",
        )
    if objections:
        raise UnsuitableTool(f"{tool.name!r}: " + "; ".join(objections))
    return min(max(allowed.low, min(face_height, wall_height) / 2.0), high)


def check_hop(top: Touch, spot: TopSpot, here: Position) -> None:
    """Raise `StartOutsideWindow` where the tool could not pass sideways over what stands on the flat."""
    face = spot.corner_place(here).z + spot.thickness()
    needed = spot.within + spot.highest() + ROOM
    if top.exit.z - face < needed - SLACK:
        raise StartOutsideWindow(
            f"the tool starts {top.exit.z - face:.3f} mm above the flat and must pass over it sideways, which takes"
            f" {needed:.3f} mm: start {needed - top.exit.z + face:.3f} mm higher"
        )


def other_axis(axis: Axis) -> Axis:
    """Return Y for X, and X for Y."""
    return Axis.Y if axis is Axis.X else Axis.X


def check_along(walls: CornerWalls, axis: Axis, along: float) -> None:
    """Raise `StartOutsideWindow` where a wall would be touched beyond its ends."""
    length, keep = walls.wall_length(axis), walls.spot.within + ROOM
    beyond = max(keep - along, along - (length - keep))
    if beyond > SLACK:
        raise StartOutsideWindow(
            f"the {axis.name} wall would be touched {along:.3f} mm from the corner; it is {length:.3f} mm long and"
            f" {keep:.3f} mm are kept from both ends: {beyond:.3f} mm too far out"
        )
