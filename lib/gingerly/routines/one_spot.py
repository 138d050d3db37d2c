"""Many touches of one spot: how far apart they lie, and how late a contact is latched.

::

            ↓ ↑ ↓ ↑ ↓      every touch begins anew at the hop level above the same spot
        ════════════════
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gingerly.fits import UnusableGeometry, fit_powers
from gingerly.kinematics import speed_mm_s
from gingerly.messages.faults import ImplausibleContact, UnsuitableTool
from gingerly.messages.touches import Finding, Leg, Step, Touch, TouchPlan, Unusable
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot

MOST = 100
"""Touches of one spot: beyond that the spread is known well enough. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """Touch one spot `touches` times, and find how far the touches lie apart; nothing is written.

    Each is a whole touch: an approach, a slow re-touch, and the way out. Found are their standard deviation s,
    their range, and 4·s, which is how ISO 230-2 defines the repeatability of positioning from one side (mm; from
    memory). Ten touches are our own choice.
    """

    spot: TopSpot
    touches: int = 10

    def __post_init__(self) -> None:
        if not 2 <= self.touches <= MOST:
            raise ValueError(f"a repeatability test takes 2 to {MOST} touches, not {self.touches}")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        plan = replace(self.spot.touch(site, "top").plan, retouches=1)
        return _on_one_spot("repeatability", self.spot, site, [plan] * self.touches, self._conclude)

    def _conclude(self, faces: Faces) -> Step:
        heights = [face.position.z for face in faces]
        mean = math.fsum(heights) / len(heights)
        deviation = math.sqrt(math.fsum((height - mean) ** 2 for height in heights) / (len(heights) - 1))
        spread = max(heights) - min(heights)
        return Finding(
            (), (("standard deviation", deviation), ("range", spread), ("repeatability", 4.0 * deviation))
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReactionTime:
    """Touch one spot at several feeds, and find how late this machine latches a contact; nothing is written.

    A contact at speed v is latched v·t too far on: the slope of contact against speed is t (s), found with its
    standard uncertainty. The faster a contact, the more it scatters (by v·T/√12 for samples T apart), and the less
    it counts; where contacts scatter more than latching, motor steps and screw explain, the slope is less sure.
    `feeds` are in mm/min, by default the approach's and parts of it; each is taken `rounds` times; three are our
    own choice.
    """

    spot: TopSpot
    feeds: tuple[float, ...] = ()
    rounds: int = 3

    def __post_init__(self) -> None:
        if self.feeds and len(set(self.feeds)) < 2:
            raise ValueError("a slope takes two different feeds at least")
        if not all(0.0 < feed < math.inf for feed in self.feeds):
            raise ValueError(f"feeds must be greater than 0 mm/min, not {self.feeds}")
        if self.rounds < 1 or max(len(self.feeds), len(SHARES)) * self.rounds > MOST:
            raise ValueError(f"{self.rounds} rounds: at least 1, and {MOST} touches in all at most")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        plan = self.spot.touch(site, "top").plan
        feeds = self.feeds or tuple(share * plan.fast_feed for share in SHARES)
        if max(feeds) > plan.fast_feed:
            raise UnsuitableTool(
                f"a touch at {max(feeds):.0f} mm/min would be {max(feeds) - plan.fast_feed:.0f} mm/min too fast;"
                f" {plan.limited_by[0]}"
            )
        # What is looked for must not be taken off beforehand.
        plans = [replace(plan, fast_feed=feed, retouches=0, latch_s=0.0) for feed in feeds] * self.rounds
        return _on_one_spot("reaction time", self.spot, site, plans, lambda faces: self._conclude(site, faces))

    def _conclude(self, site: Site, faces: Faces) -> Step:
        speeds = [speed_mm_s(face.contacts[0].feed) for face in faces]
        # Deeper is lower: measured downwards, later contacts lie further on.
        depths = [faces[0].position.z - face.position.z for face in faces]
        try:
            line = fit_powers(speeds, depths, u=[_latching_u(site, speed) for speed in speeds])
        except UnusableGeometry as bad:
            return Unusable(ImplausibleContact, str(bad))
        measures = [("latch_s", line.coefficients[1])]
        if line.scatter is not None:
            measures.append(("u_latch_s", line.uncertainties(max(1.0, line.scatter))[1]))
        return Finding((), tuple(measures))


def _latching_u(site: Site, speed: float) -> float:
    """Return the standard uncertainty in mm of a single contact at `speed` (mm/s), its mean lateness apart."""
    facts = site.facts
    return math.hypot(
        speed * facts.sample_interval_s / math.sqrt(12.0), facts.resolution / math.sqrt(12.0), site.doubts.screw.u
    )


SHARES = (1.0, 0.5, 0.25, 0.125)
"""The feeds of a calibration as parts of the approach's. Our own choice."""


def _on_one_spot(
    name: str, spot: TopSpot, site: Site, plans: list[TouchPlan], conclude: StepMaker
) -> PlannedCourse:
    """Return a checked course that touches one spot once with each of `plans`."""
    spot.check()
    first = replace(spot.touch(site, "spot once"), plan=plans[0])
    height = first.start.z - first.exit.z

    def again(number: int, plan: TouchPlan) -> Touch:
        return replace(
            first,
            name=f"spot, time {number}",
            legs=(Leg(first.exit, plan.leave_feed),),
            start=first.exit,
            near=first.near - height,
            far=first.far - height,
            plan=plan,
        )

    touches = [first, *(again(number, plan) for number, plan in enumerate(plans[1:], 2))]
    course = PlannedCourse(
        name=name,
        tool=spot.tool,
        places=spot.places(),
        steps=(*(_always(touch) for touch in touches), conclude),
        as_found=True,
    )
    return check_course(course, site, stock_top=spot.corner_place(site.here).z, within=spot.within)


def _always(touch: Touch) -> StepMaker:
    return lambda faces: touch
