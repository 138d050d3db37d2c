"""The planner: every feed by its formula, every limit named, every wish kept within them.

The fastest feed is checked against values worked out apart from this project from v·t + v²/(2a) = δ, uniform
acceleration, as any text on mechanics has it (`kinematics.csv` among the check values).
"""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest

from gingerly import Box, Guard, Limits, MachineFacts, Position, Surface, Tool, Wishes
from gingerly.kinematics import stopping_distance
from gingerly.planner import limited_traverse, plan_touch
from support.bench import PIN as BENCH_PIN
from support.bench import bench, scene, spot

FACTS = MachineFacts(
    name="drawing board",
    envelope=Box(Position(0.0, 0.0, -90.0), Position(400.0, 300.0, 0.0)),
    resolution=0.0025,
    acceleration=250.0,
    top_feed=5000.0,
    rapid_feed=5000.0,
    latch_s=Limits(0.001, 0.004),
    stop_reaction_s=0.009,
    sample_interval_s=0.001,
    backlash=0.02,
)
PIN = replace(Tool.pin(6.0, free_length=30.0), overtravel=0.3025)
"""It may run on by 0.3 mm, and to the motor step that comes next."""
DATA = Path(__file__).parents[1] / "reference" / "data" / "kinematics.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))


def because(plan, which):
    """The sentence that tells what limited the approach, the re-touch, the traverse or the back-off."""
    (found,) = [reason for reason in plan.limited_by if reason.startswith(which)]
    return found


# ---- the approach -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(list(row.values())[:3]))
def test_the_approach_stops_within_the_tools_overtravel(row):
    """The check values give the overtravel of a feed; the planner finds that feed from the overtravel."""
    overtravel = float(row["total_overtravel_mm"])
    facts = replace(
        FACTS,
        acceleration=float(row["accel_mm_s2"]),
        resolution=1e-9,
        stop_reaction_s=float(row["latency_ms"]) / 1000.0,
        sample_interval_s=1e-12,
        top_feed=1e6,
    )
    plan = plan_touch(facts, replace(PIN, overtravel=overtravel))
    # The table's six decimals of a millimetre are half a micrometre in a thousand.
    assert plan.fast_feed == pytest.approx(float(row["feed_mm_min"]), rel=1e-6 / overtravel)
    assert because(plan, "approach").endswith(f"the tool may run on {overtravel:g} mm")


def test_the_approach_counts_reaction_and_one_sample():
    """A circuit that closes just after a sample is seen a whole interval late."""
    plan = plan_touch(FACTS, PIN)
    ran_on = stopping_distance(plan.fast_feed, acceleration=250.0, reaction_s=0.009 + 0.001)
    assert ran_on == pytest.approx(PIN.overtravel - FACTS.resolution, abs=1e-12)


def test_the_machines_top_feed_limits_the_approach():
    plan = plan_touch(replace(FACTS, top_feed=300.0), PIN)
    assert plan.fast_feed == 300.0
    assert because(plan, "approach") == "approach at 300 mm/min: the machine's top feed"


def test_a_slower_approach_may_be_asked_for_but_never_a_faster_one():
    slow, fast = (plan_touch(FACTS, PIN, Wishes(fast_feed=feed)) for feed in (120.0, 90000.0))
    assert because(slow, "approach") == "approach at 120 mm/min: the feed asked for"
    assert fast.fast_feed == plan_touch(FACTS, PIN).fast_feed


# ---- the re-touch -----------------------------------------------------------------------------------------------


def test_the_re_touch_passes_one_motor_step_between_two_samples():
    """0.002 mm in 0.001 s are 120 mm/min."""
    plan = plan_touch(replace(FACTS, resolution=0.002), PIN)
    assert plan.slow_feed == pytest.approx(120.0)
    assert because(plan, "re-touch").endswith("one motor step between two samples of the circuit")


def test_the_re_touch_is_a_quarter_of_a_slow_approach():
    """Common practice, no source: 1/4 to 1/10."""
    plan = plan_touch(FACTS, PIN, Wishes(fast_feed=100.0))
    assert plan.slow_feed == pytest.approx(25.0)
    assert because(plan, "re-touch") == "re-touch at 25 mm/min: 1/4 of the approach"


def test_a_slower_re_touch_may_be_asked_for_but_never_a_faster_one():
    slow, fast = (plan_touch(FACTS, PIN, Wishes(slow_feed=feed)) for feed in (12.0, 900.0))
    assert because(slow, "re-touch") == "re-touch at 12 mm/min: the feed asked for"
    assert fast.slow_feed == pytest.approx(150.0)


# ---- the traverse below clearance -------------------------------------------------------------------------------


def test_a_traverse_that_a_look_guards_stops_within_the_overtravel_after_a_look_and_the_reaction():
    """v = a·(−t + √(t² + 2δ/a)) with t = 0.1 + 0.009 s."""
    feed, why = limited_traverse(replace(FACTS, guard=Guard.POLLED), PIN)
    t, a, d = 0.109, 250.0, PIN.overtravel
    assert feed == pytest.approx(60.0 * a * (-t + math.sqrt(t * t + 2.0 * d / a)))
    assert "a look sees the circuit 0.109 s late" in why


def test_a_traverse_that_the_controller_guards_may_go_faster():
    feed, why = limited_traverse(replace(FACTS, guard=Guard.SENSED), PIN)
    assert feed > 2.0 * limited_traverse(replace(FACTS, guard=Guard.POLLED), PIN)[0]
    assert "the controller sees the circuit 0.009 s late" in why


def test_a_traverse_that_nobody_guards_goes_no_faster_than_a_look_would_allow_and_says_that_nobody_looks():
    feed, why = limited_traverse(replace(FACTS, guard=Guard.NONE), PIN)
    assert feed == limited_traverse(replace(FACTS, guard=Guard.POLLED), PIN)[0]
    assert "nobody looks while it moves" in why


def test_the_top_feed_limits_a_traverse_of_a_tool_that_bears_much():
    feed, why = limited_traverse(replace(FACTS, top_feed=60.0), PIN)
    assert (feed, why) == (60.0, "traverse below clearance at 60 mm/min: the machine's top feed")


def test_the_back_off_leaves_as_fast_as_such_a_traverse():
    plan = plan_touch(FACTS, PIN)
    assert plan.leave_feed == limited_traverse(FACTS, PIN)[0]


# ---- the back-off, the repeats, the tolerance -------------------------------------------------------------------


def test_the_back_off_covers_what_ran_on_the_backlash_and_the_run_up_and_half_a_millimetre():
    """0.3 run on, 0.02 backlash, v²/2a of the slow feed (2.5 mm/s: 0.0125 mm), 0.5 free."""
    plan = plan_touch(FACTS, PIN)
    assert plan.back_off == pytest.approx(0.3 + 0.02 + 0.0125 + 0.5)
    assert because(plan, "back off").startswith("back off 0.833 mm: 0.300 run on, 0.020 backlash, 0.013 run-up")


def test_a_longer_back_off_may_be_asked_for_and_a_shorter_one_is_refused_in_words():
    longer, shorter = (plan_touch(FACTS, PIN, Wishes(back_off=length)) for length in (2.0, 0.1))
    assert because(longer, "back off") == "back off 2.000 mm: as asked for"
    assert shorter.back_off == pytest.approx(0.8325)
    assert because(shorter, "back off").endswith("(0.100 asked for is 0.733 too little)")


def test_a_re_touch_always_has_further_to_go_than_the_open_report_demands():
    """A probe move to a target nearer than 0.254 mm is an error (NISTIR 6556, 3.5.9.1)."""
    plan = plan_touch(FACTS, PIN, Wishes(fast_feed=1.0))
    assert plan.back_off > 0.254
    assert plan.reach > 0.254


def test_contacts_may_spread_by_what_steps_and_samples_leave_and_five_micrometres_at_least():
    """Twice a step of 0.0025 mm and 2.5 mm/s × 0.001 s; a fine machine is not held to less than 5 µm."""
    assert plan_touch(FACTS, PIN).spread == pytest.approx(0.01)
    fine = replace(FACTS, resolution=0.0002, sample_interval_s=0.0001)
    assert plan_touch(fine, PIN).spread == 0.005
    assert plan_touch(FACTS, PIN, Wishes(spread=0.02)).spread == 0.02


def test_the_latch_is_corrected_by_its_middle():
    assert plan_touch(FACTS, PIN).latch_s == pytest.approx(0.0025)


def test_repeats_are_as_wished():
    plan = plan_touch(FACTS, PIN, Wishes(retouches=4, extras=1))
    assert (plan.retouches, plan.extras) == (4, 1)


@pytest.mark.parametrize("name", ["fast_feed", "slow_feed", "back_off", "spread"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_a_wish_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"{name} must be greater than 0"):
        Wishes(**{name: value})


@pytest.mark.parametrize("name", ["retouches", "extras"])
@pytest.mark.parametrize("value", [-1, 51])
def test_a_number_of_repeats_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"{name} must lie from 0 to 50"):
        Wishes(**{name: value})


@pytest.mark.asyncio
async def test_a_machine_of_coarse_steps_and_the_slowest_reaction_never_runs_on_too_far():
    """It comes to rest on the step beyond where its braking ends, up to 0.0125 mm further: that is allowed for."""
    deepest = []
    for seed in range(12):
        fast_sampling = {
            "sample_interval_s": 1e-5,
            "sample_s": 1e-5,
            "stop_reaction_s": 0.002,
            "stop_delay_s": 0.002,
        }
        machine = bench(seed=seed, resolution=0.0125, top_feed=3000.0, **fast_sampling)
        async with machine:
            machine.adapter.stage(scene())
            await machine.probe(Surface(spot=spot()))
        deepest.append(machine.adapter.deepest_penetration)
    assert 0.29 < max(deepest) <= BENCH_PIN.overtravel
