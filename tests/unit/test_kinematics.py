"""Moves of uniform acceleration: the limits of the formulas, and what is refused."""

import math

import pytest

from gingerly.kinematics import fastest_feed, move_time, speed_mm_s, stopping_distance


def test_sixty_mm_per_minute_is_one_mm_per_second():
    assert speed_mm_s(60.0) == pytest.approx(1.0, rel=1e-15)


def test_nothing_moves_on_at_no_feed():
    assert stopping_distance(0.0, acceleration=500.0, reaction_s=0.01) == 0.0


def test_no_distance_takes_no_time():
    assert move_time(0.0, feed=300.0, acceleration=500.0) == 0.0


def test_trapezoid_and_triangle_agree_where_one_becomes_the_other():
    speed, acceleration = 50.0, 500.0
    limit = speed**2 / acceleration
    below, above = (
        move_time(limit * share, feed=60.0 * speed, acceleration=acceleration) for share in (1 - 1e-9, 1 + 1e-9)
    )
    assert below == pytest.approx(above, rel=1e-8)


def test_a_move_half_as_long_again_as_the_ramps_cruises_between_them():
    """50 mm/s at 500 mm/s²: ramps of 2.5 mm and 0.1 s each, and 2.5 mm at full speed, 0.05 s."""
    assert move_time(7.5, feed=3000.0, acceleration=500.0) == pytest.approx(0.25, rel=1e-12)


def test_no_overtravel_allows_no_feed():
    assert fastest_feed(0.0, acceleration=500.0, reaction_s=0.0) == 0.0


def test_a_tiny_overtravel_with_a_slow_reaction_keeps_its_digits():
    """Where the reaction time rules, the highest feed is δ/t to many digits."""
    assert fastest_feed(1e-12, acceleration=500.0, reaction_s=1.0) == pytest.approx(60e-12, rel=1e-9)


@pytest.mark.parametrize("overtravel", [0.001, 0.05, 0.3, 5.0])
@pytest.mark.parametrize("reaction_s", [0.0, 0.001, 0.1])
def test_the_fastest_feed_stops_exactly_within_the_overtravel(overtravel, reaction_s):
    feed = fastest_feed(overtravel, acceleration=250.0, reaction_s=reaction_s)
    assert stopping_distance(feed, acceleration=250.0, reaction_s=reaction_s) == pytest.approx(
        overtravel, rel=1e-12
    )


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_an_acceleration_must_be_above_nothing(bad):
    for act in (
        lambda: stopping_distance(300.0, acceleration=bad),
        lambda: move_time(1.0, feed=300.0, acceleration=bad),
        lambda: fastest_feed(0.1, acceleration=bad, reaction_s=0.0),
    ):
        with pytest.raises(ValueError, match="an acceleration must be above 0 mm/s²"):
            act()


def test_a_move_needs_a_feed_and_a_distance():
    with pytest.raises(ValueError, match="a feed must be above 0 mm/min, not 0"):
        move_time(1.0, feed=0.0, acceleration=500.0)
    with pytest.raises(ValueError, match="a distance must be 0 mm or more, not -1"):
        move_time(-1.0, feed=300.0, acceleration=500.0)


def test_a_negative_feed_reaction_or_overtravel_is_refused():
    with pytest.raises(ValueError, match="a feed must be 0 mm/min or more"):
        stopping_distance(-300.0, acceleration=500.0)
    with pytest.raises(ValueError, match="a reaction time must be 0 s or more"):
        stopping_distance(300.0, acceleration=500.0, reaction_s=-0.01)
    with pytest.raises(ValueError, match="a reaction time must be 0 s or more"):
        fastest_feed(0.1, acceleration=500.0, reaction_s=-0.01)
    with pytest.raises(ValueError, match="an overtravel must be 0 mm or more"):
        fastest_feed(-0.1, acceleration=500.0, reaction_s=0.01)
