"""The planner against the best fixed constants, and against what motion allows at best, on twelve unlike machines.

A few corners on each here; ``GINGERLY_RUNS=40`` makes as many as that, and prints a line for each machine with
``pytest -s``.
"""

from __future__ import annotations

import math
import os
from functools import cache

import pytest

from gingerly import MachineFacts, Wishes
from gingerly.kinematics import fastest_feed, speed_mm_s, stopping_distance
from gingerly.planner import Touching, limited_traverse, touching_u
from gingerly.planner.choice import touch_time
from gingerly.planner.limits import FREE_WAY, least_back_off
from support.bench import PIN
from support.machines import MACHINES, ROUTINE, Fixed, Tried, tried

RUNS = min(100, int(os.environ.get("GINGERLY_RUNS", "3")))
WANTED = 0.02
"""95 % of the errors from touching alone are to lie within so many mm, on every machine."""

FEEDS = [3.0 * 1.08**n for n in range(80)]


@cache
def best_fixed() -> Fixed:
    """The quickest constants that never pass the overtravel and keep what is wanted, on all machines: from a grid.

    The back-off leaves the same free way as the planner's, so that both are as safe.
    """
    found = []
    for fast in FEEDS:
        if any(fast > _fastest(facts) or fast > facts.top_feed for facts in MACHINES):
            continue
        for slow in (feed for feed in FEEDS if feed <= fast):
            back = max(least_back_off(facts, fast, slow)[0] for facts in MACHINES)
            for count in (1, 2, 3, 4, 6):
                way = Touching(fast, slow, count)
                if all(1.96 * touching_u(facts, way) <= WANTED for facts in MACHINES):
                    seconds = sum(touch_time(facts, PIN, way, back) for facts in MACHINES)
                    found.append((seconds, Fixed(fast, slow, back, count)))
    return min(found, key=lambda pair: pair[0])[1]


def _fastest(facts: MachineFacts) -> float:
    reaction = facts.stop_reaction_s + facts.sample_interval_s
    # A machine comes to rest on the next motor step, so that one step less is left.
    return fastest_feed(PIN.overtravel - facts.resolution, acceleration=facts.acceleration, reaction_s=reaction)


def wanted_of(facts: MachineFacts) -> float:
    """The standard uncertainty that the fixed constants keep on this machine: the planner is to keep it too."""
    fixed = best_fixed()
    return touching_u(facts, Touching(fixed.fast, fixed.slow, fixed.retouches))


@cache
def both(name: str) -> tuple[list[Tried], list[Tried]]:
    """The same corners touched with fixed constants, and as planned."""
    (facts,) = (one for one in MACHINES if one.name == name)
    fixed = [tried(facts, best_fixed(), Wishes(), number) for number in range(RUNS)]
    planned = [tried(facts, ROUTINE, Wishes(uncertainty=wanted_of(facts)), number) for number in range(RUNS)]
    return fixed, planned


def covering(found: list[Tried]) -> float:
    errors = sorted(abs(error) for one in found for error in one.errors)
    return errors[math.ceil(0.95 * len(errors)) - 1]


def seconds(found: list[Tried]) -> float:
    return sum(one.touching_s for one in found) / len(found)


@pytest.mark.parametrize("facts", MACHINES, ids=lambda facts: facts.name)
def test_a_planned_corner_is_never_slower_than_the_best_fixed_constants(facts: MachineFacts) -> None:
    """At the same standard uncertainty, and never beyond the overtravel."""
    fixed, planned = both(facts.name)
    print(
        f"\n{facts.name}: fixed {seconds(fixed):.2f} s, planned {seconds(planned):.2f} s, ratio"
        f" {seconds(fixed) / seconds(planned):.2f}; 95 % of errors within {1000 * covering(fixed):.2f} and"
        f" {1000 * covering(planned):.2f} µm; bound {least_seconds(facts, planned):.2f} s"
    )
    assert seconds(planned) <= seconds(fixed)
    assert max(one.deepest for one in (*fixed, *planned)) <= PIN.overtravel


def test_over_all_machines_planning_is_worth_its_while() -> None:
    """Hoped for: a ratio of 2 of the touching times, on average over the machines."""
    pairs = [both(facts.name) for facts in MACHINES]
    ratios = [seconds(fixed) / seconds(planned) for fixed, planned in pairs]
    total = sum(seconds(fixed) for fixed, _ in pairs) / sum(seconds(planned) for _, planned in pairs)
    mean = sum(ratios) / len(ratios)
    print(f"\nratio {mean:.2f} on average, {total:.2f} of the total, {min(ratios):.2f} at least")
    assert min(ratios) >= 1.0
    assert mean >= 2.0


def least_seconds(facts: MachineFacts, found: list[Tried]) -> float:
    """Return the least time in which motion allows the touches made, in seconds a corner: a bound, no plan.

    A touch over D from rest to a contact at speed v takes D/v + v/(2a) at least, since nobody knows where the
    contact will be and so no more than v may be gone anywhere; to stop takes v/a more. v is bounded by the
    overtravel, v·t + v²/(2a) ≤ δ, and by the machine. Then it backs off by b = δ(v) + backlash + w²/(2a) + the free
    way, from rest to rest at the feed u allowed for leaving: b/u + u/a, or 2·√(b/a). A re-touch at speed w takes
    b/w + w/(2a) + w/a and backs off again; n of them keep the wanted uncertainty with w no faster than that allows.
    The bound is the least of that over v, w and n. It knows no settling of the contact, no sampling, no rounding to
    steps and no answers to wait for.
    """
    travels = [travel for one in found for travel in one.travels]
    return sum(_least_touch(facts, distance, again > 0) for distance, again in travels) / len(found)


def _least_touch(facts: MachineFacts, distance: float, again: bool) -> float:
    top = min(_fastest(facts), facts.top_feed)
    approaches = [top * share for share in (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3)]
    return min(
        _approach(facts, distance, fast) + (_best_again(facts, fast) if again else _leave(facts, fast, 0.0))
        for fast in approaches
    )


def _approach(facts: MachineFacts, distance: float, feed: float) -> float:
    v, a = speed_mm_s(feed), facts.acceleration
    return distance / v + 1.5 * v / a if distance >= v * v / (2.0 * a) else math.sqrt(2.0 * distance / a) + v / a


def _leave(facts: MachineFacts, fast: float, slow: float) -> float:
    from gingerly.kinematics import move_time

    return move_time(
        _back(facts, fast, slow), feed=limited_traverse(facts, PIN)[0], acceleration=facts.acceleration
    )


def _back(facts: MachineFacts, fast: float, slow: float) -> float:
    ran_on = stopping_distance(fast, acceleration=facts.acceleration, reaction_s=0.0)
    return ran_on + facts.backlash + stopping_distance(slow, acceleration=facts.acceleration) + FREE_WAY


@cache
def _best_again(facts: MachineFacts, fast: float) -> float:
    """The least time of back-offs and re-touches after an approach at `fast`."""
    found, wanted = [], wanted_of(facts)
    for count in (1, 2, 3, 4):
        for slow in (feed for feed in FEEDS if feed <= fast):
            ways = (Touching(fast, slow, count, extrapolated) for extrapolated in (False, slow <= 0.5 * fast))
            if any(touching_u(facts, way) <= wanted * 1.0001 for way in ways):
                w, a, back = speed_mm_s(slow), facts.acceleration, _back(facts, fast, slow)
                found.append((count + 1) * _leave(facts, fast, slow) + count * (back / w + 1.5 * w / a))
    return min(found, default=math.inf)


@pytest.mark.parametrize("facts", MACHINES, ids=lambda facts: facts.name)
def test_a_planned_corner_comes_near_to_what_motion_allows_at_best(facts: MachineFacts) -> None:
    """Within 1.3 times the bound that `least_seconds` derives."""
    _, planned = both(facts.name)
    assert seconds(planned) <= 1.3 * least_seconds(facts, planned)
