"""Stop test: on the first day, see in free air that a touch really stops the motion.

::

            ↑ the tool rises slowly, `height` mm at most
            │
          ─┬┴┬─
           │ │  ← a person touches it with the plate, from the side, at the end of the lead: it must stop

Before it, the circuit is checked standing still; after it, try the machine's own stop in the same way. Whoever
begins this has told the person beforehand what will move, and which way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gingerly.geometry import Position
from gingerly.messages.faults import StartOutsideWindow
from gingerly.messages.touches import Finding, Leg, Place, Touch
from gingerly.planner import plan_touch
from gingerly.routines.course import PlannedCourse, Site
from gingerly.routines.preflight import Move, check_moves
from gingerly.tool import Tool

LEAST_RISE = 5.0
"""Millimetres of rise below which nobody has the time to touch anything. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopTest:
    """Rise by up to `height` mm at `feed` mm/min with `tool` until it is touched; how far it runs on is found (mm).

    The run ends where the motion was stopped: nothing moves down again by itself.
    """

    tool: Tool
    height: float = 20.0
    feed: float = 60.0

    def __post_init__(self) -> None:
        if not LEAST_RISE <= self.height < 1e6:
            raise ValueError(f"a stop test rises by {LEAST_RISE:g} mm at least, not by {self.height:g} mm")
        if not 0.0 < self.feed < 1e6:
            raise ValueError(f"the feed of a stop test must be greater than 0 mm/min, not {self.feed:g}")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course from where the tool stands; raises a `PlanFault` where there is no room above it."""
        room = site.facts.envelope.high.z - site.here.z
        if room < self.height:
            raise StartOutsideWindow(
                f"the tool can rise by {room:.3f} mm, and the stop test needs {self.height:.3f} mm:"
                f" bring it {self.height - room:.3f} mm lower, in free air"
            )
        plan = plan_touch(site.facts, self.tool, site.wishes)
        plan = replace(plan, fast_feed=min(self.feed, plan.fast_feed), retouches=0)
        end = site.here.plus(Position(0.0, 0.0, self.height))
        check_moves([Move("stop test", site.here, end, plan.fast_feed, senses=True)], site, self.tool)
        touch = Touch(
            name="stop test",
            legs=(Leg(site.here, clear=True),),
            start=site.here,
            end=end,
            near=0.0,
            far=self.height,
            exit=site.here,
            plan=plan,
        )
        return PlannedCourse(
            name="stop test",
            tool=self.tool,
            places=(Place.TIP,),
            steps=(lambda faces: touch, lambda faces: Finding(())),
        )
