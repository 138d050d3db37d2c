"""Stop test: on the first day, see in free air that a touch really stops the motion, and the machine's own stop too.

::

            ↑ the tool rises slowly, twice, `height` mm at most each time
            │
          ─┬┴┬─
           │ │     first: a person touches test lead and plate together, on the bench: it must stop
           └─┘     then:  a person presses the machine's own stop: it must stop, and the program must notice

Nobody is near the tool, and it never comes down by itself. Before it the circuit is checked, on the bench too. Whoever
begins this tells the person beforehand what will move, and which way; `gingerly.driver.first_day` does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gingerly.geometry import Position
from gingerly.messages.faults import StartOutsideWindow
from gingerly.messages.touches import RAN_ON, STOP_SIGNS, Finding, Leg, Measures, Place, Touch
from gingerly.planner import plan_touch
from gingerly.routines.course import PlannedCourse, Site
from gingerly.routines.preflight import Move, check_moves
from gingerly.routines.top import TopSpot
from gingerly.stock import Stock
from gingerly.tool import Tool

LEAST_RISE = 5.0
"""Millimetres of rise below which nobody has the time to touch anything. Our own choice."""

BY_TOUCH = "stop test"
BY_STOP = "own stop"

NOWHERE = Position(0.0, 0.0, -1e5)
"""Where the stock of a routine lies that touches none: out of everything's way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStopCourse(PlannedCourse):
    """A course that is over when trouble has been noticed: that is what it is for."""

    awaits_trouble: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class StopTest:
    """Rise twice by up to `height` mm at `feed` mm/min with `tool`: until a touch, and until the machine's own stop.

    Found are ``ran on`` (mm, after the touch) and one of `STOP_SIGNS`, which tells how the stop was noticed: ``alarm
    after``, ``standstill after`` or ``silence after`` so many mm of rise, or ``restart`` or ``homing lost``, which are
    0: no position is to be trusted then. The tool stays where it was stopped. Height and feed left out are
    our own choice.
    """

    tool: Tool
    height: float = 20.0
    feed: float = 60.0

    def __post_init__(self) -> None:
        if not LEAST_RISE <= self.height < 1e6:
            raise ValueError(f"a stop test rises by {LEAST_RISE:g} mm at least, not by {self.height:g} mm")
        if not 0.0 < self.feed < 1e6:
            raise ValueError(f"the feed of a stop test must be greater than 0 mm/min, not {self.feed:g}")

    @property
    def spot(self) -> TopSpot:
        """The spot of a routine that touches no stock: its tool, and nothing on the table."""
        return TopSpot(tool=self.tool, stock=Stock(size_x=1.0, size_y=1.0, thickness=1.0), place=NOWHERE)

    def plan(self, site: Site) -> PlannedCourse:
        """Return the first rise, until a touch; raises a `PlanFault` where there is no room above for both."""
        touch = self._rise(site, BY_TOUCH, 2.0 * self.height)
        return PlannedCourse(
            name=BY_TOUCH,
            tool=self.tool,
            places=(Place.BENCH,),
            steps=(lambda faces: touch, lambda faces: Finding(())),
        )

    def plan_own_stop(self, site: Site) -> OwnStopCourse:
        """Return the second rise, until the machine's own stop; raises a `PlanFault` where there is no room for it."""
        touch = self._rise(site, BY_STOP, self.height)
        return OwnStopCourse(
            name=BY_STOP,
            tool=self.tool,
            places=(Place.BENCH,),
            steps=(lambda faces: touch, lambda faces: Finding(())),
        )

    def _rise(self, site: Site, name: str, needed: float) -> Touch:
        room = site.facts.envelope.high.z - site.here.z
        if room < needed:
            raise StartOutsideWindow(
                f"the tool can rise by {room:.3f} mm, and the stop test needs {needed:.3f} mm:"
                f" bring it {needed - room:.3f} mm lower, in free air",
                advice="Lower the tool over free air, step by step or by the controller's own means, and begin again.",
            )
        plan = plan_touch(site.facts, self.tool, site.wishes)
        feed = min(self.feed, plan.fast_feed)
        limits = (
            f"rise at {feed:g} mm/min: slowly enough for a person to touch lead and plate, or to press a stop",
        )
        plan = replace(plan, fast_feed=feed, retouches=0, limited_by=limits)
        end = site.here.plus(Position(0.0, 0.0, self.height))
        check_moves([Move("stop test", site.here, end, plan.fast_feed, senses=True)], site, self.tool)
        return Touch(
            name=name,
            legs=(Leg(site.here, clear=True),),
            start=site.here,
            end=end,
            near=0.0,
            far=self.height,
            exit=site.here,
            plan=plan,
        )


def in_words(measures: Measures) -> list[str]:
    """Return what a stop test has found, as sentences for people."""
    return [_sentence(name, value) for name, value in measures]


def _sentence(name: str, value: float) -> str:
    if name == RAN_ON:
        return f"a touch stops the motion: the tool ran on {value:.3f} mm after it"
    sign = name.removesuffix(" after")
    where = (
        f", after {value:.3f} mm of rise"
        if STOP_SIGNS[sign]
        else "; what it says of its position is not to be trusted"
    )
    return f"the machine's own stop is noticed, by {_BY[sign]}{where}"


_BY = {
    "alarm": "an alarm",
    "standstill": "a standstill short of the end",
    "silence": "the end of the move that was never told",
    "restart": "a restart of the controller",
    "homing lost": "the machine no longer knowing where its axes are",
}
