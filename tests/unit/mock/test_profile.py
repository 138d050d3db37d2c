"""A standing cutter touches with whatever flute happens to be there; the library's worst case bounds it."""

import itertools
import math
import random

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from gingerly.tool import Tool
from gingerly_mock.profile import Profile

CUTTER = Tool(name="cutter", diameter=6.35, free_length=20.0, flutes=2, helix=math.radians(30.0), core=0.6)


def shortfall(tool, depth, flute_rad, side_rad=0.0):
    profile = Profile(tool, true_radius=tool.radius, flute_rad=flute_rad, sides_rad=(side_rad,) * 4)
    return tool.radius - profile.reach(depth)[0]


def edge_points_reach(tool, depth, flute_rad, side_rad):
    """The farthest point towards a wall of all edges up to `depth`, or of the core: the plain definition."""
    heights = np.linspace(0.0, depth, 20001)
    best = tool.core * tool.radius
    for flute in range(tool.flutes):
        angles = flute_rad + 2 * math.pi * flute / tool.flutes + heights * math.tan(tool.helix) / tool.radius
        best = max(best, float(np.max(tool.radius * np.cos(angles - side_rad))))
    return best


def test_the_reach_is_that_of_the_farthest_point_on_any_edge():
    dice = random.Random(5)
    for _ in range(60):
        depth, flute, side = dice.uniform(0.2, 9.0), dice.uniform(0.0, 7.0), dice.uniform(-4.0, 4.0)
        tool = Tool(
            name="c", diameter=6.0, free_length=20.0, flutes=dice.randint(1, 4), helix=dice.uniform(0.1, 0.9)
        )
        profile = Profile(tool, true_radius=3.0, flute_rad=flute, sides_rad=(side,) * 4)
        assert profile.reach(depth)[0] == pytest.approx(edge_points_reach(tool, depth, flute, side), abs=1e-6)


@pytest.mark.parametrize("depth", [1.0, 4.0, 8.0, 17.0, 18.0])
def test_the_worst_phase_of_all_falls_short_by_what_the_library_reckons_with(depth):
    near = max(np.linspace(0.0, math.pi, 361), key=lambda phase: shortfall(CUTTER, depth, phase))
    found = minimize_scalar(
        lambda phase: -shortfall(CUTTER, depth, phase), bounds=(near - 0.01, near + 0.01), method="bounded"
    )
    assert -found.fun == pytest.approx(CUTTER.flute_shortfall(depth), abs=2e-5)


def test_a_flute_that_faces_the_wall_reads_no_shortfall():
    assert shortfall(CUTTER, 4.0, flute_rad=0.7, side_rad=0.7) == pytest.approx(0.0, abs=1e-12)


def test_beyond_full_cover_the_phase_does_not_matter():
    for phase in np.linspace(0.0, math.pi, 50):
        assert shortfall(CUTTER, CUTTER.flute_cover + 0.01, phase) == pytest.approx(0.0, abs=1e-12)


def test_the_four_walls_are_asked_in_the_order_left_right_front_back():
    straight = Tool(name="straight", diameter=6.0, free_length=20.0, flutes=1, helix=0.0)
    left, right, front, back = Profile(straight, true_radius=3.0, flute_rad=0.0).reach(5.0)
    assert left == pytest.approx(3.0)
    assert (right, front, back) == pytest.approx((1.8, 1.8, 1.8))


def test_a_plain_pin_is_as_wide_as_its_true_radius_at_every_depth():
    profile = Profile(Tool.pin(3.175, free_length=20.0), true_radius=1.59)
    assert {profile.reach(depth) for depth in (0.001, 5.0, 19.9, 40.0)} == {(1.59, 1.59, 1.59, 1.59)}


def test_the_tool_is_never_wider_than_its_widest_and_never_narrower_with_height():
    tool = Tool(name="c", diameter=6.0, free_length=9.0, flutes=3, helix=0.4, shank=8.0, clip_height=15.0)
    profile = Profile(tool, true_radius=3.0, flute_rad=1.0)
    reaches = [profile.reach(depth) for depth in np.linspace(0.001, 30.0, 500)]
    for before, after in itertools.pairwise(reaches):
        assert all(one <= other + 1e-12 for one, other in zip(before, after, strict=True))
    assert max(reaches[-1]) == profile.widest == 8.0
