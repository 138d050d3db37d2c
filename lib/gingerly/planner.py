"""The numbers of a touch: feeds, back-off, repeats and tolerance, chosen from what is known of machine and tool.

Every number may be fixed by a person; the plan says which limit decided each. Nothing here moves.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.kinematics import fastest_feed, speed_mm_s, stopping_distance
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.touches import TouchPlan
from gingerly.tool import Tool

SLOW_SHARE = 4.0
"""A re-touch goes at a quarter of the approach or slower: 1/4 to 1/10 is common practice, no source."""

FREE_WAY = 0.5
"""Millimetres that a back-off goes beyond what braking and backlash need. The open RS274/NGC report refuses a
probe move whose target is nearer than 0.254 mm (NISTIR 6556, 3.5.9.1), so it is more than that."""

REACH = 0.5
"""Millimetres that a re-touch goes on beyond the contacts before it gives up: more than a plate slides at once,
and still beyond those 0.254 mm."""

LEAST_SPREAD = 0.005
"""Contacts within 5 µm agree on any machine that this is for. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What a person fixes of a plan; None leaves the choice to the planner.

    Feeds in mm/min, lengths in mm. `retouches` slow contacts are wanted, `extras` more are allowed.
    """

    fast_feed: float | None = None
    slow_feed: float | None = None
    back_off: float | None = None
    spread: float | None = None
    retouches: int = 2
    extras: int = 3

    def __post_init__(self) -> None:
        for name in ("fast_feed", "slow_feed", "back_off", "spread"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value < 1e6:
                raise ValueError(f"{name} must be greater than 0, not {value!r}")
        for name, most in (("retouches", 50), ("extras", 50)):
            value = getattr(self, name)
            if not 0 <= value <= most:
                raise ValueError(f"{name} must lie from 0 to {most}, not {value!r}")


ANY = Wishes()


def plan_touch(facts: MachineFacts, tool: Tool, wishes: Wishes = ANY) -> TouchPlan:
    """Return the plan of one touch.

    The fast feed stops within the tool's overtravel: v = a·(−t + √(t² + 2δ/a)) with t the reaction from touch
    to braking. The slow feed passes at most one motor step between two samples of the circuit. The back-off
    covers the overtravel at the fast feed, the backlash and the run-up to the slow feed.
    """
    fast, why_fast = _fast_feed(facts, tool, wishes)
    slow, why_slow = _slow_feed(facts, wishes, fast)
    leave, why_leave = limited_traverse(facts, tool)
    back_off, why_back = _back_off(facts, wishes, fast, slow)
    scatter = facts.resolution + speed_mm_s(slow) * facts.sample_interval_s
    spread = wishes.spread if wishes.spread is not None else max(LEAST_SPREAD, 2.0 * scatter)
    return TouchPlan(
        fast_feed=fast,
        slow_feed=slow,
        leave_feed=leave,
        back_off=back_off,
        retouches=wishes.retouches,
        extras=wishes.extras,
        spread=spread,
        overtravel=tool.overtravel,
        reach=REACH + spread,
        latch_s=facts.latch_s.middle,
        limited_by=(why_fast, why_slow, why_leave, why_back),
    )


def _fast_feed(facts: MachineFacts, tool: Tool, wishes: Wishes) -> tuple[float, str]:
    reaction = facts.stop_reaction_s + facts.sample_interval_s
    limits = [
        (
            fastest_feed(tool.overtravel, acceleration=facts.acceleration, reaction_s=reaction),
            f"the tool may run on {tool.overtravel:g} mm",
        ),
        (facts.top_feed, "the machine's top feed"),
    ]
    if wishes.fast_feed is not None:
        limits.append((wishes.fast_feed, "the feed asked for"))
    feed, because = min(limits)
    return feed, f"approach at {feed:.0f} mm/min: {because}"


def _slow_feed(facts: MachineFacts, wishes: Wishes, fast: float) -> tuple[float, str]:
    limits = [
        (fast / SLOW_SHARE, f"1/{SLOW_SHARE:g} of the approach"),
        (60.0 * facts.resolution / facts.sample_interval_s, "one motor step between two samples of the circuit"),
    ]
    if wishes.slow_feed is not None:
        limits.append((wishes.slow_feed, "the feed asked for"))
    feed, because = min(limits)
    return feed, f"re-touch at {feed:.0f} mm/min: {because}"


def limited_traverse(facts: MachineFacts, tool: Tool) -> tuple[float, str]:
    """Return the highest feed in mm/min of a traverse below clearance, and what limits it.

    Where something unexpected is met, the tool may run on by no more than its overtravel until a look (or the
    guard, where there is one) has seen it and the machine has stopped.
    """
    reaction = facts.traverse_reaction_s
    feed = fastest_feed(tool.overtravel, acceleration=facts.acceleration, reaction_s=reaction)
    if feed >= facts.top_feed:
        return facts.top_feed, f"traverse below clearance at {facts.top_feed:.0f} mm/min: the machine's top feed"
    seen = {
        Guard.SENSED: f"the controller sees the circuit {reaction:.3f} s late",
        Guard.POLLED: f"a look sees the circuit {reaction:.3f} s late",
        Guard.NONE: f"nobody looks while it moves, so as if a look saw the circuit {reaction:.3f} s late",
    }[facts.guard]
    return feed, (
        f"traverse below clearance at {feed:.0f} mm/min: {seen}, and the tool may run on {tool.overtravel:g} mm"
    )


def _back_off(facts: MachineFacts, wishes: Wishes, fast: float, slow: float) -> tuple[float, str]:
    reaction = facts.stop_reaction_s + facts.sample_interval_s
    ran_on = stopping_distance(fast, acceleration=facts.acceleration, reaction_s=reaction)
    run_up = stopping_distance(slow, acceleration=facts.acceleration)
    least = ran_on + facts.backlash + run_up + FREE_WAY
    asked = wishes.back_off
    if asked is not None and asked >= least:
        return asked, f"back off {asked:.3f} mm: as asked for"
    return least, (
        f"back off {least:.3f} mm: {ran_on:.3f} run on, {facts.backlash:.3f} backlash, {run_up:.3f} run-up and"
        f" {FREE_WAY:g} free"
        + ("" if asked is None else f" ({asked:.3f} asked for is {least - asked:.3f} too little)")
    )
