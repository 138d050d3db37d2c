"""What the controller does with time: moves, samples, latches, overshoots, bounces, stops."""

import csv
import math
import random
import statistics
from pathlib import Path

import pytest

from gingerly.geometry import Position
from gingerly.kinematics import move_time
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Circuit
from gingerly.stock import Stock

DATA = Path(__file__).parents[2] / "reference" / "data"
WIDE = {"low": [-500.0, -500.0, -500.0], "high": [500.0, 500.0, 500.0]}
LIP = 87.4125
"""Where the pin touches lip A of the blank that all tests use: 100 - 11 - 1.5875."""


def rows(name):
    with (DATA / name).open(newline="") as table:
        return list(csv.DictReader(table))


def fast(feed=3000.0, **options):
    return {"envelope": WIDE, "resolution": 1e-6, "top_feed": feed, "rapid_feed": feed} | options


def touch(shop, x=84.0, feed=300.0):
    """Come from outside at the plate's height, start at x, and sense into lip A."""
    shop.go(Position(84.0, 110.0, -10.0), Position(84.0, 110.0, -40.0), Position(x, 110.0, -40.0))
    return shop.sense(Position(92.0, 110.0, -40.0), feed)


# ---- time and way --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "row", rows("move_times.csv"), ids=lambda row: f"{row['distance_mm']} at {row['feed_mm_min']}"
)
def test_a_traverse_takes_the_tabulated_time(open_shop, row):
    """Source: t = d/v + v/a, or 2·√(d/a), tabulated in tests/reference/data/move_times.csv."""
    acceleration = float(row["accel_mm_s2"])
    shop = open_shop(**fast(acceleration=acceleration, position=[0.0, -300.0, 0.0]))
    shop.traverse(Position(float(row["distance_mm"]), -300.0, 0.0), float(row["feed_mm_min"]))
    assert shop.clock.now() == pytest.approx(float(row["time_s"]), abs=2e-6)


@pytest.mark.parametrize("row", rows("kinematics.csv"), ids=lambda row: "-".join(list(row.values())[:3]))
def test_a_sense_overshoots_by_v_t_plus_v_squared_over_2a(open_shop, row):
    """Source: s = v·t + v²/(2a), tabulated in tests/reference/data/kinematics.csv."""
    shop = open_shop(**fast(acceleration=float(row["accel_mm_s2"]), stop_delay_s=float(row["latency_ms"]) / 1000.0))
    shop.go(Position(50.0, 110.0, 0.0), Position(50.0, 110.0, -40.0))
    found = shop.sense(Position(130.0, 110.0, -40.0), float(row["feed_mm_min"]))
    expected = float(row["total_overtravel_mm"])
    assert found.rest.position.x - LIP == pytest.approx(expected, abs=3e-6)
    assert shop.deepest_penetration == pytest.approx(expected, abs=3e-6)


def test_a_move_without_a_feed_goes_at_the_rapid_feed_and_a_programmed_one_at_most_at_the_top_feed(open_shop):
    shop = open_shop(rapid_feed=1800.0, top_feed=900.0, position=[10.0, 10.0, 0.0])
    shop.traverse(Position(60.0, 10.0, 0.0), None)
    rapid_s = shop.clock.now()
    shop.traverse(Position(10.0, 10.0, 0.0), 5000.0)
    assert rapid_s == pytest.approx(move_time(50.0, feed=1800.0, acceleration=300.0))
    assert shop.clock.now() - rapid_s == pytest.approx(move_time(50.0, feed=900.0, acceleration=300.0))


def test_positions_told_are_whole_steps(open_shop):
    shop = open_shop(resolution=0.01, position=[0.0, 0.0, 0.0])
    assert shop.traverse(Position(10.0049, 3.0051, 0.0), None).position == pytest.approx(
        (10.0, 3.01, 0.0), abs=1e-12
    )


# ---- contact -------------------------------------------------------------------------------------------------


def test_an_ideal_machine_latches_the_very_step_at_which_metal_meets(open_shop):
    found = touch(open_shop())
    assert found.contact.x == pytest.approx(LIP, abs=0.0025 / 2 + 1e-9)
    assert found.rest.circuit is Circuit.CLOSED


def test_the_latch_lies_late_by_lag_and_sample_and_scatters_as_a_uniform_wait_does(open_shop):
    """Source: a wait spread evenly over T has the mean T/2 and the standard deviation T/√12."""
    shop = open_shop(resolution=1e-6, sample_s=0.004, latch_lag_s=0.003, stop_delay_s=0.01, seed=11)
    speed, late = 300.0 / 60.0, []
    for number in range(400):
        late.append(touch(shop, x=84.0 + 0.001 * number).contact.x - LIP)
    assert min(late) >= speed * 0.003 - 2e-6
    assert max(late) <= speed * 0.007 + 2e-6
    assert statistics.fmean(late) == pytest.approx(speed * 0.005, rel=0.05)
    assert statistics.pstdev(late) == pytest.approx(speed * 0.004 / math.sqrt(12.0), rel=0.1)


def test_repeated_touches_of_one_place_scatter_no_more_than_one_sample(open_shop):
    shop = open_shop(ideal=False, resolution=1e-6, runout=0.0, seed=12)
    found = [touch(shop, feed=120.0).contact.x for _ in range(100)]
    assert 0.0 < max(found) - min(found) <= 120.0 / 60.0 * shop.facts.sample_interval_s + 2e-6


def test_every_latch_and_overshoot_of_an_honest_machine_stays_within_its_facts(open_shop):
    for seed in range(40):
        shop = open_shop(ideal=False, resolution=1e-6, seed=seed)
        true = shop.true_contact(Position(84.0, 110.0, -40.0), Position(92.0, 110.0, -40.0)).x
        found, facts, speed = touch(shop), shop.facts, 5.0
        assert facts.latch_s.hold((found.contact.x - true) / speed, slack=1e-6)
        longest = speed * facts.stop_reaction_s + speed**2 / 2.0 / facts.acceleration
        assert 0.0 < found.rest.position.x - true <= longest + 2e-6


def test_a_latch_never_lies_beyond_the_rest(open_shop):
    for seed in range(30):
        found = touch(open_shop(ideal=False, seed=seed), feed=random.Random(seed).uniform(10.0, 1500.0))
        assert found.contact.x <= found.rest.position.x + 1e-9


def test_a_touch_so_slow_that_it_ends_within_a_step_still_ends_closed(open_shop):
    found = touch(open_shop(resolution=0.01), x=87.0, feed=1.0)
    assert isinstance(found, Touched)
    assert found.rest.circuit is Circuit.CLOSED


def test_a_sense_that_meets_nothing_ends_at_its_target(open_shop):
    shop = open_shop()
    shop.go(Position(50.0, 110.0, 0.0))
    found = shop.sense(Position(55.0, 110.0, 0.0), 300.0)
    assert isinstance(found, Missed)
    assert found.rest.position == (55.0, 110.0, 0.0)


def test_a_target_just_behind_the_face_is_no_miss_although_the_motion_ends_between_two_samples(open_shop):
    for seed in range(10):
        shop = open_shop(sample_s=0.05, seed=seed)
        shop.go(Position(84.0, 110.0, -10.0), Position(84.0, 110.0, -40.0))
        assert isinstance(shop.sense(Position(LIP + 0.0025, 110.0, -40.0), 60.0), Touched)


def test_a_contact_bounces_within_its_time_and_is_closed_after_it(open_shop):
    open_seen = 0
    for seed in range(30):
        shop = open_shop(seed=seed, bounce_s=0.015, stop_delay_s=0.0, resolution=0.0001)
        found = touch(shop, x=87.0, feed=20.0)
        open_seen += found.rest.circuit is Circuit.OPEN
        shop.clock.elapse(0.016)
        assert shop.look().circuit is Circuit.CLOSED
    assert 0 < open_seen < 30


def test_stock_that_does_not_conduct_is_pushed_into_and_the_depth_is_known(open_shop, make_scene):
    shop = open_shop(make_scene(plate=None))
    shop.go(Position(120.0, 100.0, -38.0))
    found = shop.sense(Position(120.0, 100.0, -43.0), 100.0)
    assert isinstance(found, Missed)
    assert shop.deepest_penetration == pytest.approx(3.0)


def test_conducting_stock_is_sensed_without_a_plate(open_shop, make_scene):
    block = make_scene(plate=None, stock=Stock(size_x=100.0, size_y=80.0, thickness=20.0, conductive=True))
    shop = open_shop(block)
    shop.go(Position(120.0, 100.0, -38.0))
    assert shop.sense(Position(120.0, 100.0, -43.0), 25.0).contact.z == pytest.approx(-40.0, abs=0.0013)


# ---- backlash ------------------------------------------------------------------------------------------------


def test_backlash_makes_opposite_touches_disagree_by_the_play(open_shop, make_scene):
    """Source: with a play of b, a face approached from - and from + reads b apart on top of the tool's diameter."""
    block = make_scene(plate=None, stock=Stock(size_x=30.0, size_y=80.0, thickness=20.0, conductive=True))
    shop = open_shop(block, true_backlash=0.2, resolution=0.0001)
    shop.go(Position(90.0, 110.0, -45.0))
    from_left = shop.sense(Position(110.0, 110.0, -45.0), 10.0).contact.x
    shop.go(Position(90.0, 110.0, -45.0), Position(90.0, 110.0, 0.0), Position(140.0, 110.0, 0.0))
    shop.go(Position(140.0, 110.0, -45.0))
    from_right = shop.sense(Position(120.0, 110.0, -45.0), 10.0).contact.x
    assert from_right - from_left == pytest.approx(30.0 + 3.175 - 0.2, abs=0.001)


def test_a_back_off_shorter_than_the_play_leaves_the_circuit_closed(open_shop):
    shop = open_shop(true_backlash=0.2)
    found = touch(shop, feed=20.0)
    near = found.rest.position.x
    assert shop.traverse(Position(near - 0.15, 110.0, -40.0), 100.0).circuit is Circuit.CLOSED
    assert shop.traverse(Position(near - 0.25, 110.0, -40.0), 100.0).circuit is Circuit.OPEN


def test_the_tool_lags_half_the_play_behind_the_last_move_of_each_axis(open_shop):
    shop = open_shop(true_backlash=0.2, position=[10.0, 10.0, -10.0])
    shop.go(Position(20.0, 10.0, -10.0), Position(20.0, 10.0, -20.0), Position(20.0, 10.0, -19.0))
    assert shop.true_position == pytest.approx((19.9, 10.0, -19.1), abs=1e-9)


# ---- depth ---------------------------------------------------------------------------------------------------


def test_depth_adds_up_over_moves_that_push_on_and_not_over_those_that_back_off(open_shop):
    shop = open_shop()
    shop.go(Position(84.0, 110.0, -10.0), Position(84.0, 110.0, -40.0), Position(88.4125, 110.0, -40.0))
    assert shop.deepest_penetration == pytest.approx(1.0)
    shop.go(Position(89.4125, 110.0, -40.0))
    assert shop.deepest_penetration == pytest.approx(2.0)
    shop.go(Position(84.0, 110.0, -40.0))
    assert shop.deepest_penetration == pytest.approx(2.0)
    assert shop.deepened_while_closed


def test_backing_off_is_never_taken_for_pushing_on(open_shop):
    shop = open_shop()
    touch(shop)
    before = shop.deepest_penetration
    shop.go(Position(84.0, 110.0, -40.0), Position(84.0, 110.0, -10.0))
    assert shop.deepest_penetration == before
    assert not shop.deepened_while_closed


def test_a_move_through_a_thin_thing_counts_as_deep_as_the_way_inside(open_shop, make_scene):
    shop = open_shop(make_scene(plate=None, stock=Stock(size_x=4.0, size_y=80.0, thickness=20.0)))
    shop.go(Position(90.0, 110.0, -10.0), Position(90.0, 110.0, -45.0), Position(115.0, 110.0, -45.0))
    assert shop.deepest_penetration == pytest.approx(4.0 + 3.175)


def test_a_blank_staged_onto_the_tool_is_touched_at_once(open_shop, make_scene):
    shop = open_shop(position=[120.0, 110.0, -36.0])
    assert shop.look().circuit is Circuit.CLOSED
    assert shop.traverse(Position(120.0, 110.0, -10.0), 500.0).circuit is Circuit.OPEN


def test_each_blank_counts_its_own_depth(open_shop, make_scene):
    shop = open_shop()
    touch(shop)
    shop.go(Position(84.0, 110.0, -40.0), Position(84.0, 110.0, -10.0))
    shop.stage(make_scene(name="next"))
    assert shop.deepest_penetration == 0.0


# ---- guards --------------------------------------------------------------------------------------------------


def into_the_lip(shop, feed=600.0):
    shop.go(Position(70.0, 110.0, -10.0), Position(70.0, 110.0, -40.0))
    return shop.traverse(Position(100.0, 110.0, -40.0), feed)


def test_an_unguarded_traverse_goes_through_whatever_is_there(open_shop):
    shop = open_shop(guard="none")
    assert into_the_lip(shop).position.x == 100.0
    assert shop.deepest_penetration == pytest.approx(100.0 - LIP)


def test_a_sensed_traverse_stops_as_a_sense_does(open_shop):
    shop = open_shop(guard="sensed", stop_delay_s=0.004)
    expected = 10.0 * 0.004 + 100.0 / 2.0 / 300.0
    assert into_the_lip(shop).position.x - LIP == pytest.approx(expected, abs=0.0026)


def test_a_polled_traverse_stops_within_look_interval_and_reaction(open_shop):
    beyond = []
    for seed in range(40):
        shop = open_shop(guard="polled", look_interval_s=0.1, stop_delay_s=0.005, seed=seed)
        beyond.append(into_the_lip(shop).position.x - LIP)
    shortest = 10.0 * 0.005 + 100.0 / 2.0 / 300.0
    assert shortest - 0.001 <= min(beyond)
    assert max(beyond) <= shortest + 10.0 * 0.1 + 0.0026
    assert max(beyond) - min(beyond) > 0.5


def test_a_guarded_traverse_stops_for_noise_too(open_shop):
    noise = {"what": "noise", "call": "traverse", "nth": 3, "after_mm": 4.0}
    shop = open_shop(guard="sensed", faults=[noise])
    assert into_the_lip(shop).position.x == pytest.approx(74.0 + 100.0 / 2.0 / 300.0, abs=0.003)


@pytest.mark.parametrize("guard", ["polled", "sensed"])
def test_a_guarded_traverse_may_begin_closed_and_backs_off_freely(open_shop, guard):
    shop = open_shop(guard=guard)
    touch(shop)
    rest = shop.traverse(Position(84.0, 110.0, -40.0), 300.0)
    assert (rest.position.x, rest.circuit) == (84.0, Circuit.OPEN)


# ---- in mid-move ---------------------------------------------------------------------------------------------


def test_a_call_that_times_out_leaves_the_machine_moving(open_shop):
    shop = open_shop(position=[10.0, 10.0, 0.0])
    with pytest.raises(TimeoutError):
        shop.bounded(1.0, "traverse", Position(110.0, 10.0, 0.0), 600.0)
    first = shop.look()
    assert shop.true_moving
    shop.clock.elapse(0.5)
    second = shop.look()
    assert not first.idle
    assert second.position.x - first.position.x == pytest.approx(10.0 * 0.5, abs=0.003)


def test_a_stop_in_mid_move_brakes_and_then_stands(open_shop):
    shop = open_shop(position=[10.0, 10.0, 0.0], stop_delay_s=0.01)
    with pytest.raises(TimeoutError):
        shop.bounded(2.0, "traverse", Position(110.0, 10.0, 0.0), 600.0)
    before = shop.look().position.x
    rest = shop.stop()
    assert rest.idle
    assert rest.position.x - before == pytest.approx(10.0 * 0.01 + 100.0 / 600.0, abs=0.005)
    assert shop.stop().position == rest.position


def test_an_abandoned_sense_still_stops_at_contact(open_shop):
    shop = open_shop()
    shop.go(Position(84.0, 110.0, -10.0), Position(84.0, 110.0, -40.0))
    with pytest.raises(TimeoutError):
        shop.bounded(0.5, "sense", Position(95.0, 110.0, -40.0), 60.0)
    shop.clock.elapse(60.0)
    rest = shop.look()
    assert (rest.idle, rest.circuit) == (True, Circuit.CLOSED)
    assert rest.position.x == pytest.approx(LIP, abs=0.01)


def test_a_sense_that_was_stopped_has_not_missed(open_shop):
    shop = open_shop(alarm_on_miss=True, position=[10.0, 10.0, 0.0])
    with pytest.raises(TimeoutError):
        shop.bounded(0.5, "sense", Position(50.0, 10.0, 0.0), 60.0)
    assert shop.stop().alarm is False


def test_closing_the_adapter_stops_what_moves(open_shop):
    shop = open_shop(position=[10.0, 10.0, 0.0])
    with pytest.raises(TimeoutError):
        shop.bounded(1.0, "traverse", Position(110.0, 10.0, 0.0), 600.0)
    shop.close()
    shop.open()
    rest = shop.look()
    assert rest.idle
    assert rest.position.x < 60.0
