"""The touch plate: lips that swap, metal under the tool, where to touch it, and whether it stays put."""

import math
from dataclasses import replace

import pytest

from gingerly.geometry import Axis, Corner
from gingerly.plate import MARGIN, Bolt, Placement, Plate, SpotWindow
from gingerly.stock import Stock
from gingerly.tool import Tip, Tool

SIZES = {"name": "corner plate", "size_a": 64, "size_b": 60, "height": 10, "recess_a": 50, "recess_b": 48}
SIZES["recess_depth"] = 5
STOCK = Stock(size_x=120, size_y=100, thickness=20, jaw_height=10)
PIN = Tool.pin(6, free_length=20)
SEATED, FLAT, FLIPPED = Placement.SEATED, Placement.FLAT, Placement.FLIPPED
LEFT, RIGHT = Corner.FRONT_LEFT, Corner.FRONT_RIGHT


def plate(**changes):
    """Return a plate with a lip A of 14 mm, a lip B of 12 mm and 5 mm under the tool, with some changes."""
    return Plate(**SIZES | changes)


# ---- sizes ------------------------------------------------------------------------------------------------


def test_top_and_lips_follow_from_the_other_sizes():
    assert (plate().top, plate().lip_a, plate().lip_b) == (5, 14, 12)
    narrow = plate(recess_a=30, recess_b=20)
    assert (narrow.lip_a, narrow.lip_b) == (34, 40)


def test_measured_thicknesses_take_the_place_of_those_that_follow():
    measured = plate(top=5.013, lip_a=13.98, lip_b="12.02 mm")
    assert (measured.top, measured.lip_a, measured.lip_b) == (5.013, 13.98, 12.02)


def test_a_measured_thickness_far_from_what_is_left_is_refused_with_both_numbers():
    with pytest.raises(ValueError, match=r"plate lip_a is given as 12 mm, but its other sizes leave 14 mm"):
        plate(lip_a=12)


def test_a_measured_thickness_may_differ_by_half_a_millimetre_and_no_more():
    assert plate(lip_a=14.5).lip_a == 14.5
    with pytest.raises(ValueError, match=r"must agree within 0\.5 mm"):
        plate(lip_a=14.501)


@pytest.mark.parametrize(
    "sizes",
    [
        {"relief_radius": 11.9},
        {"size_a": 92, "relief_radius": 11.9},
        {"size_b": 90, "relief_radius": 13.9},
        {"size_a": 92, "size_b": 90, "recess_a": 10, "recess_b": 12, "relief_radius": 9.9},
        {"size_a": 92, "size_b": 90, "recess_a": 12, "recess_b": 10, "relief_radius": 9.9},
    ],
)
def test_a_relief_stays_within_the_narrower_of_lips_and_recess(sizes):
    """A tenth of a millimetre less than the narrowest is taken, as much as the narrowest is refused."""
    assert plate(**sizes).relief_radius == sizes["relief_radius"]
    narrowest = round(sizes["relief_radius"] + 0.1, 3)
    with pytest.raises(ValueError, match=rf"^plate relief_radius .*\({narrowest:g} mm at the narrowest\)"):
        plate(**sizes | {"relief_radius": narrowest})


def test_a_plate_with_no_broken_edge_and_no_relief_is_one_too():
    assert plate(chamfer=0, relief_radius=0).chamfer == 0


def test_a_broken_edge_may_take_most_of_the_metal_over_the_recess():
    assert plate(chamfer=4.9).chamfer == 4.9


def test_a_plate_may_be_lighter_than_water():
    """A foil on foam conducts as well; only nothing, or less, is no density."""
    assert plate(density=0.4).density == 0.4


@pytest.mark.parametrize("where", [(-14, -12), (-14, 48), (50, -12), (50, 48)])
def test_a_bolt_may_stand_as_far_out_as_the_block_reaches(where):
    assert plate(bolt=Bolt(*where, 2, 3)).bolt.radius == 2


@pytest.mark.parametrize("where", [(-14.1, 0), (50.1, 0), (0, -12.1), (0, 48.1)])
def test_a_bolt_beyond_any_side_of_the_block_is_refused(where):
    with pytest.raises(ValueError, match="does not stand on the plate"):
        plate(bolt=Bolt(*where, 2, 3))


def test_a_plate_is_described_by_name_alone():
    """Ten lengths in a row would be told apart by their places; a slip there is a wrong face."""
    with pytest.raises(TypeError):
        Plate("corner plate", *range(60, 54, -1))


def test_sizes_given_as_text_are_kept_in_millimetres():
    assert plate(size_a="2 1/2 in").lip_a == pytest.approx(13.5)


@pytest.mark.parametrize("name", ["size_a", "size_b", "height", "recess_a", "recess_b", "recess_depth"])
@pytest.mark.parametrize("value", [0, -1, math.nan, float("nan"), math.inf, "thick", None])
def test_a_size_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"^plate {name} "):
        plate(**{name: value})


@pytest.mark.parametrize("name", ["top", "lip_a", "lip_b"])
@pytest.mark.parametrize("value", [0, 0.0, -5, math.nan, float("nan"), math.inf, None])
def test_a_measured_thickness_is_never_nothing(name, value):
    with pytest.raises(ValueError, match=f"^plate {name} "):
        plate(**{name: value})


@pytest.mark.parametrize(
    "wrong",
    [
        {"density": 0},
        {"density": -2.7},
        {"density": math.nan},
        {"density": "2.7"},
        {"chamfer": -0.1},
        {"chamfer": 5},
        {"chamfer": 5.5},
        {"chamfer": math.inf},
        {"relief_radius": -1},
        {"relief_radius": 12},
        {"relief_radius": 12.5},
        {"relief_radius": math.nan},
    ],
)
def test_a_detail_that_cannot_be_is_refused_by_name(wrong):
    with pytest.raises(ValueError, match=f"^plate {next(iter(wrong))} "):
        plate(**wrong)


@pytest.mark.parametrize(
    ("whole", "part"), [("size_a", "recess_a"), ("size_b", "recess_b"), ("height", "recess_depth")]
)
@pytest.mark.parametrize("larger", [0, 1])
def test_a_recess_as_large_as_the_block_or_larger_is_refused(whole, part, larger):
    with pytest.raises(ValueError, match=rf"plate {part} \(.* mm\) must be smaller than {whole} \("):
        plate(**{part: SIZES[whole] + larger})


@pytest.mark.parametrize("wrong", [{"radius": 0}, {"height": -1}, {"a": math.nan}, {"b": math.inf}])
def test_a_bolt_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"^bolt "):
        Bolt(**{"a": -5, "b": -5, "radius": 2, "height": 3} | wrong)


def test_a_bolt_beside_the_plate_is_refused():
    with pytest.raises(ValueError, match=r"bolt at \(-15, 0\) mm does not stand on the plate"):
        plate(bolt=Bolt(-15, 0, 2, 3))


def test_a_plate_cannot_be_changed_once_made():
    for made in (plate(), Bolt(-5, -5, 2, 3), SpotWindow(0, 10, 0, 10)):
        with pytest.raises(AttributeError):
            setattr(made, next(iter(made.__slots__)), 4.0)


# ---- orientation ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("corner", "across_x", "across_y"),
    [(LEFT, 14, 12), (RIGHT, 12, 14), (Corner.BACK_RIGHT, 14, 12), (Corner.BACK_LEFT, 12, 14)],
)
def test_the_lips_swap_between_x_and_y_from_corner_to_corner(corner, across_x, across_y):
    assert (plate().axis_lip(corner, Axis.X), plate().axis_lip(corner, Axis.Y)) == (across_x, across_y)


def test_no_lip_lies_across_z():
    with pytest.raises(ValueError, match="X or Y"):
        plate().axis_lip(LEFT, Axis.Z)


@pytest.mark.parametrize(
    ("corner", "across_x", "across_y"),
    [(LEFT, 48, 50), (RIGHT, 50, 48), (Corner.BACK_RIGHT, 48, 50), (Corner.BACK_LEFT, 50, 48)],
)
def test_the_wall_across_one_axis_is_as_long_as_the_recess_along_the_other(corner, across_x, across_y):
    assert (plate().wall_length(corner, Axis.X), plate().wall_length(corner, Axis.Y)) == (across_x, across_y)


def test_no_wall_lies_across_z():
    with pytest.raises(ValueError, match="X or Y"):
        plate().wall_length(LEFT, Axis.Z)


@pytest.mark.parametrize(("placement", "back"), [(SEATED, (3, 5)), (FLAT, (3 - 14, 5 - 12)), (FLIPPED, (-9, -9))])
def test_a_place_on_the_machine_is_told_in_the_plates_own_coordinates(placement, back):
    """At the front left corner a lies along X; flat, the block's corner is at the stock's; flipped, a and b swap."""
    assert plate().from_machine(LEFT, 3, 5, placement) == back


@pytest.mark.parametrize("corner", Corner)
def test_a_seated_plate_extends_into_the_stock_from_every_corner(corner):
    x, y = plate().to_machine(corner, 20, 10)
    assert (math.copysign(1, x), math.copysign(1, y)) == corner.inward


def test_at_the_front_right_corner_the_stock_lies_to_the_left():
    """A quarter further on, a leads along Y and b along −X, so 5 mm to the left of the corner is b = 5."""
    assert plate().from_machine(RIGHT, -5, 3) == (3, 5)


def test_a_plate_laid_flat_has_its_outer_corner_on_the_stocks_corner():
    assert plate().to_machine(LEFT, -14, -12, FLAT) == (0, 0)
    assert plate().to_machine(RIGHT, -14, -12, FLAT) == (0, 0)


def test_a_flipped_plate_is_turned_over_about_its_diagonal():
    """Lip A, along x before, then stands along y: its width of 14 mm is found in the other direction."""
    assert plate().to_machine(LEFT, 0, -12, FLIPPED) == (0, 14)
    assert plate().to_machine(LEFT, -14, 0, FLIPPED) == (12, 0)


# ---- compensation -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("placement", "thickness"), [(SEATED, 5.02), (FLAT, 10), (FLIPPED, 5.02)])
def test_each_placement_has_its_own_thickness_under_the_tool(placement, thickness):
    assert plate(top=5.02).compensation(placement, LEFT, Axis.Z) == thickness


def test_a_seated_plate_compensates_each_wall_by_its_own_lip():
    assert plate().compensation(SEATED, RIGHT, Axis.X) == 12


@pytest.mark.parametrize("placement", [FLAT, FLIPPED])
@pytest.mark.parametrize("axis", [Axis.X, Axis.Y])
def test_a_plate_laid_on_top_has_no_lip_beside_the_stock(placement, axis):
    with pytest.raises(ValueError, match=f"laid {placement.value} has no lip"):
        plate().compensation(placement, LEFT, axis)


@pytest.mark.parametrize("placement", [FLAT, FLIPPED])
def test_the_metal_under_the_tool_needs_no_lip(placement):
    assert plate().compensation(placement, RIGHT, Axis.Z) == plate().thickness(placement)


def test_a_bolt_is_the_highest_thing_on_the_plate():
    assert (plate().highest, plate(bolt=Bolt(-5, -5, 2, 3)).highest) == (0, 3)


# ---- where to touch the flat ------------------------------------------------------------------------------


def test_seated_the_pin_keeps_its_radius_and_a_millimetre_from_lip_and_edge():
    """From 0 + 3 + 1 at the lips to 50 (or 48) − 0.5 of broken edge − 3 − 1 at the far edges."""
    window = plate().spot_window(SEATED, LEFT, PIN, STOCK)
    assert (window.low_a, window.high_a, window.low_b, window.high_b) == pytest.approx((4, 45.5, 4, 43.5))


def test_flat_the_whole_block_but_its_broken_edge_may_be_touched():
    """From −14 (−12) to 50 (48), less 0.5 of broken edge, 3 of radius and 1 of margin on all four sides."""
    window = plate().spot_window(FLAT, LEFT, PIN, STOCK)
    assert (window.low_a, window.high_a, window.low_b, window.high_b) == pytest.approx((-9.5, 45.5, -7.5, 43.5))


def test_flipped_the_floor_of_the_recess_is_touched_up_to_its_open_ends():
    """From the lips' 0 + 3 + 1 to 50 (48) − 3 − 1; nothing is broken there."""
    window = plate().spot_window(FLIPPED, LEFT, PIN, STOCK)
    assert (window.low_a, window.high_a, window.low_b, window.high_b) == pytest.approx((4, 46, 4, 44))


@pytest.mark.parametrize(
    ("corner", "along_a", "along_b"), [(LEFT, 32, 50), (RIGHT, 50, 32), (Corner.BACK_LEFT, 50, 32)]
)
def test_flipped_the_stock_bounds_the_window_from_the_blocks_corner_on(corner, along_a, along_b):
    """Turned over, a lies along Y at the front left; stock counts from −14 and −12, less radius and margin."""
    window = plate().spot_window(FLIPPED, corner, PIN, replace(STOCK, size_x=50, size_y=32))
    assert (window.high_a, window.high_b) == pytest.approx((along_a - 14 - 4, along_b - 12 - 4))


def test_one_side_alone_of_what_a_plate_rests_on_runs_slantwise():
    """The sides along the axes are the window's own; on its lips only the line between their ends is not."""
    counts = [len(plate().spot_window(placement, LEFT, PIN, STOCK).slants) for placement in (SEATED, FLAT, FLIPPED)]
    assert counts == [0, 1, 0]


@pytest.mark.parametrize(("corner", "high_a", "high_b"), [(LEFT, 26, 16), (RIGHT, 16, 26)])
def test_stock_smaller_than_the_recess_bounds_the_window_and_swaps_with_the_corner(corner, high_a, high_b):
    window = plate().spot_window(SEATED, corner, PIN, replace(STOCK, size_x=30, size_y=20))
    assert (window.high_a, window.high_b) == pytest.approx((high_a, high_b))


def test_a_through_relief_hole_is_kept_clear_of():
    """At the hole's radius 4, the pin's 3 and the margin 1 from the stock's corner, the window begins."""
    window = plate(relief_radius=4, relief_through=True).spot_window(SEATED, LEFT, PIN, STOCK)
    assert window.margin(8 * math.cos(0.7), 8 * math.sin(0.7)) == pytest.approx(0.0, abs=1e-9)


def test_a_through_hole_of_a_drills_width_is_kept_clear_of_too():
    hole = plate(relief_radius=0.75, relief_through=True).spot_window(SEATED, LEFT, PIN, STOCK).discs
    assert hole == ((0.0, 0.0, 0.75 + 3 + MARGIN),)


def test_a_relief_that_does_not_come_through_takes_nothing_from_the_flat():
    for blind in ({"relief_radius": 4}, {"relief_through": True}, {}):
        assert plate(**blind).spot_window(SEATED, LEFT, PIN, STOCK).discs == ()


def test_the_bolt_is_kept_clear_of_by_whatever_of_the_tool_passes_it():
    """A clip 8 mm out, 3.5 mm up, passes within a millimetre of a bolt 3 mm high, not of one 2 mm high."""
    clamped = Tool(name="pin", diameter=6, free_length=20, clip_height=3.5)
    kept = [
        plate(bolt=Bolt(25, 25, 2, height)).spot_window(SEATED, LEFT, clamped, STOCK).discs[0][2]
        for height in (2, 3)
    ]
    assert kept == [2 + 3 + MARGIN, 2 + 8 + MARGIN]


def test_flipped_neither_the_bolt_below_nor_a_blind_relief_is_in_the_way():
    below = plate(bolt=Bolt(25, 25, 2, 3), relief_radius=4, relief_through=True)
    assert below.spot_window(FLIPPED, LEFT, PIN, STOCK).discs == ((0.0, 0.0, 4 + 3 + MARGIN),)


def test_flat_on_its_lips_the_far_corner_is_not_touched_since_nothing_is_under_it():
    """The hull of the lips ends on the line from (50, 0) to (0, 48); its middle is (25, 24)."""
    window = plate().spot_window(FLAT, LEFT, PIN, STOCK)
    assert window.margin(25, 24) == pytest.approx(-(3 + MARGIN))
    inside = (48 * 50 - 48 * 20 - 50 * 19) / math.hypot(48, 50)
    assert window.margin(20, 19) == pytest.approx(inside - 3 - MARGIN)
    assert window.margin(40, 40) < 0


def test_flat_the_lips_themselves_may_be_touched():
    assert plate().spot_window(FLAT, LEFT, PIN, STOCK).margin(-7, -6) == pytest.approx(1.5)


def test_flipped_the_lips_stand_up_and_whatever_passes_them_keeps_clear():
    clamped = Tool(name="pin", diameter=6, free_length=20, clip_height=5.5)
    window = plate().spot_window(FLIPPED, LEFT, clamped, STOCK)
    assert (window.low_a, window.high_a) == pytest.approx((8 + MARGIN, 50 - 3 - MARGIN))


def test_a_tool_wider_than_the_flat_finds_no_place():
    window = plate().spot_window(
        SEATED, LEFT, Tool(name="cutter", diameter=50, free_length=20, tip=Tip.HOLLOW), STOCK
    )
    assert window.margin(*window.middle()) < 0


def test_a_place_is_as_deep_inside_as_the_nearest_limit_is_far():
    """Sides, discs and slants alike: (5, 3) is 3 mm from a side, 2 mm off a disc at (2, 3), 3.5 mm from a slant."""
    disc, slant = (2.0, 3.0, 1.0), (0.6, 0.8, 8.9)
    assert SpotWindow(0, 10, 0, 10).margin(5, 3) == 3
    assert SpotWindow(0, 10, 0, 10, (disc,)).margin(5, 3) == pytest.approx(2)
    assert SpotWindow(0, 10, 0, 10, (disc,)).margin(2, 3) == pytest.approx(-1)
    assert SpotWindow(0, 20, -9, 20, (), (slant,)).margin(5, 3) == pytest.approx(3.5)


def test_the_middle_of_a_plain_window_is_its_centre():
    assert SpotWindow(0, 10, 0, 10).middle() == pytest.approx((5, 5))
    assert SpotWindow(2, 12, 3, 13).middle() == pytest.approx((7, 8))


def test_the_middle_is_looked_for_up_to_the_last_corner_and_not_beyond():
    """A disc about one corner that reaches past the opposite one leaves that as the least bad place."""
    assert SpotWindow(0, 10, 0, 10, ((0, 0, 20),)).middle() == pytest.approx((10, 10))


def test_the_middle_is_the_deepest_place_off_the_discs():
    """A disc about one corner pushes the deepest place towards the opposite one."""
    a, b = SpotWindow(0, 10, 0, 10, ((0, 0, 9),)).middle()
    assert (a, b) == pytest.approx((7.5, 7.5), abs=0.5)


# ---- does it stay? ----------------------------------------------------------------------------------------


def test_mass_and_centroid_are_those_of_the_block_less_the_recess():
    """By hand: 63·61·9 − 49·47·5 = 23072 mm³; their middles lie at (17.5, 16.5, −0.5) and (24.5, 23.5, −2.5) mm."""
    odd = plate(size_a=63, size_b=61, height=9, recess_a=49, recess_b=47)
    mass, middle = odd.mass_and_centroid()
    assert mass == pytest.approx(23072 * 2.7e-3)
    assert middle == pytest.approx(
        (
            (34587 * 17.5 - 11515 * 24.5) / 23072,
            (34587 * 16.5 - 11515 * 23.5) / 23072,
            (11515 * 2.5 - 34587 * 0.5) / 23072,
        )
    )


@pytest.mark.parametrize("radius", [1.0, 6.0])
@pytest.mark.parametrize("through", [False, True])
def test_a_relief_takes_three_quarters_of_a_cylinder_from_the_lips_and_a_whole_one_from_the_top(through, radius):
    """The centroid of a quarter disc of radius r lies 4r/(3π) from its sides (common handbook value)."""
    whole, aside = plate(size_b=62), 4 * radius / (3 * math.pi)
    quarter = radius**2 * math.pi / 4 * 5
    taken = [(quarter, -aside, aside, -2.5), (quarter, aside, -aside, -2.5), (quarter, -aside, -aside, -2.5)]
    taken += [(4 * quarter, 0.0, 0.0, 2.5)] * through
    mass, middle = plate(size_b=62, relief_radius=radius, relief_through=through).mass_and_centroid()
    left = 27680 - sum(part[0] for part in taken)
    assert mass == pytest.approx(left * 2.7e-3)
    for index, before in enumerate(whole.mass_and_centroid()[1]):
        moment = before * 27680 - sum(part[0] * part[index + 1] for part in taken)
        assert middle[index] == pytest.approx(moment / left)


def test_a_bolts_own_middle_counts_halfway_up_from_the_top():
    """A bolt of π·9·7 mm³ of steel, its middle 5 + 3.5 mm above the stock's top face."""
    body, block = math.pi * 9 * 7 * 7.85e-3, plate().mass_and_centroid()
    mass, middle = plate(bolt=Bolt(-7, 20, 3, 7)).mass_and_centroid()
    weighed = [(block[0] * block[1][index] + body * place) / mass for index, place in enumerate((-7.0, 20.0, 8.5))]
    assert middle == pytest.approx(weighed)


def test_a_bolt_on_the_lip_pulls_the_centroid_towards_it():
    bolted = plate(bolt=Bolt(-7, 20, 3, 8))
    assert bolted.mass_and_centroid()[1].x < plate().mass_and_centroid()[1].x
    assert bolted.mass_and_centroid()[0] - plate().mass_and_centroid()[0] == pytest.approx(
        math.pi * 9 * 8 * 7.85e-3, rel=1e-12
    )


def test_seated_at_the_edge_the_margin_is_the_centroids_distance_from_that_edge():
    middle = plate().mass_and_centroid()[1]
    assert plate().stability(SEATED, LEFT, STOCK) == pytest.approx(min(middle.x, middle.y))


def test_narrow_stock_carries_a_seated_plate_less_well():
    middle = plate().mass_and_centroid()[1]
    narrow = replace(STOCK, size_x=middle.x + 2.0)
    assert plate().stability(SEATED, LEFT, narrow) == pytest.approx(2.0)


def test_stock_that_ends_before_the_centroid_lets_the_plate_tip():
    middle = plate().mass_and_centroid()[1]
    assert plate().stability(SEATED, LEFT, replace(STOCK, size_x=middle.x - 1.5)) == pytest.approx(-1.5)


def test_flat_on_its_lips_the_margin_is_to_the_line_between_their_ends():
    middle = plate().mass_and_centroid()[1]
    beyond = (48 * 50 - 48 * middle.x - 50 * middle.y) / math.hypot(48, 50)
    assert plate().stability(FLAT, LEFT, STOCK) == pytest.approx(beyond)


def test_stock_narrower_than_one_lip_carries_a_flat_plate_on_that_lip_alone():
    margin = plate().stability(FLAT, LEFT, Stock(size_x=10, size_y=10, thickness=20))
    assert margin < 0


def test_a_flipped_plate_rests_on_its_whole_block():
    middle = plate().mass_and_centroid()[1]
    expected = min(middle.x + 14, 50 - middle.x, middle.y + 12, 48 - middle.y)
    assert plate().stability(FLIPPED, LEFT, STOCK) == pytest.approx(expected)


# ---- objections -------------------------------------------------------------------------------------------


def test_what_just_suffices_meets_no_objection():
    """Half a millimetre free below the lips, and the centroid, (19, 22) mm by hand, a millimetre from the edge."""
    exact = Plate(name="exact", size_a=54, size_b=60, height=10, recess_a=48, recess_b=54, recess_depth=5)
    exact = replace(exact, density=1000.0)
    just = Stock(size_x=20, size_y=100, thickness=20, jaw_height=14.5)
    assert exact.stability(SEATED, LEFT, just) == MARGIN
    assert exact.objections(SEATED, LEFT, just) == ()


@pytest.mark.parametrize("placement", [FLAT, FLIPPED])
def test_only_a_seated_plate_needs_room_below_its_lips(placement):
    assert plate().objections(placement, LEFT, replace(STOCK, jaw_height=18)) == ()


@pytest.mark.parametrize("placement", Placement)
def test_a_good_plate_on_good_stock_meets_no_objection(placement):
    assert plate().objections(placement, LEFT, STOCK) == ()


@pytest.mark.parametrize("stock", [replace(STOCK, jaw_height=15), replace(STOCK, thickness=5, jaw_height=0)])
def test_lips_that_would_stand_on_jaw_or_bed_are_objected_to_with_what_is_missing(stock):
    (objection,) = plate().objections(SEATED, LEFT, stock)
    assert "proud" in objection
    assert ": 0.500 mm too little" in objection


def test_a_flipped_plate_never_stands_on_its_bolt():
    (objection,) = plate(bolt=Bolt(20, 20, 2, 3)).objections(FLIPPED, LEFT, STOCK)
    assert objection == "flipped it would stand on its bolt, 3.000 mm high"


def test_a_plate_that_tips_is_objected_to_with_what_is_missing():
    (objection,) = plate().objections(SEATED, LEFT, replace(STOCK, size_x=10))
    middle = plate().mass_and_centroid()[1]
    assert f"({MARGIN - (10 - middle.x):.3f} mm too little: it would tip)" in objection


def test_every_objection_is_named_not_only_the_first():
    assert len(plate().objections(SEATED, LEFT, Stock(size_x=10, size_y=100, thickness=5))) == 2
