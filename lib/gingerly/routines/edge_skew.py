"""Edge skew: how far the stock is turned about Z, from two touches of one wall.

::

                   second ↓
            ───────────────────  the wall across `axis`, turned by the rotation found
          ↓ first                 (counter-clockwise from above is positive)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.geometry import Axis
from gingerly.messages.touches import Face, Finding, Step, Touch
from gingerly.routines.course import Faces, PlannedCourse, Site
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot
from gingerly.routines.walls import CornerWalls, Outside, check_along, other_axis

SKEW_WITHIN = math.radians(0.5)
"""How far stock that was laid by eye against a fence or a jaw may be turned, in rad. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeSkew:
    """Touch the wall across `axis` twice, and find the stock's rotation about Z (rad); nothing is written.

    The touches lie `near` and `far` mm from the corner of `spot` along the wall, by default as far apart as the
    wall allows. The stock is turned by no more than `skew_within` rad.
    """

    spot: TopSpot
    axis: Axis = Axis.Y
    near: float | None = None
    far: float | None = None
    skew_within: float = SKEW_WITHIN
    flute_faced: bool = False
    assure_lead: bool = True

    def __post_init__(self) -> None:
        if self.axis is Axis.Z:
            raise ValueError("an edge lies across X or Y, not Z")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        walls = CornerWalls(self.spot, self.flute_faced)
        outside = walls.outside(site)
        pair = TwoTouches(walls, self.axis, self.near, self.far, self.skew_within)
        makers = (
            lambda faces: pair.first(site, outside, faces),
            lambda faces: pair.second(site, outside, faces),
        )
        course = PlannedCourse(
            name="edge skew",
            tool=self.spot.tool,
            places=walls.places(),
            steps=outside.steps(site, makers, self._conclude, assure_lead=self.assure_lead),
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    def _conclude(self, faces: Faces) -> Step:
        return Finding((), (("rotation", rotation_of(faces[1], faces[2], self.axis)),))


class TwoTouches:
    """Two touches of one wall, as far apart as it allows: the second expects what the first and the skew leave.

    Raises `StartOutsideWindow` where the wall is too short for them.
    """

    def __init__(
        self, walls: CornerWalls, axis: Axis, near: float | None, far: float | None, skew_within: float
    ) -> None:
        length, keep = walls.wall_length(axis), walls.spot.within + 1.0
        self._walls, self._axis, self._skew_within = walls, axis, skew_within
        self._near = min(walls.beside(axis), max(keep, length / 4.0)) if near is None else near
        self._far = length - max(keep, min(walls.beside(axis), length / 4.0)) if far is None else far
        for along in (self._near, self._far):
            check_along(walls, axis, along)

    def first(self, site: Site, outside: Outside, faces: Faces) -> Touch:
        """Return the touch near the corner."""
        return self._walls.wall(
            site,
            outside,
            faces,
            self._axis,
            along=self._near,
            skew_within=self._skew_within,
            name=self._name("near"),
        )

    def second(self, site: Site, outside: Outside, faces: Faces) -> Touch:
        """Return the touch far from the corner."""
        walls, axis = self._walls, self._axis
        at = walls.expected(site, axis, self._far).with_axes({axis: faces[1].position[axis]})
        # 0.1 mm besides, for scatter and form: our own choice.
        within = abs(self._far - self._near) * math.tan(self._skew_within) + 0.1
        lip = walls.lip_name(axis)
        return outside.touch(self._name("far"), faces, at, walls.inward(axis), within=within, lip=lip)

    def _name(self, which: str) -> str:
        return f"{self._axis.name} wall, {which}"


def rotation_of(first: Face, second: Face, axis: Axis) -> float:
    """Return the turn about Z in rad, counter-clockwise from above, of a wall across `axis` touched twice.

    The tool's radius and the lip lie between contact and wall both times, so they cancel.
    """
    way, other = second.position.minus(first.position), other_axis(axis)
    turn = math.atan(way[axis] / way[other])
    return turn if axis is Axis.Y else -turn
