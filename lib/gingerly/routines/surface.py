"""Surface: the height of the stock's top face, from one touch downwards.

::

            │ tool
            ▼
        ════════  plate (or the bare stock)
      ┌──────────────
      │ stock
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Axis
from gingerly.messages.touches import Step
from gingerly.routines.course import Faces, PlannedCourse, Site, settled
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Touch a top face and set, or only find, its height.

    The touched face reads `reads` mm in the work coordinates that follow; `offset` is the work offset (1–9) to
    write, or None to find only.
    """

    spot: TopSpot
    offset: int | None = None
    reads: float = 0.0

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        self.spot.check()
        top = self.spot.touch(site, "top")
        course = PlannedCourse(
            name="surface",
            tool=self.spot.tool,
            places=self.spot.places(),
            steps=(lambda faces: top, self._conclude),
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    def _conclude(self, faces: Faces) -> Step:
        origin = faces[0].position.z - self.spot.thickness() - self.reads
        return settled(self.offset, ((Axis.Z, origin),))
