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

from dataclasses import dataclass

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.messages.touches import Step
from gingerly.routines.course import Faces, PlannedCourse, Site, settled
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot
from gingerly.routines.walls import CornerWalls


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
        walls = CornerWalls(self.spot, self.flute_faced)
        outside = walls.outside(site)
        makers = (
            lambda faces: walls.wall(site, outside, faces, Axis.X),
            lambda faces: walls.wall(site, outside, faces, Axis.Y),
        )
        course = PlannedCourse(
            name="outside corner",
            tool=self.spot.tool,
            places=walls.places(),
            steps=outside.steps(site, makers, self._conclude, assure_lead=self.assure_lead),
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    def _conclude(self, faces: Faces) -> Step:
        walls, (top, wall_x, wall_y) = CornerWalls(self.spot), faces
        axes = (
            (Axis.X, walls.stock_face(wall_x.position, Axis.X) - self.reads.x),
            (Axis.Y, walls.stock_face(wall_y.position, Axis.Y) - self.reads.y),
            (Axis.Z, top.position.z - self.spot.thickness() - self.reads.z),
        )
        return settled(self.offset, axes)
