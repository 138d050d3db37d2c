"""The numbers of a touch: feeds, back-off, repeats and tolerance, chosen from what is known of machine and tool.

Every number may be fixed by a person; the plan says which limit decided each. Nothing here moves.
"""

from __future__ import annotations

from functools import lru_cache

from gingerly.kinematics import speed_mm_s
from gingerly.messages.facts import MachineFacts
from gingerly.messages.touches import TouchPlan
from gingerly.planner.choice import fastest, more_would_buy
from gingerly.planner.limits import FREE_WAY, back_off, fast_feed, limited_traverse
from gingerly.planner.spread import Touching, may_extrapolate, touching_u
from gingerly.planner.wishes import ANY, Wishes
from gingerly.tool import Tool

__all__ = ["ANY", "FREE_WAY", "Touching", "Wishes", "limited_traverse", "plan_touch", "touching_u"]

SLOW_SHARE = 4.0
"""A re-touch goes at a quarter of the approach or slower: 1/4 to 1/10 is common practice, no source."""

USUAL_RETOUCHES = 2
"""Slow contacts where nobody says how many, nor how good they must be. Our own choice."""

REACH = 0.5
"""Millimetres that a re-touch goes on beyond the contacts before it gives up: more than a plate slides at once,
and still beyond the 0.254 mm that the open RS274/NGC report demands (NISTIR 6556, 3.5.9.1). Our own choice."""

LEAST_SPREAD = 0.005
"""Contacts within 5 µm agree on any machine that this is for. Our own choice."""


@lru_cache(maxsize=256)
def plan_touch(facts: MachineFacts, tool: Tool, wishes: Wishes = ANY) -> TouchPlan:
    """Return the plan of one touch.

    The fast feed stops within the tool's overtravel: v = a·(−t + √(t² + 2δ/a)) with t the reaction from touch
    to braking. The slow feed passes at most one motor step between two samples of the circuit, unless an
    uncertainty is wanted: then slow feed and re-touches are the fastest that keep it. The back-off covers the
    overtravel at the fast feed, the backlash and the run-up to the slow feed.
    """
    way, reasons, why_many = _way(facts, tool, wishes)
    leave, why_leave = limited_traverse(facts, tool)
    back, why_back = back_off(facts, wishes, way.fast, way.slow)
    scatter = facts.resolution + speed_mm_s(way.slow) * facts.sample_interval_s
    spread = wishes.spread if wishes.spread is not None else max(LEAST_SPREAD, 2.0 * scatter)
    return TouchPlan(
        fast_feed=way.fast,
        slow_feed=way.slow,
        leave_feed=leave,
        back_off=back,
        retouches=way.retouches,
        extras=wishes.extras,
        spread=spread,
        overtravel=tool.overtravel,
        reach=REACH + spread,
        latch_s=facts.latch_s.middle,
        limited_by=(*reasons, why_leave, why_back, more_would_buy(facts, way, why_many)),
        extrapolated=way.extrapolated,
    )


def _way(facts: MachineFacts, tool: Tool, wishes: Wishes) -> tuple[Touching, tuple[str, str], str]:
    """Return how a face is touched, what limits both feeds, and why so often."""
    asked = "as many as asked for"
    fast, why_fast = fast_feed(facts, tool, wishes)
    if wishes.uncertainty is None:
        slow, why_slow = _usual_slow_feed(facts, wishes, fast)
        if wishes.retouches is None:
            return Touching(fast, slow, USUAL_RETOUCHES), (why_fast, why_slow), "the usual number"
        return Touching(fast, slow, wishes.retouches), (why_fast, why_slow), asked
    way, kept = fastest(facts, tool, wishes, fast)
    if way.fast < fast:
        why_fast = f"approach at {way.fast:.0f} mm/min: a faster one would run on further, and take longer in all"
    why_many = (
        "the quickest number that keeps what is wanted" if kept else "so many come near to the least there is"
    )
    if wishes.retouches is not None:
        why_many = asked
    return way, (why_fast, _why_slow(facts, wishes, way, kept=kept)), why_many


def _why_slow(facts: MachineFacts, wishes: Wishes, way: Touching, *, kept: bool) -> str:
    assert wishes.uncertainty is not None
    said, wanted = f"re-touch at {way.slow:.0f} mm/min: ", 1000.0 * wishes.uncertainty
    if not kept:
        return (
            f"{said}{wanted:.2f} µm are wanted, and no plan gets below {1000.0 * touching_u(facts, way):.2f} µm"
            f"{_why_not_extrapolated(facts)}"
        )
    if wishes.slow_feed is not None and way.slow == wishes.slow_feed:
        return f"{said}the feed asked for"
    how = ", with both feeds extrapolated to no speed" if way.extrapolated else ""
    if touching_u(facts, way) < 0.99 * wishes.uncertainty:
        return f"{said}a faster one would take longer, for its run-up{how}"
    return f"{said}the fastest that keeps {wanted:.2f} µm with so many{how}"


def _why_not_extrapolated(facts: MachineFacts) -> str:
    if may_extrapolate(facts):
        return ""
    return (
        f"; a contact may be latched {facts.latch_s.high:.3f} s late, which may be after braking has begun"
        f" ({facts.stop_reaction_s:.3f} s), so that two feeds do not lead to the place at none"
    )


def _usual_slow_feed(facts: MachineFacts, wishes: Wishes, fast: float) -> tuple[float, str]:
    limits = [
        (fast / SLOW_SHARE, f"1/{SLOW_SHARE:g} of the approach"),
        (60.0 * facts.resolution / facts.sample_interval_s, "one motor step between two samples of the circuit"),
    ]
    if wishes.slow_feed is not None:
        limits.append((wishes.slow_feed, "the feed asked for"))
    feed, because = min(limits)
    return feed, f"re-touch at {feed:.0f} mm/min: {because}"
