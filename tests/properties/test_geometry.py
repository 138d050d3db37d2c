"""Vectors, turns, boxes and distances against independent calculations."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gingerly.geometry import (
    Axis,
    Box,
    Corner,
    Position,
    centroid,
    distance_to_line,
    margin_in_polygon,
    quarter_turned,
    segment_to_rectangle,
)

MM = st.integers(-200_000, 200_000).map(lambda micrometres: micrometres / 1000.0)
POINT = st.tuples(MM, MM)
POSITION = st.builds(Position, MM, MM, MM)
SIZE = st.integers(1, 100_000).map(lambda micrometres: micrometres / 1000.0)


@given(POSITION, POSITION)
def test_taking_away_undoes_adding(start, step):
    assert tuple(start.plus(step).minus(step)) == pytest.approx(tuple(start), abs=1e-9)


@given(POSITION)
def test_a_unit_vector_is_one_long_and_points_the_same_way(step):
    assume(step.length() > 0.0)
    assert step.unit().length() == pytest.approx(1.0, rel=1e-12)
    assert step.unit().dot(step) == pytest.approx(step.length(), rel=1e-12)


@given(POSITION, POSITION, SIZE)
def test_a_step_towards_a_point_goes_its_distance_or_ends_there(start, end, distance):
    reached = start.towards(end, distance)
    assert start.distance(reached) == pytest.approx(min(distance, start.distance(end)), abs=1e-9)
    assert start.distance(reached) + reached.distance(end) == pytest.approx(start.distance(end), abs=1e-9)


@given(POSITION, POSITION, POSITION)
def test_distance_to_a_line_agrees_with_the_cross_product(point, start, step):
    """|(p − s) × d| for a unit vector d, by numpy."""
    assume(step.length() > 1.0)
    expected = np.linalg.norm(np.cross(np.subtract(point, start), step.unit()))
    assert distance_to_line(point, start, step.unit()) == pytest.approx(expected, abs=1e-6)


@given(POSITION, st.sampled_from(Axis), SIZE)
def test_a_box_tells_how_far_a_point_is_outside(point, axis, beyond):
    box = Box(Position(-200, -200, -200), Position(200, 200, 200))
    assert box.excess(point) is None
    found = box.excess(point.with_axes({axis: 200 + beyond}))
    assert found == (axis, pytest.approx(beyond, abs=1e-9))


@given(POINT, st.integers(-9, 9))
def test_quarter_turns_are_inverse_and_keep_lengths(point, turns):
    turned = quarter_turned(point, turns)
    assert quarter_turned(turned, -turns) == point
    assert math.hypot(*turned) == math.hypot(*point)


@given(POINT, st.integers(0, 7))
def test_quarter_turns_agree_with_powers_of_the_imaginary_unit(point, turns):
    expected = complex(*point) * 1j**turns
    assert complex(*quarter_turned(point, turns)) == pytest.approx(expected, abs=1e-9)


@given(st.sampled_from(Corner))
def test_every_corner_is_found_by_its_label(corner):
    assert Corner.named(corner.label) is corner


@given(POINT, POINT, POINT, SIZE, SIZE)
def test_a_segments_distance_to_a_rectangle_agrees_with_dense_sampling(start, end, low, width, depth):
    """The distance from a point to a rectangle by clipping it, at 2001 points of the segment.

    Between samples the distance changes by at most half a spacing, and no sample is nearer than the truth.
    """
    high = (low[0] + width, low[1] + depth)
    found = segment_to_rectangle(start, end, low, high)
    points = np.linspace(start, end, 2001)
    sampled = np.hypot(*(points - np.clip(points, low, high)).T).min()
    assert sampled - math.dist(start, end) / 4000.0 - 1e-9 <= found <= sampled + 1e-9


@given(POINT, POINT, POINT, SIZE, SIZE)
def test_a_segments_distance_does_not_depend_on_its_direction(start, end, low, width, depth):
    high = (low[0] + width, low[1] + depth)
    there, back = segment_to_rectangle(start, end, low, high), segment_to_rectangle(end, start, low, high)
    assert there == pytest.approx(back, abs=1e-9)


@given(POINT, SIZE, SIZE, POINT)
def test_the_margin_in_a_rectangle_is_the_least_of_four_distances(low, width, depth, point):
    high = (low[0] + width, low[1] + depth)
    corners = (low, (high[0], low[1]), high, (low[0], high[1]))
    expected = min(point[0] - low[0], high[0] - point[0], point[1] - low[1], high[1] - point[1])
    assert margin_in_polygon(corners, point) == pytest.approx(expected, abs=1e-6)


@given(st.lists(st.tuples(SIZE, POSITION), min_size=1, max_size=8))
def test_the_centroid_of_solid_parts_agrees_with_a_weighted_mean(parts):
    volume, middle = centroid(parts)
    weights, places = [part[0] for part in parts], [tuple(part[1]) for part in parts]
    assert volume == pytest.approx(sum(weights), rel=1e-12)
    assert tuple(middle) == pytest.approx(tuple(np.average(places, axis=0, weights=weights)), abs=1e-6)
