"""Stock, plate and tool lie where their data, the corner and the seed say, and nowhere else."""

import math
import random
import statistics

import pytest

from gingerly.geometry import Axis, Corner, Position
from gingerly.messages.commands import Question
from gingerly.plate import Bolt, Placement, Plate
from gingerly.stock import Stock
from gingerly.tool import Tool

PLACE = Position(100.0, 80.0, -40.0)
LIP_AND_RADIUS = 12.5875
"""A 61 mm plate with a 50 mm recess has an 11 mm lip; a 3.175 mm pin adds half its diameter."""


def contact(shop, start, to):
    return shop.adapter.true_contact(start, to)


def at(x=0.0, y=0.0, z=0.0, place=PLACE):
    return place.plus(Position(x, y, z))


@pytest.mark.parametrize("corner", list(Corner))
def test_a_pin_at_either_outer_lip_stands_lip_and_radius_outside_the_edge(open_shop, make_scene, corner):
    shop = open_shop(make_scene(corner=corner))
    x, y = corner.inward
    across_x = contact(shop, at(-30 * x, 20 * y), at(0, 20 * y))
    across_y = contact(shop, at(20 * x, -30 * y), at(20 * x, 0))
    assert across_x.x == pytest.approx(PLACE.x - LIP_AND_RADIUS * x, abs=1e-9)
    assert across_y.y == pytest.approx(PLACE.y - LIP_AND_RADIUS * y, abs=1e-9)


@pytest.mark.parametrize("corner", list(Corner))
def test_the_plate_covers_the_stock_side_of_the_corner_and_nothing_beyond_the_lips(open_shop, make_scene, corner):
    shop = open_shop(make_scene(corner=corner))
    x, y = corner.inward
    over_recess = contact(shop, at(48 * x, 48 * y, 20), at(48 * x, 48 * y, -5))
    over_stock = contact(shop, at(70 * x, 60 * y, 20), at(70 * x, 60 * y, -5))
    beside = contact(shop, at(-13 * x, 20 * y, 20), at(-13 * x, 20 * y, -5))
    assert over_recess.z == pytest.approx(PLACE.z + 6.0, abs=1e-9)
    assert over_stock.z == pytest.approx(PLACE.z, abs=1e-9)
    assert beside is None


@pytest.mark.parametrize("corner", list(Corner))
def test_unequal_lips_swap_between_x_and_y_from_corner_to_corner(open_shop, make_scene, corner):
    plate = Plate(name="p", size_a=60, size_b=62, height=10, recess_a=50, recess_b=50, recess_depth=4)
    shop = open_shop(make_scene(corner=corner, plate=plate))
    x, y = corner.inward
    found = contact(shop, at(-30 * x, 20 * y), at(0, 20 * y))
    assert found.x == pytest.approx(PLACE.x - x * (plate.axis_lip(corner, Axis.X) + 1.5875), abs=1e-9)


def test_bare_stock_is_met_at_the_tools_radius_from_its_own_edge(open_shop, make_scene):
    shop = open_shop(make_scene(plate=None))
    assert contact(shop, at(-30, 20, -5), at(0, 20, -5)).x == pytest.approx(PLACE.x - 1.5875, abs=1e-9)
    assert contact(shop, at(5, 5, 9), at(5, 5, -9)).z == pytest.approx(PLACE.z, abs=1e-9)
    assert contact(shop, at(130, 20, -5), at(90, 20, -5)).x == pytest.approx(PLACE.x + 101.5875, abs=1e-9)


@pytest.mark.parametrize("corner", list(Corner))
def test_the_far_edges_of_bare_stock_lie_a_whole_size_away_at_every_corner(open_shop, make_scene, corner):
    shop = open_shop(make_scene(plate=None, corner=corner))
    x, y = corner.inward
    far_x = contact(shop, at(130 * x, 20 * y, -5), at(90 * x, 20 * y, -5))
    far_y = contact(shop, at(20 * x, 110 * y, -5), at(20 * x, 70 * y, -5))
    assert far_x.x == pytest.approx(PLACE.x + 101.5875 * x, abs=1e-9)
    assert far_y.y == pytest.approx(PLACE.y + 81.5875 * y, abs=1e-9)


@pytest.mark.parametrize(("placement", "above"), [(Placement.FLAT, 10.0), (Placement.FLIPPED, 6.0)])
def test_a_plate_laid_on_top_is_touched_where_the_library_looks_for_it(open_shop, make_scene, placement, above):
    for corner in Corner:
        scene = make_scene(placement=placement, corner=corner)
        shop = open_shop(scene)
        window = scene.plate.spot_window(placement, corner, scene.tool, scene.stock)
        x, y = scene.plate.to_machine(corner, *window.middle(), placement)
        assert contact(shop, at(x, y, 20), at(x, y, -5)).z == pytest.approx(PLACE.z + above, abs=1e-9)


def test_the_lips_of_a_flipped_plate_stand_up_beside_its_floor(open_shop, make_scene):
    scene = make_scene(placement=Placement.FLIPPED)
    shop = open_shop(scene)
    x, y = scene.plate.to_machine(Corner.FRONT_LEFT, -5.0, 20.0, Placement.FLIPPED)
    assert contact(shop, at(x, y, 20), at(x, y, -5)).z == pytest.approx(PLACE.z + 10.0, abs=1e-9)


def test_stock_that_stands_too_little_proud_lifts_the_plate_onto_its_lips(open_shop, make_scene):
    thin = Stock(size_x=100.0, size_y=80.0, thickness=5.0, jaw_height=2.5)
    shop = open_shop(make_scene(stock=thin))
    assert contact(shop, at(20, 20, 20), at(20, 20, -5)).z == pytest.approx(PLACE.z + 6.0 + 1.5, abs=1e-9)


def test_a_bolt_on_the_plate_is_met_at_its_head_and_at_its_side(open_shop, make_scene):
    plate = Plate(
        name="p", size_a=61, size_b=61, height=10, recess_a=50, recess_b=50, recess_depth=4, bolt=Bolt(30, 10, 3, 8)
    )
    shop = open_shop(make_scene(plate=plate, corner=Corner.BACK_RIGHT))
    on_head = contact(shop, at(-30, -10, 40), at(-30, -10, 0))
    at_side = contact(shop, at(-10, -10, 9), at(-40, -10, 9))
    assert on_head.z == pytest.approx(PLACE.z + 14.0, abs=1e-9)
    assert at_side.x == pytest.approx(PLACE.x - 30.0 + 3.0 + 1.5875, abs=1e-9)


def test_skewed_stock_is_met_on_a_plane_turned_about_its_corner(open_shop, make_scene):
    """Source: the distance of a point from a line through the corner with the true skew, in closed form."""
    for corner in Corner:
        shop = open_shop(make_scene(plate=None, skew=0.02, corner=corner), seed=5)
        turned, x, y = shop.true_skew, *corner.inward
        assert turned != 0.0
        found = contact(shop, at(-30 * x, 20 * y, -5), at(10 * x, 20 * y, -5)).minus(shop.corner)
        outside = -x * (found.x * math.cos(turned) + found.y * math.sin(turned))
        assert outside == pytest.approx(1.5875, abs=1e-9)


def test_a_square_plate_at_a_skew_is_met_lip_and_radius_from_the_turned_edge(open_shop, make_scene):
    shop = open_shop(make_scene(skew=0.02), seed=6)
    found = contact(shop, at(20, -30), at(20, 5)).minus(shop.corner)
    outside = -(-found.x * math.sin(shop.true_skew) + found.y * math.cos(shop.true_skew))
    assert outside == pytest.approx(LIP_AND_RADIUS, abs=1e-9)


# ---- what is drawn --------------------------------------------------------------------------------------------


def test_truth_is_drawn_within_the_stated_limits_and_fills_them(open_shop, make_scene):
    shop, corners, skews = open_shop(seed=1), [], []
    for number in range(300):
        corners.append(shop.stage(make_scene(name=f"blank {number}", within=2.0, skew=0.01)).minus(PLACE))
        skews.append(shop.true_skew)
    for values, limit in ((list(axis), 2.0) for axis in zip(*corners, strict=True)):
        assert max(map(abs, values)) <= limit
        assert statistics.pstdev(values) == pytest.approx(limit / math.sqrt(3.0), rel=0.15)
    assert 0.009 < max(map(abs, skews)) <= 0.01


def test_the_same_blank_staged_again_lies_in_the_same_place_whatever_came_between(open_shop, make_scene):
    first = make_scene(name="first", within=2.0, skew=0.01)
    shop = open_shop(first, seed=3, ideal=False)
    before = shop.corner, shop.true_skew, contact(shop, at(-30, 20), at(5, 20))
    shop.stage(make_scene(name="second", within=2.0, skew=0.01))
    again = shop.stage(first), shop.true_skew, contact(shop, at(-30, 20), at(5, 20))
    assert again == before


def test_another_seed_puts_the_blank_elsewhere(open_shop, make_scene):
    scene = make_scene(within=2.0)
    assert open_shop(scene, seed=1).corner != open_shop(scene, seed=2).corner


def test_an_ideal_machine_differs_in_nothing_from_its_data(open_shop, make_scene):
    shop = open_shop(make_scene())
    assert shop.corner == PLACE
    assert contact(shop, at(-30, 20), at(0, 20)).x == pytest.approx(PLACE.x - LIP_AND_RADIUS, abs=1e-12)


def test_seating_gaps_keep_the_plate_off_the_edge_and_never_press_it_in(open_shop, make_scene):
    shop, gaps = open_shop(seating_gap=0.05), []
    for number in range(200):
        shop.stage(make_scene(name=f"blank {number}"))
        gaps.append(PLACE.x - LIP_AND_RADIUS - contact(shop, at(-30, 20), at(0, 20)).x)
    assert min(gaps) >= -1e-9
    assert 0.045 < max(gaps) <= 0.05 + 1e-9


def test_an_edges_form_moves_bare_stock_and_seated_plate_alike(open_shop, make_scene):
    shop = open_shop(edge_form=0.05, seed=2)
    with_plate = contact(shop, at(-30, 20), at(0, 20)).x + 11.0
    shop.stage(make_scene(plate=None))
    assert contact(shop, at(-30, 20, -5), at(0, 20, -5)).x == pytest.approx(with_plate, abs=1e-9)
    assert with_plate != pytest.approx(PLACE.x - 1.5875, abs=1e-4)


def test_runout_is_drawn_per_tool_not_per_touch_and_has_the_stated_amplitude(open_shop, make_scene):
    offsets = []
    for seed in range(60):
        shop = open_shop(runout=0.05, seed=seed)
        dx = contact(shop, at(-30, 20), at(0, 20)).x - (PLACE.x - LIP_AND_RADIUS)
        dy = contact(shop, at(20, -30), at(20, 0)).y - (PLACE.y - LIP_AND_RADIUS)
        assert math.hypot(dx, dy) == pytest.approx(0.05, abs=1e-9)
        assert contact(shop, at(-30, 20), at(0, 20)).x == contact(shop, at(-30, 20), at(0, 20)).x
        offsets.append(dx)
    assert statistics.pstdev(offsets) == pytest.approx(0.05 / math.sqrt(2.0), rel=0.2)


def test_a_later_tool_touches_as_much_higher_as_it_is_longer_than_the_first(open_shop, make_scene):
    shop = open_shop(tool_length_range=8.0, seed=4)
    first = contact(shop, at(20, 20, 30), at(20, 20, -20)).z
    longer = Tool.pin(6.0, free_length=20.0, name="another")
    corner = shop.stage(make_scene(tool=longer))
    length = corner.z - PLACE.z
    assert 0.0 < abs(length) <= 8.0
    assert contact(shop, at(20, 20, 30), at(20, 20, -20)).z - first == pytest.approx(length, abs=1e-9)
    assert shop.stage(make_scene()) == PLACE


def test_the_true_faces_are_those_of_the_true_corner(open_shop, make_scene):
    shop = open_shop(make_scene(within=3.0), seed=9)
    assert shop.true_faces == dict(zip(Axis, shop.corner, strict=True))


def test_a_cutter_turned_to_the_wall_touches_with_a_flute_and_falls_short_otherwise(open_shop, make_scene):
    cutter = Tool(name="cutter", diameter=6.35, free_length=20.0, flutes=2, helix=math.radians(30.0))
    dice, shortfalls = random.Random(1), []
    for _ in range(20):
        shop = open_shop(make_scene(tool=cutter), seed=dice.randint(0, 10**6))
        shop.go(at(-30, 20, 30), at(-30, 20, 2))
        shortfalls.append(contact(shop, at(-30, 20, 2), at(0, 20, 2)).x - (PLACE.x - 11.0 - 3.175))
        shop.ask(Question.TURN_FLUTE)
        touched = shop.sense(at(0, 20, 2), 25.0)
        assert touched.contact.x == pytest.approx(PLACE.x - 14.175, abs=0.003)
    assert max(shortfalls) > 0.3
    assert min(shortfalls) >= -1e-9
    assert max(shortfalls) <= cutter.flute_shortfall(4.0) + 1e-9
