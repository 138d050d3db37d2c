"""Steps and backlash: what the position says, and how far the tool lags behind it."""

import random

import pytest

from gingerly.geometry import ORIGIN, Position
from gingerly_mock.axes import Axes

RIGHT, LEFT = Position(1.0, 0.0, 0.0), Position(-1.0, 0.0, 0.0)


def with_play(play):
    return Axes(0.0025, Position(play, play, play))


def true_end(axes, start, way, length):
    _, end, place, true_way = axes.stretches(start, way, length)[-1]
    begin = axes.stretches(start, way, length)[-1][0]
    return place.plus(true_way.times(end - begin))


def test_positions_are_whole_steps():
    axes = Axes(0.0025, ORIGIN)
    assert axes.snap(Position(1.00124, -0.00126, 3.0)) == pytest.approx((1.0, -0.0025, 3.0), abs=1e-12)


def test_a_move_rests_on_the_next_step_ahead_and_never_before_its_end():
    axes, dice = Axes(0.0025, ORIGIN), random.Random(1)
    for _ in range(100):
        start = axes.snap(Position(dice.uniform(-9, 9), dice.uniform(-9, 9), 0.0))
        way = Position(dice.uniform(-1, 1), dice.uniform(-1, 1), 0.0).unit()
        distance = dice.uniform(0.0, 5.0)
        rest = axes.rest(start, way, distance)
        for axis in (0, 1):
            ahead = (rest[axis] - start[axis] - way[axis] * distance) * (1.0 if way[axis] > 0 else -1.0)
            assert -1e-8 <= ahead < 0.0025


def test_a_rest_that_lies_on_a_step_already_stays_there():
    axes = Axes(0.0025, ORIGIN)
    assert axes.rest(Position(1.0, 0.0, 0.0), RIGHT, 0.5) == pytest.approx((1.5, 0.0, 0.0), abs=1e-12)


def test_without_play_the_tool_is_where_the_position_says():
    axes = Axes(0.0025, ORIGIN)
    assert axes.stretches(ORIGIN, RIGHT, 4.0) == [(0.0, 4.0, ORIGIN, RIGHT)]


def test_the_tool_ends_half_the_play_behind_whichever_way_it_came():
    axes = with_play(0.1)
    assert true_end(axes, ORIGIN, RIGHT, 4.0).x == pytest.approx(3.95)
    axes.follow(Position(4.0, 0.0, 0.0))
    assert true_end(axes, Position(4.0, 0.0, 0.0), LEFT, 4.0).x == pytest.approx(0.05)


def test_after_a_reversal_the_tool_stands_still_until_the_whole_play_is_crossed():
    axes = with_play(0.1)
    axes.follow(Position(4.0, 0.0, 0.0))
    (_, still_to, _, still), (begins, _, _, moving) = axes.stretches(Position(4.0, 0.0, 0.0), LEFT, 1.0)
    assert (still, moving) == (ORIGIN, LEFT)
    assert still_to == begins == pytest.approx(0.1)


def test_a_move_shorter_than_the_play_moves_nothing():
    axes = with_play(0.1)
    axes.follow(Position(4.0, 0.0, 0.0))
    axes.follow(Position(-0.06, 0.0, 0.0))
    assert axes.true(Position(3.94, 0.0, 0.0)).x == pytest.approx(3.95)


def test_each_axis_crosses_its_own_play_in_a_diagonal_move():
    axes = with_play(0.1)
    way = Position(0.6, 0.8, 0.0)
    ends = [end for _, end, _, _ in axes.stretches(ORIGIN, way, 2.0)]
    assert ends == pytest.approx([0.05 / 0.8, 0.05 / 0.6, 2.0])
    assert true_end(axes, ORIGIN, way, 2.0) == pytest.approx((1.15, 1.55, 0.0))


def test_lost_steps_shift_the_tool_for_good_and_the_position_not_at_all():
    axes = Axes(0.0025, ORIGIN)
    axes.lose(Position(0.5, 0.0, 0.0))
    assert axes.true(Position(1.0, 2.0, 3.0)) == (1.5, 2.0, 3.0)
    assert true_end(axes, ORIGIN, RIGHT, 4.0) == pytest.approx((4.5, 0.0, 0.0))
