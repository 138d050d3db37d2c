"""The planner's choice: the fastest way to touch that keeps a wanted uncertainty, and why."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest

from gingerly import Box, Limits, MachineFacts, Position, Tool, Wishes
from gingerly.planner import Touching, plan_touch, touching_u
from gingerly.planner.choice import touch_time
from gingerly.planner.limits import back_off

FACTS = MachineFacts(
    name="drawing board",
    envelope=Box(Position(0.0, 0.0, -90.0), Position(400.0, 300.0, 0.0)),
    resolution=0.0025,
    acceleration=250.0,
    top_feed=5000.0,
    rapid_feed=5000.0,
    latch_s=Limits(0.001, 0.002),
    stop_reaction_s=0.009,
    sample_interval_s=0.001,
    backlash=0.02,
)
UNKNOWN = replace(FACTS, latch_s=Limits(0.0, 0.02), stop_reaction_s=0.02)
"""A machine whose reaction time nobody has calibrated."""
PIN = replace(Tool.pin(6.0, free_length=30.0), overtravel=0.3025)
"""It may run on by 0.3 mm, and to the motor step that comes next."""


def way_of(plan):
    return Touching(plan.fast_feed, plan.slow_feed, plan.retouches, plan.extrapolated)


def because(plan, which):
    (found,) = [reason for reason in plan.limited_by if which in reason]
    return found


# ---- how far off touching is --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("extrapolated", "micrometres"), [(False, 0.87), (True, 1.53)])
def test_the_example_of_two_feeds_comes_out(extrapolated, micrometres):
    """300 → 100 mm/min, samples 1 ms apart, steps of 2.5 µm: 0.87 µm, and 1.53 µm extrapolated to no speed."""
    found = touching_u(FACTS, Touching(300.0, 100.0, 1, extrapolated))
    assert 1000.0 * found == pytest.approx(micrometres, abs=0.005)


def test_a_latch_known_within_limits_only_adds_its_speed_times_their_spread():
    """±9.5 ms of mean lateness at 2 mm/s, evenly spread: 19 µm/√3, beside 0.92 µm of latching and resolution."""
    found = touching_u(UNKNOWN, Touching(600.0, 120.0, 1))
    alone = math.hypot(0.002 / math.sqrt(12.0), 0.0025 / math.sqrt(12.0))
    assert found == pytest.approx(math.hypot(0.019 / math.sqrt(3.0), alone), rel=1e-12)


# ---- the choice ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("facts", [FACTS, UNKNOWN], ids=["calibrated", "unknown"])
@pytest.mark.parametrize("wanted", [0.02, 0.004, 0.0015, 0.001])
def test_what_is_wanted_is_kept_and_nothing_on_a_grid_is_faster(facts, wanted):
    """Every approach, slow feed, number and way of a grid that keeps it takes at least as long."""
    plan = plan_touch(facts, PIN, Wishes(uncertainty=wanted))
    assert touching_u(facts, way_of(plan)) <= wanted * (1.0 + 1e-6)
    chosen = touch_time(facts, PIN, way_of(plan), plan.back_off, travel=15.0)
    shares = [0.02 * 1.1**n for n in range(41)]
    for share, count, extrapolated in itertools.product(shares, range(1, 6), (False, True)):
        way = Touching(plan.fast_feed, share * plan.fast_feed, count, extrapolated and share <= 0.5)
        if touching_u(facts, way) <= wanted:
            back = back_off(facts, Wishes(), way.fast, way.slow)[0]
            assert touch_time(facts, PIN, way, back, travel=15.0) >= chosen - 1e-6


def test_without_a_calibrated_reaction_time_two_feeds_are_extrapolated_to_no_speed():
    unknown, known = (plan_touch(facts, PIN, Wishes(uncertainty=0.003)) for facts in (UNKNOWN, FACTS))
    assert (unknown.extrapolated, known.extrapolated) == (True, False)
    assert "extrapolated to no speed" in because(unknown, "re-touch at")


def test_a_latch_that_may_come_while_the_machine_brakes_is_not_extrapolated_and_that_is_said():
    """20 ms after the touch, and braking begins after 9 ms at the latest: what was latched then is not v·t late."""
    plan = plan_touch(replace(UNKNOWN, stop_reaction_s=0.009), PIN, Wishes(uncertainty=0.0003))
    assert not plan.extrapolated
    assert "latched 0.020 s late, which may be after braking has begun (0.009 s)" in because(plan, "re-touch at")


def test_less_uncertainty_takes_longer():
    plans = [plan_touch(FACTS, PIN, Wishes(uncertainty=wanted)) for wanted in (0.004, 0.0015, 0.0009)]
    times = [touch_time(FACTS, PIN, way_of(plan), plan.back_off) for plan in plans]
    assert times == sorted(times)
    assert times[0] < times[-1]


def test_what_cannot_be_had_is_said_and_nearly_the_least_is_taken():
    """A step of 2.5 µm alone is 0.72 µm; nobody gets to a tenth of a micrometre with it."""
    plan = plan_touch(FACTS, PIN, Wishes(uncertainty=0.0001))
    assert "0.10 µm are wanted, and no plan gets below" in because(plan, "re-touch at")
    assert touching_u(FACTS, way_of(plan)) < 0.0009


@pytest.mark.parametrize(("wanted", "kept"), [(0.001, True), (0.0001, False)])
def test_contacts_that_are_spread_over_more_than_a_step_beat_slower_ones(wanted, kept):
    """Steps of 12.5 µm, samples 4 ms apart: however slow, contacts within one step are all rounded alike, by 3.6 µm.

    At 180 mm/min they lie anywhere in 12 µm, and eleven of them leave 1.5 µm; with steps of 5 µm a micrometre can
    be had.
    """
    resolution = 0.005 if kept else 0.0125
    facts = replace(FACTS, resolution=resolution, sample_interval_s=0.004, latch_s=Limits(0.0, 0.004))
    plan = plan_touch(facts, PIN, Wishes(uncertainty=wanted))
    feeds = [3.0 * (plan.fast_feed / 3.0) ** (step / 100.0) for step in range(101)]
    least = min(touching_u(facts, Touching(plan.fast_feed, feed, n)) for feed in feeds for n in range(1, 13))
    assert ("no plan gets below" in because(plan, "re-touch at")) != kept
    assert touching_u(facts, way_of(plan)) <= (wanted if kept else 1.08 * least)
    assert touching_u(facts, replace(way_of(plan), slow=3.0)) > 1.4 * max(wanted, least)


@pytest.mark.parametrize(
    ("wishes", "said"),
    [
        (Wishes(), "2 re-touches: the usual number; touching adds"),
        (Wishes(retouches=4), "4 re-touches: as many as asked for; touching adds"),
        (Wishes(uncertainty=0.004), "1 re-touch: the quickest number that keeps what is wanted; touching adds"),
        (Wishes(uncertainty=0.004, retouches=3), "3 re-touches: as many as asked for; touching adds"),
    ],
)
def test_the_plan_says_why_there_are_so_many_re_touches(wishes, said):
    assert because(plan_touch(FACTS, PIN, wishes), "touching adds").startswith(said)


def test_a_person_may_fix_feed_number_and_back_off():
    wishes = Wishes(uncertainty=0.004, fast_feed=200.0, slow_feed=20.0, retouches=3, back_off=2.0)
    plan = plan_touch(FACTS, PIN, wishes)
    assert (plan.fast_feed, plan.slow_feed, plan.retouches, plan.back_off) == (200.0, 20.0, 3, 2.0)
    assert because(plan, "re-touch at") == "re-touch at 20 mm/min: the feed asked for"


def test_nothing_wanted_leaves_two_slow_contacts_at_the_usual_feed():
    plan = plan_touch(FACTS, PIN)
    assert (plan.retouches, plan.extrapolated, plan.slow_feed) == (2, False, pytest.approx(150.0))


# ---- what more would buy ------------------------------------------------------------------------------------------


def test_more_re_touches_buy_nothing_where_the_reaction_time_rules():
    plan = plan_touch(UNKNOWN, PIN, Wishes(retouches=4))
    assert because(plan, "re-touches").endswith("more would buy nothing: reaction time rules")


def test_one_more_re_touch_is_told_for_what_it_would_make_better():
    facts = replace(FACTS, sample_interval_s=0.005, resolution=0.0001, latch_s=Limits(0.0, 0.005))
    plan = plan_touch(facts, PIN, Wishes(slow_feed=60.0, retouches=1, uncertainty=0.01))
    now, then = (touching_u(facts, Touching(plan.fast_feed, plan.slow_feed, n)) for n in (1, 2))
    assert because(plan, "1 re-touch:").endswith(f"one more would make it {1000.0 * then:.2f} µm")
    assert then < 0.75 * now


@pytest.mark.parametrize("value", [0.0, -0.001, math.nan])
def test_an_uncertainty_that_cannot_be_is_refused(value):
    with pytest.raises(ValueError, match="uncertainty must be greater than 0"):
        Wishes(uncertainty=value)
