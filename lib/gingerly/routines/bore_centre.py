"""Bore centre: the top beside the bore, then its wall from inside, all round.

::

          ┌──────────────────┐
          │       ╭─↑─╮      │      n touches, evenly spaced; each begins and ends where the tool went down
          │  (Z)  ←─●─→      │
          │       ╰─↓─╯      │      centre and diameter: the circle through all contacts
          └──────────────────┘
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.geometry import ORIGIN, Position
from gingerly.messages.touches import Place, Step
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker
from gingerly.routines.features import around, check_beside, check_in_stock, inward_place
from gingerly.routines.inside import Inside, hollow
from gingerly.routines.preflight import check_course
from gingerly.routines.round_feature import RoundWall, all_round, centred, check_touches, rounded
from gingerly.routines.top import TopSpot


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreCentre:
    """Touch a bore all round from inside, and set, or only find, its centre; diameter and form are found besides.

    `centre` is where it lies, in mm inward from the stock's corner along X and Y; `diameter` and `deep` are its
    sizes in mm. It lies within the spot's `within` of where that puts it, on X and on Y. The centre `reads` work
    coordinates (mm), and so does the top where `with_top` sets it too.
    Four touches are common practice, no source.
    """

    spot: TopSpot
    centre: tuple[float, float]
    diameter: float
    deep: float
    touches: int = 4
    offset: int | None = None
    reads: Position = ORIGIN
    with_top: bool = False

    def __post_init__(self) -> None:
        check_touches(self.touches)

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        inside = hollow(self.spot, site, what="a bore", middle=self.centre, deep=self.deep)
        check_in_stock(self.spot, "the bore", around(self.centre, (self.diameter, self.diameter)))
        away = math.dist(inward_place(self.spot), self.centre)
        check_beside(self.spot, "the bore", away - self.diameter / 2.0)
        course = PlannedCourse(
            name="bore centre",
            tool=self.spot.tool,
            places=(Place.STOCK,),
            steps=(lambda faces: inside.top, *self._walls(inside), self._conclude),
            fitted=rounded,
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    def _walls(self, inside: Inside) -> tuple[StepMaker, ...]:
        reach = self.diameter / 2.0 - self.spot.tool.radius
        wall = RoundWall(reach=reach, within=self.spot.within, inside=True)

        def towards(number: int, direction: Position) -> StepMaker:
            at = inside.middle.plus(direction.times(reach))

            def touch(faces: Faces) -> Step:
                first = faces[1].position.x - inside.middle.x - reach if len(faces) > 1 else None
                window = wall.window(direction, first)
                return inside.touch(f"bore wall {number}", faces, at, direction, window=window)

            return touch

        return tuple(towards(number, way) for number, way in enumerate(all_round(self.touches), 1))

    def _conclude(self, faces: Faces) -> Step:
        return centred(
            faces,
            tool_radius=self.spot.tool.radius,
            offset=self.offset,
            reads=self.reads,
            top_at=faces[0].position.z if self.with_top else None,
        )
