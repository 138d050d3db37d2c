"""Self check: one slow touch of a fixed reference, which proves the circuit where nobody is there to do it.

The sense goes down at the feed of a re-touch, so that nothing is crushed should the circuit be dead; how far the
tool would be pushed is bounded as for every touch.

::

            │ tool, at the feed of a re-touch
            ▼
        ════════  a fixed, wired reference
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gingerly.geometry import Position
from gingerly.messages.faults import UnsuitablePlate
from gingerly.messages.touches import Finding, Place
from gingerly.routines.course import PlannedCourse, Site
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvingCourse(PlannedCourse):
    """A course whose own touch proves the circuit."""

    proves: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SelfCheck:
    """Touch the bare top of a fixed reference slowly; its place is known within the spot's `within` mm."""

    spot: TopSpot

    def plan(self, site: Site) -> ProvingCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        spot = self.spot
        if spot.plate is not None or not isinstance(spot.place, Position):
            raise UnsuitablePlate("a machine checks its circuit on a fixed, bare reference whose place is known")
        spot.check()
        top = spot.touch(site, "reference")
        top = replace(top, plan=replace(top.plan, fast_feed=top.plan.slow_feed))
        course = ProvingCourse(
            name="self check",
            tool=spot.tool,
            places=(Place.STOCK,),
            steps=(lambda faces: top, lambda faces: Finding(())),
        )
        stock_top = spot.corner_place(site.here).z
        check_course(course, site, stock_top=stock_top, within=spot.within)
        return course
