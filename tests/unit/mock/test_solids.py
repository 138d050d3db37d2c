"""A moving tool meets a block exactly where independent geometry says it does.

The independent way: the tool's metal is sampled densely or described by a distance function, and scipy's root
finder, or tiny steps, look for the first place where it reaches the block. No Minkowski sum is involved.
"""

import itertools
import math
import random

import numpy as np
import pytest
from scipy.optimize import brentq

from gingerly.geometry import Position
from gingerly.tool import Tip, Tool
from gingerly_mock.profile import Profile
from gingerly_mock.solids import Block, covers, level_crossings, rounded_crossing, sink_depth, slanted_crossings

BLOCK = Block(0.0, 40.0, 0.0, 25.0, 0.0, 2)
PIN = Tool.pin(6.0, free_length=20.0)


def profile_of(tool, radius=None, **turned):
    return Profile(tool, true_radius=tool.radius if radius is None else radius, **turned)


def distance_to_block(a, b, block=BLOCK):
    """The distance of a point in the plane from the block, by clamping to it."""
    return math.hypot(a - np.clip(a, block.low_a, block.high_a), b - np.clip(b, block.low_b, block.high_b))


def first_meeting(gap, start, way, length, steps=4000):
    """The first place on a line where `gap` falls below zero: bracketed by small steps, found by Brent's method."""

    def at(distance):
        return gap(*(here + distance * along for here, along in zip(start, way, strict=True)))

    for low, high in itertools.pairwise(np.linspace(0.0, length, steps)):
        if at(low) > 0.0 >= at(high):
            return brentq(at, low, high, xtol=1e-13)
    return None


def pin_gap(a, b):
    """How far a pin of 3 mm radius is from the block."""
    return distance_to_block(a, b) - 3.0


def rays_at_the_block(count, seed):
    dice = random.Random(seed)
    for _ in range(count):
        towards = dice.uniform(0.0, 2.0 * math.pi)
        start = 20.0 + 60.0 * math.cos(towards), 12.0 + 60.0 * math.sin(towards)
        aim = dice.uniform(-6.0, 46.0), dice.uniform(-6.0, 31.0)
        span = math.dist(start, aim)
        yield start, ((aim[0] - start[0]) / span, (aim[1] - start[1]) / span)


@pytest.mark.thorough
def test_a_level_cylinder_meets_faces_and_rounded_corners_where_its_distance_equals_its_radius():
    hits = corners = 0
    for (a, b), (da, db) in rays_at_the_block(60, seed=1):
        expected = first_meeting(pin_gap, (a, b), (da, db), 120.0)
        found = rounded_crossing(BLOCK, a, b, da, db, (3.0, 3.0, 3.0, 3.0))
        assert (found is None) == (expected is None)
        if found is not None:
            hits += 1
            at = a + found[0] * da, b + found[0] * db
            corners += not (0.0 <= at[0] <= 40.0 or 0.0 <= at[1] <= 25.0)
            assert found[0] == pytest.approx(expected, abs=1e-9)
    assert hits > 40
    assert corners > 3


def test_a_cylinder_leaves_the_block_where_it_would_have_met_it_coming_back():
    for (a, b), (da, db) in rays_at_the_block(40, seed=2):
        there = rounded_crossing(BLOCK, a, b, da, db, (3.0, 3.0, 3.0, 3.0))
        back = rounded_crossing(BLOCK, a + 150 * da, b + 150 * db, -da, -db, (3.0, 3.0, 3.0, 3.0))
        assert (there is None) == (back is None)
        if there is not None and back is not None:
            assert there == pytest.approx((150.0 - back[1], 150.0 - back[0]), abs=1e-9)


def test_a_cylinder_grazing_a_face_within_float_noise_does_not_meet_it():
    assert rounded_crossing(BLOCK, -20.0, -3.0, 1.0, 0.0, (3.0, 3.0, 3.0, 3.0)) is None


def test_a_post_is_met_at_the_sum_of_both_radii():
    post = Block(5.0, 5.0, 7.0, 7.0, 0.0, 2, round_by=4.0)
    for angle in np.linspace(0.0, 2.0 * math.pi, 17):
        away = Position(math.cos(angle), math.sin(angle), 0.0)
        found = rounded_crossing(post, 5.0 + 30 * away.x, 7.0 + 30 * away.y, -away.x, -away.y, (3.0,) * 4)
        assert found is not None
        assert found[0] == pytest.approx(30.0 - 7.0, abs=1e-9)


def test_a_pin_smaller_than_a_relief_hole_passes_it_and_a_larger_one_does_not():
    plate = Block(-11.0, 50.0, -11.0, 50.0, 6.0, 2, hole=(0.0, 0.0, 3.0))
    for radius, free in ((2.0, True), (3.5, False)):
        thin = profile_of(Tool.pin(2 * radius, free_length=20.0))
        assert (sink_depth(plate, thin, 0.0, 0.0) is None) is free
        assert sink_depth(plate, thin, 20.0, 20.0) == 0.0


def test_a_pin_inside_a_relief_hole_meets_its_wall_after_the_play_between_them():
    plate = Block(-11.0, 50.0, -11.0, 50.0, 6.0, 2, hole=(0.0, 0.0, 3.0))
    thin = profile_of(Tool.pin(4.0, free_length=20.0))
    pieces = level_crossings(plate, thin, thin.reach(1.0), 0.0, 0.0, 0.6, 0.8)
    assert next(low for low, _ in pieces if low > 0.0) == pytest.approx(1.0, abs=1e-12)


def test_the_hollow_of_a_facing_cutter_swallows_a_bolt_that_fits_and_no_larger_one():
    cutter = profile_of(Tool(name="facer", diameter=40.0, free_length=30.0, tip=Tip.HOLLOW, edge_width=5.0))
    for radius, free in ((6.0, True), (15.5, False)):
        bolt = Block(0.0, 0.0, 0.0, 0.0, 8.0, 2, round_by=radius)
        assert (sink_depth(bolt, cutter, 0.0, 0.0) is None) is free


def test_a_bolt_inside_the_hollow_of_a_cutter_is_met_after_the_play_between_them():
    cutter = profile_of(Tool(name="facer", diameter=40.0, free_length=30.0, tip=Tip.HOLLOW, edge_width=5.0))
    bolt = Block(0.0, 0.0, 0.0, 0.0, 8.0, 2, round_by=6.0)
    pieces = level_crossings(bolt, cutter, cutter.reach(1.0), 0.0, 0.0, 0.6, 0.8)
    assert pieces == [pytest.approx((-26.0, -9.0)), pytest.approx((9.0, 26.0))]


def test_a_plate_wider_than_the_hollow_of_a_cutter_is_met_at_its_outside_only():
    cutter = profile_of(Tool(name="facer", diameter=40.0, free_length=30.0, tip=Tip.HOLLOW, edge_width=5.0))
    pieces = level_crossings(BLOCK, cutter, cutter.reach(1.0), -50.0, 12.0, 1.0, 0.0)
    assert pieces == [pytest.approx((30.0, 110.0))]


def test_a_line_that_passes_a_hole_meets_the_metal_all_the_same():
    plate = Block(-11.0, 50.0, -11.0, 50.0, 6.0, 2, hole=(0.0, 0.0, 3.0))
    thin = profile_of(Tool.pin(4.0, free_length=20.0))
    assert level_crossings(plate, thin, thin.reach(1.0), -30.0, 20.0, 1.0, 0.0) == [pytest.approx((17.0, 82.0))]


def test_a_hollow_cutter_over_the_middle_of_a_plate_touches_with_its_edge_at_once():
    cutter = profile_of(Tool(name="facer", diameter=40.0, free_length=30.0, tip=Tip.HOLLOW, edge_width=5.0))
    assert sink_depth(Block(-11.0, 50.0, -11.0, 50.0, 6.0, 2), cutter, 20.0, 20.0) == 0.0


def ball_gap(a, b, above, radius=3.0):
    """How far a ball tip (tip `above` mm over the top face) is from the block: cylinder over hemisphere."""
    centre = above + radius
    reach = distance_to_block(a, b)
    return math.hypot(reach, max(0.0, centre)) - radius if centre > 0.0 else reach - radius


def test_a_ball_sinks_beside_an_edge_until_the_sphere_touches_it():
    ball = profile_of(Tool(name="ball", diameter=6.0, free_length=20.0, tip=Tip.BALL))
    for beside in (0.0, 0.5, 1.7, 2.9):
        found = sink_depth(BLOCK, ball, -beside, 10.0)
        assert found == pytest.approx(3.0 - math.sqrt(9.0 - beside**2), abs=1e-8)


def test_a_ball_beside_a_corner_sinks_until_the_sphere_touches_the_corner():
    ball = profile_of(Tool(name="ball", diameter=6.0, free_length=20.0, tip=Tip.BALL))
    assert sink_depth(BLOCK, ball, -1.0, -2.0) == pytest.approx(3.0 - math.sqrt(9.0 - 5.0), abs=1e-8)


def test_a_ball_moving_level_touches_a_wall_with_what_it_has_at_that_depth():
    ball = profile_of(Tool(name="ball", diameter=6.0, free_length=20.0, tip=Tip.BALL))
    for depth in (0.4, 1.5, 3.0, 8.0):
        expected = first_meeting(ball_gap, (-10.0, 10.0, -depth), (1.0, 0.0, 0.0), 15.0)
        found = level_crossings(BLOCK, ball, ball.reach(depth), -10.0, 10.0, 1.0, 0.0)
        assert found[0][0] == pytest.approx(expected, abs=1e-9)


def test_a_ball_on_a_slant_meets_the_block_within_two_micrometres_of_the_sphere():
    ball = profile_of(Tool(name="ball", diameter=6.0, free_length=20.0, tip=Tip.BALL))
    dice = random.Random(3)
    for _ in range(6):
        a, b, above = -12.0, dice.uniform(-6.0, 20.0), dice.uniform(1.0, 5.0)
        way = Position(1.0, dice.uniform(-0.3, 0.3), -dice.uniform(0.2, 1.0)).unit()
        expected = first_meeting(ball_gap, (a, b, above), way, 20.0)
        found = slanted_crossings(BLOCK, ball, a, b, above, way.x, way.y, way.z)
        if expected is not None:
            assert found[0][0] == pytest.approx(expected, abs=0.002 / abs(way.z))


def test_a_v_tip_sinks_beside_an_edge_by_the_gap_over_the_tangent_of_half_its_angle():
    engraver = profile_of(Tool(name="v", diameter=6.0, free_length=20.0, tip=Tip.V, v_angle=math.radians(60.0)))
    for beside in (0.5, 1.3, 2.9):
        found = sink_depth(BLOCK, engraver, 20.0, 25.0 + beside)
        assert found == pytest.approx(beside / math.tan(math.radians(30.0)), abs=1e-8)


def test_a_pin_on_a_slant_meets_the_top_or_the_side_whichever_comes_first():
    thin = profile_of(PIN)
    down = Position(1.0, 0.0, -1.0).unit()
    onto_top = slanted_crossings(BLOCK, thin, 5.0, 10.0, 2.0, down.x, down.y, down.z)
    into_side = slanted_crossings(BLOCK, thin, -10.0, 10.0, 2.0, down.x, down.y, down.z)
    assert onto_top[0][0] == pytest.approx(2.0 * math.sqrt(2.0), abs=1e-12)
    assert into_side[0][0] == pytest.approx(7.0 * math.sqrt(2.0), abs=1e-12)


def test_clip_and_nut_touch_where_they_are_wider_than_the_tool():
    clipped = profile_of(
        Tool(name="pin", diameter=6.0, free_length=20.0, clip_height=8.0, clip_radius=10.0, nut_height=30.0)
    )
    assert [clipped.reach(depth)[0] for depth in (7.9, 8.1, 29.9, 30.1)] == [3.0, 10.0, 10.0, 15.0]
    assert sink_depth(BLOCK, clipped, -9.0, 10.0) == 8.0


def test_a_thick_shank_stands_out_over_a_thin_cutter():
    stepped = profile_of(Tool(name="cutter", diameter=2.0, free_length=6.0, shank=6.0))
    found = slanted_crossings(BLOCK, stepped, -2.0, 10.0, 1.0, 0.0, 1e-9, -1.0)
    assert found[0][0] == pytest.approx(7.0, abs=1e-6)
    assert sink_depth(BLOCK, stepped, -2.0, 10.0) == 6.0


def test_covering_and_crossing_agree_about_every_place():
    """Two ways through the code to the same answer: a point is covered if and only if a crossing holds it."""
    dice, thin = random.Random(4), profile_of(PIN)
    for _ in range(300):
        a, b = dice.uniform(-8.0, 48.0), dice.uniform(-8.0, 33.0)
        pieces = level_crossings(BLOCK, thin, thin.reach(1.0), a, b, 0.8, 0.6)
        assert covers(BLOCK, thin, a, b, 1.0) == any(low < 0.0 < high for low, high in pieces)
