"""A straight move follows the formulas of uniform acceleration, checked against tabulated values and calculus.

Source of the tables in tests/reference/data: recomputed from s = v·t + v²/(2a), t = d/v + v/a and t = 2·√(d/a),
which stand in any text on mechanics.
"""

import csv
import random
from pathlib import Path

import pytest
from scipy.integrate import quad

from gingerly_mock.motion import Motion

DATA = Path(__file__).parents[2] / "reference" / "data"


def rows(name):
    with (DATA / name).open(newline="") as table:
        return list(csv.DictReader(table))


@pytest.mark.parametrize(
    "row", rows("move_times.csv"), ids=lambda row: f"{row['distance_mm']} at {row['feed_mm_min']}"
)
def test_a_move_takes_the_tabulated_time_and_reaches_the_tabulated_speed(row):
    move = Motion(float(row["distance_mm"]), float(row["feed_mm_min"]) / 60.0, float(row["accel_mm_s2"]))
    assert move.end_s == pytest.approx(float(row["time_s"]), abs=1e-6)
    assert move.peak == pytest.approx(float(row["peak_speed_mm_s"]), abs=1e-6)


@pytest.mark.parametrize("row", rows("kinematics.csv")[::5], ids=lambda row: "-".join(list(row.values())[:3]))
def test_braking_after_a_delay_takes_the_tabulated_distance_and_time(row):
    speed, acceleration = float(row["feed_mm_min"]) / 60.0, float(row["accel_mm_s2"])
    move = Motion(1000.0, speed, acceleration)
    touch_s = move.time_at(500.0)
    stopped = move.brake(touch_s + float(row["latency_ms"]) / 1000.0)
    assert stopped.length - 500.0 == pytest.approx(float(row["total_overtravel_mm"]), abs=1e-6)
    assert stopped.end_s - touch_s == pytest.approx(float(row["stop_time_s"]), abs=1e-6)


def some_moves(count):
    dice = random.Random(7)
    return [
        Motion(10 ** dice.uniform(-3, 2), dice.uniform(0.1, 50.0), dice.uniform(50, 2000)) for _ in range(count)
    ]


def test_distance_is_the_integral_of_speed():
    """Source: scipy.integrate.quad, an independent adaptive quadrature."""
    for move in some_moves(20):
        at_s = 0.83 * move.end_s
        area, _ = quad(move.speed, 0.0, at_s, points=[move.cruise_s, move.brake_s], epsabs=1e-12)
        assert move.travelled(at_s) == pytest.approx(area, rel=1e-9)


def test_the_time_of_a_distance_and_the_distance_at_a_time_are_inverse():
    dice = random.Random(8)
    for move in some_moves(50):
        distance = dice.random() * move.length
        assert move.travelled(move.time_at(distance)) == pytest.approx(distance, abs=1e-9)


def test_a_move_begins_and_ends_at_rest_and_covers_its_length():
    for move in some_moves(20):
        assert (move.travelled(0.0), move.speed(0.0), move.speed(move.end_s)) == (0.0, 0.0, 0.0)
        assert move.travelled(move.end_s) == pytest.approx(move.length)
        assert move.travelled(move.end_s + 1.0) == move.length


def test_braking_leaves_the_past_as_it_was_and_stops_v_squared_over_2a_later():
    dice = random.Random(9)
    for move in some_moves(50):
        at_s = dice.random() * move.brake_s
        cut = move.brake(at_s)
        speed = move.speed(at_s)
        for share in (0.2, 0.7, 1.0):
            assert cut.travelled(share * at_s) == pytest.approx(move.travelled(share * at_s), abs=1e-9)
        assert cut.length - move.travelled(at_s) == pytest.approx(speed**2 / 2 / move.acceleration, abs=1e-9)
        assert cut.length <= move.length + 1e-9


def test_a_move_that_brakes_already_stays_as_it_is():
    move = Motion(10.0, 5.0, 100.0)
    assert move.brake(move.brake_s + 0.001) is move


def test_a_second_stop_does_not_lengthen_the_way():
    move = Motion(100.0, 20.0, 100.0)
    once = move.brake(1.0)
    assert once.brake(1.05).length == once.length


@pytest.mark.parametrize("share", [0.05, 0.5, 0.97])
def test_a_halt_ends_the_move_dead_where_it_is(share):
    move = Motion(10.0, 5.0, 20.0)
    at_s = share * move.end_s
    halted = move.halt(at_s)
    assert halted.length == pytest.approx(move.travelled(at_s))
    assert halted.end_s == at_s
    assert halted.travelled(0.9 * at_s) == pytest.approx(move.travelled(0.9 * at_s))
    assert halted.time_at(0.9 * halted.length) == pytest.approx(move.time_at(0.9 * halted.length))


def test_a_move_of_no_length_is_over_at_once():
    move = Motion(0.0, 5.0, 100.0)
    assert (move.end_s, move.length, move.travelled(1.0)) == (0.0, 0.0, 0.0)
