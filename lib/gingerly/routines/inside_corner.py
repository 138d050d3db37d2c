"""Inside corner: the top beside a pocket, then the two walls of one of its corners, from inside.

::

      from above, front left corner of a pocket

      (Z)  │                     Z: down onto the top beside it
           │ ←──●                X: ← against the wall, from where the tool went down
           │    │                Y: ↓ against the wall, from the same place
           O────┴───────
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gingerly.geometry import ORIGIN, Axis, Corner, Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.faults import StartOutsideWindow
from gingerly.messages.touches import Metal, Place, Step
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker, settled
from gingerly.routines.features import check_beside, check_in_stock, inward_place, outside_of
from gingerly.routines.inside import Inside, hollow
from gingerly.routines.opposite import along_axis
from gingerly.routines.preflight import ROOM, check_course
from gingerly.routines.top import TopSpot
from gingerly.routines.walls import other_axis

AWAY = 3.0
"""Millimetres between tool and walls where the tool goes down, beyond what is not known. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InsideCorner:
    """Touch both walls of a pocket's corner from inside, and set, or only find, where they meet.

    `at` is where that corner lies, in mm inward from the stock's corner along X and Y; `which` says which corner
    of the pocket it is, seen from above; `sizes` (along X and Y) and `deep` are the pocket's, in mm. The walls
    `reads` work coordinates (mm), and so does the top where `with_top` sets it too.
    """

    spot: TopSpot
    at: tuple[float, float]
    which: Corner
    sizes: tuple[float, float]
    deep: float
    offset: int | None = None
    reads: Position = ORIGIN
    with_top: bool = False

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        spot = self.spot
        away = spot.tool.radius + spot.within + ROOM + AWAY
        for axis in (Axis.X, Axis.Y):
            self._check_room(axis, away)
        inside = hollow(spot, site, what="an inside corner", middle=self._inward(away), deep=self.deep)
        far = self._inward(self.sizes[0])[0], self._inward(self.sizes[1])[1]
        (low_x, high_x), (low_y, high_y) = (sorted(pair) for pair in zip(self.at, far, strict=True))
        rectangle = (low_x, high_x, low_y, high_y)
        check_in_stock(spot, "the pocket", rectangle)
        check_beside(spot, "the pocket", outside_of(inward_place(spot), rectangle))
        course = PlannedCourse(
            name="inside corner",
            tool=spot.tool,
            places=(Place.STOCK,),
            steps=(
                lambda faces: inside.top,
                self._wall(site, inside, Axis.X),
                self._wall(site, inside, Axis.Y),
                self._conclude,
            ),
        )
        return check_course(course, site, stock_top=spot.corner_place(site.here).z, within=spot.within)

    def _inward(self, away: float) -> tuple[float, float]:
        """Return the point `away` mm from both walls, in mm inward from the stock's corner."""
        signs, stock_signs = self.which.inward, self.spot.corner.inward
        return self.at[0] + away * signs[0] * stock_signs[0], self.at[1] + away * signs[1] * stock_signs[1]

    def _wall(self, site: Site, inside: Inside, axis: Axis) -> StepMaker:
        sign = self.which.inward[axis]
        wall = self.spot.point(site.here, *self.at)[axis]
        at = inside.middle.with_axes({axis: wall + sign * self.spot.tool.radius})
        other = other_axis(axis)
        metal = Metal(beside=at[other] - self.spot.point(site.here, *self.at)[other])

        def touch(faces: Faces) -> Step:
            way = along_axis(axis, -float(sign))
            return replace(inside.touch(f"{axis.name} wall", faces, at, way), metal=metal)

        return touch

    def _check_room(self, axis: Axis, away: float) -> None:
        spot = self.spot
        needed = away + spot.tool.radius + spot.within + ROOM
        if self.sizes[axis] < needed:
            raise StartOutsideWindow(
                f"the pocket is {self.sizes[axis]:.3f} mm wide along {axis.name}, and this tool needs"
                f" {needed:.3f} mm: {needed - self.sizes[axis]:.3f} mm too little"
            )

    def _conclude(self, faces: Faces) -> Step:
        top, *walls = faces
        axes: AxisValues = tuple(
            (axis, face.position[axis] - self.which.inward[axis] * self.spot.tool.radius - self.reads[axis])
            for axis, face in zip((Axis.X, Axis.Y), walls, strict=True)
        )
        if self.with_top:
            axes = (*axes, (Axis.Z, top.position.z - self.reads.z))
        return settled(self.offset, axes)
