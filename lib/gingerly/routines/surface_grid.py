"""Surface grid: flatness and tilt of a face, and how much to shim each support, from touches in rows.

::

        (7)→(8)→(9)       each row begins at the first column, back along the row before
        (4)→(5)→(6)
        (1)→(2)→(3)       the first from the top of Z, the others from the hop level
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gingerly.budgets.form import Fitted
from gingerly.fits import UnusableGeometry, fit_plane
from gingerly.geometry import Position
from gingerly.messages.faults import ImplausibleContact
from gingerly.messages.touches import Finding, Leg, Place, Step, Touch, Unusable
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker
from gingerly.routines.features import check_bare
from gingerly.routines.preflight import check_course, check_standoff
from gingerly.routines.top import SENSE_MARGIN, TopSpot

FLATNESS = "flatness"
"""What the form of a face is called in a result."""

MOST = 400
"""Touches of one grid: an hour or two on most machines. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceGrid:
    """Touch a bare face at `columns` × `rows` places, and find its flatness, its tilt and the shims it needs.

    The outer places lie `margin` mm inside the stock's edges. Heights differ by no more than `uneven` mm.
    `supports` are where shims can go, in mm inward from the stock's corner along X and Y; each is to be raised
    to the highest of them. Nothing is written. The defaults are our own choice.
    """

    spot: TopSpot
    columns: int = 3
    rows: int = 3
    margin: float = 8.0
    uneven: float = 0.5
    supports: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if not (self.columns >= 2 and self.rows >= 2 and self.columns * self.rows <= MOST):
            raise ValueError(
                f"a grid has 2 columns and 2 rows at least, and {MOST} places at most, not"
                f" {self.columns} × {self.rows}"
            )
        if not 0.0 < self.uneven < math.inf:
            raise ValueError(f"a grid's heights differ by more than 0 mm, not by {self.uneven:g} mm")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        check_bare(self.spot, "a grid")
        places = self._places()
        for place in (places[0], places[-1]):
            replace(self.spot, at=place).spot()
        spot = replace(self.spot, at=places[0])
        first = spot.touch(site, self._name(0))
        hops = [self._hop(spot, site, first, place) for place in places]
        course = PlannedCourse(
            name="surface grid",
            tool=spot.tool,
            places=(Place.STOCK,),
            steps=(
                lambda faces: first,
                *(self._further(number, first, hops) for number in range(1, len(hops))),
                lambda faces: self._conclude(site, faces),
            ),
            fitted=_flattened,
        )
        return check_course(course, site, stock_top=spot.corner_place(site.here).z, within=spot.within)

    def _places(self) -> list[tuple[float, float]]:
        stock = self.spot.stock
        steps_x = (stock.size_x - 2.0 * self.margin) / (self.columns - 1)
        steps_y = (stock.size_y - 2.0 * self.margin) / (self.rows - 1)
        return [
            (self.margin + column * steps_x, self.margin + row * steps_y)
            for row in range(self.rows)
            for column in range(self.columns)
        ]

    def _hop(self, spot: TopSpot, site: Site, first: Touch, place: tuple[float, float]) -> Position:
        """Return where the tool stands above a place, at the hop level."""
        here, there = spot.at, place
        assert here is not None
        shift = spot.point(site.here, *there).minus(spot.point(site.here, *here))
        return first.exit.plus(shift)

    def _name(self, number: int) -> str:
        return f"place {number + 1}"

    def _further(self, number: int, first: Touch, hops: list[Position]) -> StepMaker:
        """Return the touch of a later place, expected as high as the first one was."""
        feed, hop = first.plan.leave_feed, hops[number]
        begins_row = number % self.columns == 0
        # Back to where the last row began: the trail, the only way back, forgets that row.
        back = (Leg(hops[number - self.columns], feed),) if begins_row else ()

        def touch(faces: Faces) -> Step:
            standoff = hop.z - faces[0].position.z
            check_standoff(self._name(number), standoff=standoff, within=self.uneven)
            return replace(
                first,
                name=self._name(number),
                legs=(*back, Leg(hop, feed)),
                start=hop,
                end=hop._replace(z=faces[0].position.z - self.uneven - SENSE_MARGIN),
                near=standoff - self.uneven,
                far=standoff + self.uneven,
                exit=hop,
            )

        return touch

    def _conclude(self, site: Site, faces: Faces) -> Step:
        points = [face.position for face in faces]
        try:
            plane = fit_plane(points)
            slope_x, slope_y = plane.slopes
        except UnusableGeometry as bad:
            return Unusable(ImplausibleContact, str(bad))
        measures = [
            (FLATNESS, plane.form),
            ("tilt", plane.tilt),
            ("tilt along X", math.atan(slope_x)),
            ("tilt along Y", math.atan(slope_y)),
            ("highest", max(point.z for point in points)),
            ("lowest", min(point.z for point in points)),
        ]
        supports = [self.spot.point(site.here, *support) for support in self.supports]
        heights = [plane.height(support.x, support.y) for support in supports]
        measures += [(f"shim {number}", max(heights) - height) for number, height in enumerate(heights, 1)]
        return Finding((), tuple(measures))


def _flattened(faces: Faces) -> Fitted:
    """Return the plane through all faces, as far as its form goes: what acts on all alike, it takes up."""
    return Fitted(
        form=FLATNESS,
        numbers=tuple(range(len(faces))),
        outward=(None,) * len(faces),
        unknowns=3,
        left=lambda shifts: [shift - math.fsum(shifts) / len(shifts) for shift in shifts],
    )
