"""Single edge: the top face, then one wall of the stock.

::

            ┌────────┬──────────     Z: down onto the flat
      X →   │ lip A  │ (Z)           X: → against lip A (or the wall), at depth e, `along` mm from the corner
            │        │── stock ──
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.touches import Step
from gingerly.routines.course import Faces, PlannedCourse, Site, settled
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot
from gingerly.routines.walls import CornerWalls, check_along


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleEdge:
    """Touch the top face and the wall across `axis` (X or Y), and set, or only find, that axis.

    The wall is touched `along` mm from the corner of `spot`, by default near it. The touched faces `reads` work
    coordinates (mm); the top, which has to be touched for the depth, is set too where `with_top` says so.
    """

    spot: TopSpot
    axis: Axis = Axis.X
    offset: int | None = None
    reads: Position = ORIGIN
    along: float | None = None
    with_top: bool = False
    flute_faced: bool = False

    def __post_init__(self) -> None:
        if self.axis is Axis.Z:
            raise ValueError("an edge lies across X or Y, not Z")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        walls = CornerWalls(self.spot, self.flute_faced)
        outside = walls.outside(site)
        along = walls.beside(self.axis) if self.along is None else self.along
        check_along(walls, self.axis, along)
        makers = (lambda faces: walls.wall(site, outside, faces, self.axis, along=along),)
        course = PlannedCourse(
            name="single edge",
            tool=self.spot.tool,
            places=walls.places(),
            steps=outside.steps(site, makers, self._conclude, assure_lead=False),
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    def _conclude(self, faces: Faces) -> Step:
        top, wall = faces
        edge = CornerWalls(self.spot).stock_face(wall.position, self.axis)
        axes: AxisValues = ((self.axis, edge - self.reads[self.axis]),)
        if self.with_top:
            axes = (*axes, (Axis.Z, top.position.z - self.spot.thickness() - self.reads.z))
        return settled(self.offset, axes)
