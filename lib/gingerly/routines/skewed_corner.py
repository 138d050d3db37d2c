"""Skewed corner: origin and rotation of a corner, from two touches on one wall and one on the other.

::

              │      stock, turned by the rotation found
      third → │
              O─────────────────
                ↑ first      ↑ second    (the wall across `long_wall`)
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.messages.touches import Face, Step
from gingerly.routines.course import Faces, PlannedCourse, Site, settled
from gingerly.routines.edge_skew import SKEW_WITHIN, TwoTouches, rotation_of
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot
from gingerly.routines.walls import CornerWalls, other_axis


@dataclass(frozen=True, slots=True, kw_only=True)
class SkewedCorner:
    """Touch the top face, the wall across `long_wall` twice and the other once; set, or only find, the origin.

    The rotation about Z is found besides (rad, counter-clockwise from above); it is not written, since a work
    offset has no place for it. The touched faces `reads` work coordinates (mm) along the turned axes.
    """

    spot: TopSpot
    long_wall: Axis = Axis.Y
    offset: int | None = None
    reads: Position = ORIGIN
    near: float | None = None
    far: float | None = None
    skew_within: float = SKEW_WITHIN
    flute_faced: bool = False
    assure_lead: bool = True

    def __post_init__(self) -> None:
        if self.long_wall is Axis.Z:
            raise ValueError("a wall lies across X or Y, not Z")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        walls, axis = CornerWalls(self.spot, self.flute_faced), self.long_wall
        outside = walls.outside(site)
        pair = TwoTouches(walls, axis, self.near, self.far, self.skew_within)
        makers = (
            lambda faces: pair.first(site, outside, faces),
            lambda faces: pair.second(site, outside, faces),
            lambda faces: walls.wall(site, outside, faces, other_axis(axis), skew_within=self.skew_within),
        )
        course = PlannedCourse(
            name="skewed corner",
            tool=self.spot.tool,
            places=walls.places(),
            steps=outside.steps(site, makers, self._conclude, assure_lead=self.assure_lead),
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    def _conclude(self, faces: Faces) -> Step:
        top, first, second, third = faces
        turn = rotation_of(first, second, self.long_wall)
        corner = self._turned_face(first, self.long_wall, turn).plus(
            self._turned_face(third, other_axis(self.long_wall), turn)
        )
        shift = self.reads.turned(turn)
        axes = (
            (Axis.X, corner.x - shift.x),
            (Axis.Y, corner.y - shift.y),
            (Axis.Z, top.position.z - self.spot.thickness() - self.reads.z),
        )
        return settled(self.offset, axes, (("rotation", turn),))

    def _turned_face(self, face: Face, axis: Axis, turn: float) -> Position:
        """Return the foot of the machine's origin on the stock's face: the corner is the sum of both feet.

        The face stands across the turned axis, the tool's radius and the lip beyond the contact.
        """
        walls = CornerWalls(self.spot)
        normal = walls.inward(axis).turned(turn)
        return normal.times(face.position.dot(normal) + self.spot.tool.radius + walls.lip(axis))
