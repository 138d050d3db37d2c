"""Boss centre: the top of a round boss, then its wall from outside, all round.

::

               ↓
             ╭───╮
           → │(Z)│ ←       n touches, evenly spaced; between them the tool passes over the boss
             ╰───╯
               ↑
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.geometry import ORIGIN, Position
from gingerly.messages.touches import Place, Step
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker
from gingerly.routines.features import around, check_in_stock, check_upon, inward_place, upon
from gingerly.routines.preflight import check_course
from gingerly.routines.round_feature import RoundWall, all_round, centred, check_touches, rounded
from gingerly.routines.top import TopSpot
from gingerly.routines.walls import Outside, standing


@dataclass(frozen=True, slots=True, kw_only=True)
class BossCentre:
    """Touch a boss all round from outside, and set, or only find, its centre; diameter and form are found besides.

    `centre` is where it lies, in mm inward from the stock's corner along X and Y; `diameter` and `height` are its
    sizes in mm, its top the stock's top face. It lies within the spot's `within` of where that puts it, on X and
    on Y. The centre `reads` work coordinates (mm), and so does the top where `with_top` sets it too.
    Four touches are common practice, no source.
    """

    spot: TopSpot
    centre: tuple[float, float]
    diameter: float
    height: float
    touches: int = 4
    offset: int | None = None
    reads: Position = ORIGIN
    with_top: bool = False
    assure_lead: bool = False

    def __post_init__(self) -> None:
        check_touches(self.touches)
        object.__setattr__(self, "spot", upon(self.spot, self.centre))

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        spot = self.spot
        outside = standing(spot, site, what="a boss", height=self.height)
        check_in_stock(spot, "the boss", around(self.centre, (self.diameter, self.diameter)))
        check_upon(spot, "the boss", self.diameter / 2.0 - math.dist(inward_place(spot), self.centre))
        makers = self._walls(spot.point(site.here, *self.centre), outside)
        course = PlannedCourse(
            name="boss centre",
            tool=spot.tool,
            places=(Place.STOCK,),
            steps=outside.steps(site, makers, self._conclude, assure_lead=self.assure_lead),
            fitted=rounded,
        )
        stock_top = spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=spot.within)

    def _walls(self, middle: Position, outside: Outside) -> tuple[StepMaker, ...]:
        reach = self.diameter / 2.0 + self.spot.tool.radius
        wall = RoundWall(reach=reach, within=self.spot.within, inside=False)

        def towards(number: int, direction: Position) -> StepMaker:
            at = middle.minus(direction.times(reach))

            def touch(faces: Faces) -> Step:
                first = faces[1].position.x - middle.x + reach if len(faces) > 1 else None
                window = wall.window(direction, first)
                return outside.touch(f"boss wall {number}", faces, at, direction, window=window)

            return touch

        return tuple(towards(number, way) for number, way in enumerate(all_round(self.touches), 1))

    def _conclude(self, faces: Faces) -> Step:
        return centred(
            faces,
            tool_radius=-self.spot.tool.radius,
            offset=self.offset,
            reads=self.reads,
            top_at=faces[0].position.z if self.with_top else None,
        )
