"""Touching a top face: the way over the spot, the sense down, and the numbers around it.

Shared by every routine that begins with Z, with a plate or directly on the stock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gingerly.geometry import SLACK, Corner, Position
from gingerly.messages.faults import StartOutsideWindow, UnsuitablePlate
from gingerly.messages.touches import Leg, Metal, Place, Touch
from gingerly.planner import plan_touch
from gingerly.plate import Placement, Plate
from gingerly.routines.course import Site
from gingerly.routines.preflight import ROOM, check_standoff
from gingerly.stock import Stock
from gingerly.tool import Tip, Tool

SENSE_MARGIN = 0.5
"""Millimetres that a sense goes beyond the furthest place where the face can be. Our own choice."""

HOP = 4.0
"""Millimetres above the highest thing on the plate at which the tool moves sideways once its length is known.
Our own choice."""


@dataclass(frozen=True, slots=True)
class Above:
    """The tool stands here, `height` mm above the middle of the flat that will be touched."""

    height: float


Expected = Position | Above
"""Where the stock's corner is expected (mm, its top face in Z as this tool would touch it), or `Above`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TopSpot:
    """Where a top face is touched: what is laid on the stock, at which corner, with which tool.

    `place` says where the stock's corner is expected, known within `within` mm on each axis. Without a `plate`
    the stock itself is touched, which must conduct: near the corner, or `at` so many mm inward from it along X
    and Y. A place known within 1 mm, where nobody says, is our own choice.
    """

    tool: Tool
    stock: Stock
    place: Expected
    within: float = 1.0
    corner: Corner = Corner.FRONT_LEFT
    plate: Plate | None = None
    placement: Placement = Placement.SEATED
    at: tuple[float, float] | None = None

    def thickness(self) -> float:
        """Return the mm between the stock's top face and the face that is touched."""
        return self.plate.thickness(self.placement) if self.plate is not None else 0.0

    def highest(self) -> float:
        """Return how far anything on the plate stands above the touched face, in mm."""
        if self.plate is None:
            return 0.0
        if self.placement is Placement.FLIPPED:
            return self.plate.recess_depth
        return self.plate.highest

    def spot(self) -> tuple[float, float]:
        """Return the middle of the allowed window as (x, y) in mm from the stock's corner.

        Raises `StartOutsideWindow` where the window leaves less room than the place is uncertain by.
        """
        if self.plate is None:
            margin, middle = self._bare_window()
        else:
            window = self.plate.spot_window(self.placement, self.corner, self.edge(), self.stock)
            a, b = window.middle()
            margin, middle = window.margin(a, b), self.plate.to_machine(self.corner, a, b, self.placement)
        if margin < self.within - SLACK:
            raise StartOutsideWindow(
                f"the flat leaves {margin:.3f} mm of room around the spot for this tool, and the place is known"
                f" within {self.within:.3f} mm only: {self.within - margin:.3f} mm too little",
                advice="Use a thinner tool or a larger flat, or know the place more closely; are the sizes right?",
            )
        return middle

    def edge(self) -> Tool:
        """Return the part of the tool that meets the flat at the spot: all of it, or a hollow tip's edge."""
        tool = self.tool
        if tool.tip is not Tip.HOLLOW:
            return tool
        return replace(tool, diameter=min(tool.edge_width, tool.diameter), tip=Tip.FLAT)

    def _bare_window(self) -> tuple[float, tuple[float, float]]:
        """Return the room around the spot on bare stock, and the spot."""
        inward_x, inward_y = self.corner.inward
        sizes, keep = (self.stock.size_x, self.stock.size_y), self.edge().radius + ROOM
        if self.at is None:
            near = min(keep + ROOM + 2.0 * self.within, min(sizes) / 2.0)
            x, y = near, near
        else:
            x, y = self.at
        room = min(x, y, sizes[0] - x, sizes[1] - y)
        return room - keep, (inward_x * x, inward_y * y)

    def corner_place(self, here: Position) -> Position:
        """Return where the stock's corner is expected, in machine coordinates of this tool (mm)."""
        if isinstance(self.place, Position):
            return self.place
        x, y = self.axis_offset()
        return Position(here.x - x, here.y - y, here.z - self.place.height - self.thickness())

    def point(self, here: Position, x: float, y: float) -> Position:
        """Return where the point of the top face `x` and `y` mm inward from the stock's corner is expected."""
        inward_x, inward_y = self.corner.inward
        return self.corner_place(here).plus(Position(inward_x * x, inward_y * y, 0.0))

    def axis_offset(self) -> tuple[float, float]:
        """Return where the tool's axis stands when it touches the spot, as (x, y) in mm from the stock's corner.

        A tool without a centre edge stands beside the spot, towards the middle of the stock, so that the spot
        lies under its edge. Raises `StartOutsideWindow` where something stands on the plate there.
        """
        x, y = self.spot()
        if self.tool.spot_offset == 0.0:
            return x, y
        aside = self.tool.spot_offset / 2.0**0.5
        inward_x, inward_y = self.corner.inward
        x, y = x + inward_x * aside, y + inward_y * aside
        self._check_beside(x, y)
        return x, y

    def _check_beside(self, x: float, y: float) -> None:
        """Raise unless the whole width of a tool that stands beside its spot clears what stands on the plate."""
        plate, tool = self.plate, self.tool
        if plate is None:
            return
        a, b = plate.from_machine(self.corner, x, y, self.placement)
        room = math.inf
        if self.placement is Placement.FLIPPED:
            room = min(a, b) - tool.widest(0.0, plate.recess_depth + ROOM)
        elif plate.bolt is not None:
            bolt = plate.bolt
            room = math.hypot(a - bolt.a, b - bolt.b) - bolt.radius - tool.widest(0.0, bolt.height + ROOM)
        if room < self.within + ROOM - SLACK:
            raise StartOutsideWindow(
                f"{tool.name!r} touches under its edge, and its other side comes within {room:.3f} mm of what"
                f" stands on the plate, where {self.within + ROOM:.3f} mm are needed:"
                f" {self.within + ROOM - room:.3f} mm too near"
            )

    def check(self) -> None:
        """Raise `UnsuitablePlate` where the plate must not be laid so, or the stock does not conduct."""
        if self.plate is None:
            if not self.stock.conductive:
                raise UnsuitablePlate("without a plate the stock itself is touched, and it does not conduct")
            return
        if self.at is not None:
            raise UnsuitablePlate("a spot of its own is for bare stock: the plate says where to touch it")
        objections = self.plate.objections(self.placement, self.corner, self.stock)
        if objections:
            raise UnsuitablePlate("; ".join(objections))

    def places(self) -> tuple[Place, ...]:
        """Return where the circuit must be seen to close for a touch of the top face."""
        return (Place.TIP,) if self.plate is not None else (Place.STOCK,)

    def touch(self, site: Site, name: str) -> Touch:
        """Return the touch of the top face from above the spot; raises `StartOutsideWindow` without standoff."""
        corner = self.corner_place(site.here)
        x, y = self.axis_offset()
        face = corner.z + self.thickness()
        plan = plan_touch(site.facts, self.tool, site.wishes)
        start, legs = self._way(site, corner.x + x, corner.y + y, face, plan.leave_feed)
        standoff = start.z - face
        check_standoff(name, standoff=standoff, within=self.within)
        return Touch(
            name=name,
            legs=legs,
            start=start,
            end=start._replace(z=face - self.within - SENSE_MARGIN),
            near=standoff - self.within,
            far=standoff + self.within,
            exit=start._replace(z=self._hop_level(start.z, face)),
            plan=plan,
            metal=Metal(plate=self.plate is not None),
        )

    def _way(self, site: Site, x: float, y: float, face: float, feed: float) -> tuple[Position, tuple[Leg, ...]]:
        """Return the start of the approach and the legs to it.

        With the tool's length unknown everything sideways is at the top of Z, and everything downward is the
        sense itself; with it known the tool goes down to the hop level, no faster than a look allows.
        """
        if isinstance(self.place, Above):
            return site.here, (Leg(site.here, clear=True),)
        top = site.facts.envelope.high.z
        above = Position(x, y, top)
        legs = (Leg(site.here._replace(z=top), clear=True), Leg(above, clear=True))
        level = self._hop_level(top, face)
        if not site.length_known or level >= top:
            return above, legs
        start = above._replace(z=level)
        return start, (*legs, Leg(start, feed))

    def _hop_level(self, start: float, face: float) -> float:
        return min(start, face + self.within + self.highest() + HOP)
