"""The fastest way to touch a face that keeps a wanted uncertainty, within the overtravel. Nothing moves.

The approach goes as fast as its limits allow; slow feed and number of re-touches are weighed against each other,
with and without extrapolation to no speed. For a given number the uncertainty mostly grows with the slow feed v, and
the time of a re-touch falls with v only as long as its run-up, v²/(2a) there and back, does not outweigh that. Mostly:
of several contacts that lie within one motor step all are rounded alike, and a faster feed spreads them over more.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from gingerly.kinematics import move_time
from gingerly.messages.facts import MachineFacts
from gingerly.planner.limits import back_off, limited_traverse
from gingerly.planner.spread import Touching, may_extrapolate, ruling, touching_u
from gingerly.planner.wishes import Wishes
from gingerly.tool import Tool

TRAVEL = 15.0
"""Millimetres of an approach that its time is reckoned with, a mean of the long one from the top of Z and the short
ones beside the walls. Our own choice."""

MOST_RETOUCHES = 12
"""More are never chosen. Our own choice."""

SHARES = (1.0, 0.7, 0.5)
"""The feeds of an approach that are tried, as parts of the fastest: a slower one runs on less, which shortens every
back-off. Our own choice."""

SLOWEST = 3.0
"""No slow feed below this many mm/min is chosen: many machines do not move evenly there. Our own choice."""

MOST_LIKE = 0.5
"""Two feeds more alike than this are not extrapolated: little is left to tell them apart by. Our own choice."""

NEARLY = 1.05
"""How near to the least uncertainty is near enough where what is wanted cannot be had. Our own choice."""

TRIED = 16
"""So many slow feeds are tried where only one between the slowest and the approach may do. Our own choice."""

CLOSE = 0.98
"""A re-touch that leaves more than this share of the uncertainty buys nothing. Our own choice."""


def touch_time(facts: MachineFacts, tool: Tool, way: Touching, back: float, *, travel: float = TRAVEL) -> float:
    """Return the seconds that a touch takes from its start until it is left: `back` is its back-off, in mm."""
    a, leave = facts.acceleration, limited_traverse(facts, tool)[0]
    approach = move_time(travel, feed=way.fast, acceleration=a) + facts.settle_s
    leaving = move_time(back, feed=leave, acceleration=a)
    again = move_time(back, feed=way.slow, acceleration=a) + facts.settle_s
    return approach + leaving + way.retouches * (leaving + again)


def fastest(facts: MachineFacts, tool: Tool, wishes: Wishes, fast: float) -> tuple[Touching, bool]:
    """Return the fastest way to touch that keeps the wanted uncertainty, and whether there is one.

    Where there is none, the fastest way of nearly the least uncertainty is returned. `fast` is the fastest
    approach, in mm/min.
    """
    wanted = wishes.uncertainty
    assert wanted is not None
    ways = list(_ways(facts, tool, wishes, fast, wanted))
    kept = [way for way in ways if touching_u(facts, way) <= wanted * (1.0 + 1e-9)]
    if not kept:
        least = min(touching_u(facts, way) for way in ways)
        nearly = replace(wishes, uncertainty=NEARLY * least)
        return fastest(facts, tool, nearly, fast)[0], False
    return min(kept, key=lambda way: (_time(facts, tool, wishes, way), way.retouches)), True


def _time(facts: MachineFacts, tool: Tool, wishes: Wishes, way: Touching) -> float:
    return touch_time(facts, tool, way, back_off(facts, wishes, way.fast, way.slow)[0])


def _ways(facts: MachineFacts, tool: Tool, wishes: Wishes, fast: float, wanted: float) -> Iterator[Touching]:
    """Yield, for each number of re-touches, the fastest slow feed that keeps what is wanted, or the slowest."""
    counts = range(1, MOST_RETOUCHES + 1) if wishes.retouches is None else (wishes.retouches,)
    approaches = [fast] if wishes.fast_feed is not None else [share * fast for share in SHARES]
    for approach in approaches:
        quickest = quickest_slow_feed(facts, tool, wishes, approach)
        for count in counts:
            if count == 0:
                yield Touching(approach, approach, 0)
                continue
            for extrapolated in (False, True) if may_extrapolate(facts) else (False,):
                top = min(quickest, approach * MOST_LIKE) if extrapolated else quickest
                yield _kept(facts, tool, Touching(approach, top, count, extrapolated), wishes, wanted)


def _kept(facts: MachineFacts, tool: Tool, way: Touching, wishes: Wishes, wanted: float) -> Touching:
    """Return the way with the fastest slow feed, up to its own, that keeps `wanted` (mm).

    Where neither that nor the slowest does, a feed between or beyond them may.
    """
    if wishes.slow_feed is not None:
        return replace(way, slow=min(way.slow, wishes.slow_feed))
    low, high = min(SLOWEST, way.slow), way.slow

    def keeps(slow: float) -> bool:
        return touching_u(facts, replace(way, slow=slow)) <= wanted

    if keeps(high):
        return way
    if not keeps(low):
        return _spread_out(facts, tool, way, wishes, wanted)
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return replace(way, slow=low)


def _spread_out(facts: MachineFacts, tool: Tool, way: Touching, wishes: Wishes, wanted: float) -> Touching:
    """Return the quickest of some slow feeds that keep `wanted` (mm), or the one that comes nearest to it."""
    top = way.fast * MOST_LIKE if way.extrapolated else way.fast
    low = min(SLOWEST, way.slow)
    ways = [replace(way, slow=low * (top / low) ** (step / TRIED)) for step in range(TRIED + 1)]
    found = [(touching_u(facts, one), one) for one in ways]
    kept = [one for u, one in found if u <= wanted]
    if kept:
        return min(kept, key=lambda one: _time(facts, tool, wishes, one))
    return min(found, key=lambda pair: pair[0])[1]


def quickest_slow_feed(facts: MachineFacts, tool: Tool, wishes: Wishes, fast: float) -> float:
    """Return the slow feed in mm/min with which one re-touch is over soonest: a faster one only runs up longer."""
    low, high = min(SLOWEST, fast), fast
    # Golden section search: 0.618034 is (√5 − 1)/2, the other share what it leaves.
    for _ in range(60):
        one, other = low + 0.381966 * (high - low), low + 0.618034 * (high - low)
        times = [_time(facts, tool, wishes, Touching(fast, slow, 1)) for slow in (one, other)]
        low, high = (low, other) if times[0] <= times[1] else (one, high)
    return (low + high) / 2.0


def more_would_buy(facts: MachineFacts, way: Touching, because: str) -> str:
    """Return, in a sentence, why there are so many re-touches, and what one more would buy."""
    count = way.retouches
    now, then = (touching_u(facts, replace(way, retouches=n)) for n in (count, count + 1))
    many = f"{count} re-touch{'' if count == 1 else 'es'}: {because}"
    said = f"{many}; touching adds {1000.0 * now:.2f} µm (standard uncertainty)"
    if then > CLOSE * now:
        return f"{said}, and more would buy nothing: {ruling(facts, way)} rules"
    return f"{said}, one more would make it {1000.0 * then:.2f} µm"
