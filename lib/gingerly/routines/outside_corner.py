"""Outside corner: the top face, then the two walls of one corner of the stock.

::

      from above, front left corner          Z: down onto the flat
            ┌────────┬──────────             X: → against lip A (or the wall), at depth e
      X →   │ lip A  │ (Z)                   Z: a short touch of the flat shows that the lead is still on
            │        O── stock ──            Y: ↑ against lip B (or the wall), at depth e
            └────────┴──────────
                        ↑ Y
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.kinematics import speed_mm_s
from gingerly.messages.commands import Question
from gingerly.messages.faults import StartOutsideWindow, UnsuitablePlate, UnsuitableTool
from gingerly.messages.touches import Change, Finding, Leg, Place, Setting, Step, Touch
from gingerly.planner import limited_traverse, plan_touch
from gingerly.plate import Placement
from gingerly.reach import DepthRange, side_depth, side_objections
from gingerly.routines.course import Faces, PlannedCourse, Site
from gingerly.routines.preflight import ROOM, check_course
from gingerly.routines.top import SENSE_MARGIN, TopSpot

BESIDE = 15.0
"""Millimetres from the corner at which a wall is touched, where there is room: near the corner skew does little.
Our own choice."""

DIRECT_CHAMFER = 0.5
"""The broken edge assumed on bare stock, in mm: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideCorner:
    """Touch the top face and both walls of a corner, and set, or only find, the origin.

    Each touched face `reads` a work coordinate (x, y, z; mm). `offset` is the work offset (1–9) to write, or
    None to find only. `flute_faced` asks the operator to turn a flute to each wall; `assure_lead` touches the
    flat once more before the second wall, which shows that the test lead is still on.
    """

    spot: TopSpot
    offset: int | None = None
    reads: Position = ORIGIN
    flute_faced: bool = False
    assure_lead: bool = True

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        self.spot.check()
        if self.spot.plate is not None and self.spot.placement is not Placement.SEATED:
            raise UnsuitablePlate(
                f"a plate laid {self.spot.placement.value} has no lip beside the stock; seat it in the corner"
            )
        depth = self._depth()
        top = self.spot.touch(site, "top")
        self._check_hop(top, site)
        course = PlannedCourse(
            name="outside corner",
            tool=self.spot.tool,
            places=(Place.TIP, Place.FLANK) if self.spot.plate is not None else (Place.STOCK,),
            steps=(
                lambda faces: top,
                lambda faces: self._wall(site, top, faces, Axis.X, depth),
                *((lambda faces: self._assurance(site, top, faces),) if self.assure_lead else ()),
                lambda faces: self._wall(site, top, faces, Axis.Y, depth),
                self._conclude,
            ),
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    # ---- the touches ----------------------------------------------------------------------------------

    def _wall(self, site: Site, top: Touch, faces: Faces, axis: Axis, depth: float) -> Touch:
        """Return the touch of one wall: sideways at the hop level, down beside the wall, and in."""
        spot, tool = self.spot, self.spot.tool
        inward = spot.corner.inward[axis]
        corner = spot.corner_place(site.here)
        standoff = spot.within + ROOM
        wall = corner[axis] - inward * self._lip(axis)
        across = {axis: wall - inward * (tool.radius + standoff), _other(axis): self._beside(corner, axis)}
        aside = top.exit.with_axes(across)
        start = aside._replace(z=faces[0].position.z - depth)
        feed, _ = limited_traverse(site.facts, tool)
        end = start.with_axes({axis: wall - inward * (tool.radius - spot.within - SENSE_MARGIN)})
        return Touch(
            name=f"{axis.name} wall",
            legs=(Leg(aside, feed), Leg(start, feed)),
            start=start,
            end=end,
            near=standoff - spot.within,
            far=standoff + spot.within,
            exit=aside,
            plan=plan_touch(site.facts, tool, site.wishes),
            question=Question.TURN_FLUTE if self.flute_faced else None,
        )

    def _assurance(self, site: Site, top: Touch, faces: Faces) -> Touch:
        """Return one quick touch of the flat, whose height is known by now."""
        feed, _ = limited_traverse(site.facts, self.spot.tool)
        plan = replace(plan_touch(site.facts, self.spot.tool, site.wishes), retouches=0)
        known = top.exit.z - faces[0].position.z
        doubt = plan.spread + speed_mm_s(plan.fast_feed) * site.facts.latch_s.half_width
        return replace(
            top,
            name="top again",
            legs=(Leg(top.exit, feed),),
            start=top.exit,
            end=top.exit._replace(z=faces[0].position.z - SENSE_MARGIN),
            near=known - doubt,
            far=known + doubt,
            plan=plan,
        )

    def _conclude(self, faces: Faces) -> Step:
        top, wall_x, wall_y = faces[0], faces[1], faces[-1]
        axes = (
            (Axis.X, self._stock_face(wall_x.position, Axis.X) - self.reads.x),
            (Axis.Y, self._stock_face(wall_y.position, Axis.Y) - self.reads.y),
            (Axis.Z, top.position.z - self.spot.thickness() - self.reads.z),
        )
        return Finding(axes) if self.offset is None else Setting((Change(self.offset, axes),))

    # ---- the numbers ----------------------------------------------------------------------------------

    def _lip(self, axis: Axis) -> float:
        plate = self.spot.plate
        return plate.compensation(self.spot.placement, self.spot.corner, axis) if plate is not None else 0.0

    def _stock_face(self, contact: Position, axis: Axis) -> float:
        """The stock's face beyond the tool's radius and the lip, seen from the tool's axis at contact."""
        return contact[axis] + self.spot.corner.inward[axis] * (self.spot.tool.radius + self._lip(axis))

    def _beside(self, corner: Position, axis: Axis) -> float:
        """Where along the wall it is touched, as a coordinate of the other axis."""
        spot, other = self.spot, _other(axis)
        length = (spot.stock.size_x, spot.stock.size_y)[other]
        if spot.plate is not None:
            length = min(length, spot.plate.wall_length(spot.corner, axis))
        return corner[other] + spot.corner.inward[other] * min(BESIDE, length / 2.0)

    def _depth(self) -> float:
        """The depth of the tip below the upper edge of what is touched; raises `UnsuitableTool` without room."""
        spot, plate = self.spot, self.spot.plate
        allowed = side_depth(
            spot.tool,
            chamfer=plate.chamfer if plate is not None else DIRECT_CHAMFER,
            wall_height=spot.stock.proud + spot.thickness() - spot.within,
            flute_faced=self.flute_faced,
            face_height=plate.height if plate is not None else spot.stock.thickness,
            standing=spot.highest(),
        )
        return _chosen_depth(spot, allowed)

    def _check_hop(self, top: Touch, site: Site) -> None:
        """Raise `StartOutsideWindow` where the tool could not pass over what stands on the plate."""
        face = self.spot.corner_place(site.here).z + self.spot.thickness()
        needed = self.spot.within + self.spot.highest() + ROOM
        if top.exit.z - face < needed:
            raise StartOutsideWindow(
                f"the tool starts {top.exit.z - face:.3f} mm above the flat and must pass over the plate sideways,"
                f" which takes {needed:.3f} mm: start {needed - top.exit.z + face:.3f} mm higher"
            )


def _chosen_depth(spot: TopSpot, allowed: DepthRange) -> float:
    objections = side_objections(spot.tool)
    if allowed.refusal is not None:
        objections = (*objections, allowed.refusal)
    if objections:
        raise UnsuitableTool(f"{spot.tool.name!r}: " + "; ".join(objections))
    comfortable = (spot.plate.height if spot.plate is not None else spot.stock.proud) / 2.0
    return min(max(allowed.low, comfortable), allowed.high)


def _other(axis: Axis) -> Axis:
    return Axis.Y if axis is Axis.X else Axis.X
