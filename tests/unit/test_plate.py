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


def test_measured_thicknesses_take_the_place_of_those_that_follow():
    measured = plate(top=5.013, lip_a=13.98, lip_b="12.02 mm")
    assert (measured.top, measured.lip_a, measured.lip_b) == (5.013, 13.98, 12.02)


def test_a_measured_thickness_far_from_what_is_left_is_refused_with_both_numbers():
    with pytest.raises(ValueError, match=r"plate lip_a is given as 12 mm, but its other sizes leave 14 mm"):
        plate(lip_a=12)


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
        {"density": math.nan},
        {"density": "2.7"},
        {"chamfer": -0.1},
        {"chamfer": 5},
        {"chamfer": math.inf},
        {"relief_radius": -1},
        {"relief_radius": 12},
        {"relief_radius": math.nan},
    ],
)
def test_a_detail_that_cannot_be_is_refused_by_name(wrong):
    with pytest.raises(ValueError, match=f"^plate {next(iter(wrong))} "):
        plate(**wrong)


@pytest.mark.parametrize(
    ("whole", "part"), [("size_a", "recess_a"), ("size_b", "recess_b"), ("height", "recess_depth")]
)
def test_a_recess_as_large_as_the_block_is_refused(whole, part):
    with pytest.raises(ValueError, match=rf"plate {part} \(.* mm\) must be smaller than {whole} \("):
        plate(**{part: SIZES[whole]})


@pytest.mark.parametrize("wrong", [{"radius": 0}, {"height": -1}, {"a": math.nan}, {"b": math.inf}])
def test_a_bolt_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"^bolt "):
        Bolt(**{"a": -5, "b": -5, "radius": 2, "height": 3} | wrong)


def test_a_bolt_beside_the_plate_is_refused():
    with pytest.raises(ValueError, match=r"bolt at \(-15, 0\) mm does not stand on the plate"):
        plate(bolt=Bolt(-15, 0, 2, 3))


def test_a_plate_cannot_be_changed_once_made():
    with pytest.raises(AttributeError):
        plate().top = 4.0


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


@pytest.mark.parametrize("corner", Corner)
def test_a_seated_plate_extends_into_the_stock_from_every_corner(corner):
    x, y = plate().to_machine(corner, 20, 10)
    assert (math.copysign(1, x), math.copysign(1, y)) == corner.inward


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


def test_a_bolt_is_the_highest_thing_on_the_plate():
    assert (plate().highest, plate(bolt=Bolt(-5, -5, 2, 3)).highest) == (0, 3)


# ---- where to touch the flat ------------------------------------------------------------------------------


def test_seated_the_pin_keeps_its_radius_and_a_millimetre_from_lip_and_edge():
    """From 0 + 3 + 1 at the lips to 50 (or 48) − 0.5 of broken edge − 3 − 1 at the far edges."""
    window = plate().spot_window(SEATED, LEFT, PIN, STOCK)
    assert (window.low_a, window.high_a, window.low_b, window.high_b) == pytest.approx((4, 45.5, 4, 43.5))


@pytest.mark.parametrize(("corner", "high_a", "high_b"), [(LEFT, 26, 16), (RIGHT, 16, 26)])
def test_stock_smaller_than_the_recess_bounds_the_window_and_swaps_with_the_corner(corner, high_a, high_b):
    window = plate().spot_window(SEATED, corner, PIN, replace(STOCK, size_x=30, size_y=20))
    assert (window.high_a, window.high_b) == pytest.approx((high_a, high_b))


def test_a_through_relief_hole_is_kept_clear_of():
    """At the hole's radius 4, the pin's 3 and the margin 1 from the stock's corner, the window begins."""
    window = plate(relief_radius=4, relief_through=True).spot_window(SEATED, LEFT, PIN, STOCK)
    assert window.margin(8 * math.cos(0.7), 8 * math.sin(0.7)) == pytest.approx(0.0, abs=1e-9)


def test_a_relief_that_does_not_come_through_takes_nothing_from_the_flat():
    assert plate(relief_radius=4).spot_window(SEATED, LEFT, PIN, STOCK).discs == ()


def test_the_bolt_is_kept_clear_of_by_whatever_of_the_tool_passes_it():
    """A clip 8 mm out, 3.5 mm up, passes within a millimetre of a bolt 3 mm high, not of one 2 mm high."""
    clamped = Tool(name="pin", diameter=6, free_length=20, clip_height=3.5)
    kept = [
        plate(bolt=Bolt(25, 25, 2, height)).spot_window(SEATED, LEFT, clamped, STOCK).discs[0][2]
        for height in (2, 3)
    ]
    assert kept == [2 + 3 + MARGIN, 2 + 8 + MARGIN]


def test_flat_on_its_lips_the_far_corner_is_not_touched_since_nothing_is_under_it():
    """The hull of the lips ends on the line from (50, 0) to (0, 48); its middle is (25, 24)."""
    window = plate().spot_window(FLAT, LEFT, PIN, STOCK)
    assert window.margin(25, 24) == pytest.approx(-(3 + MARGIN))
    assert window.margin(20, 19) > 0 > window.margin(40, 40)


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


def test_the_middle_of_a_plain_window_is_its_centre():
    assert SpotWindow(0, 10, 0, 10).middle() == pytest.approx((5, 5))


def test_the_middle_is_the_deepest_place_off_the_discs():
    """A disc about one corner pushes the deepest place towards the opposite one."""
    a, b = SpotWindow(0, 10, 0, 10, ((0, 0, 9),)).middle()
    assert (a, b) == pytest.approx((7.5, 7.5), abs=0.5)


# ---- does it stay? ----------------------------------------------------------------------------------------


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


@pytest.mark.parametrize("placement", Placement)
def test_a_good_plate_on_good_stock_meets_no_objection(placement):
    assert plate().objections(placement, LEFT, STOCK) == ()


@pytest.mark.parametrize("stock", [replace(STOCK, jaw_height=15), replace(STOCK, thickness=5, jaw_height=0)])
def test_lips_that_would_stand_on_jaw_or_bed_are_objected_to_with_what_is_missing(stock):
    (objection,) = plate().objections(SEATED, LEFT, stock)
    assert "proud" in objection
    assert "0.500 mm too little" in objection


def test_a_flipped_plate_never_stands_on_its_bolt():
    (objection,) = plate(bolt=Bolt(20, 20, 2, 3)).objections(FLIPPED, LEFT, STOCK)
    assert objection == "flipped it would stand on its bolt, 3.000 mm high"


def test_a_plate_that_tips_is_objected_to_with_what_is_missing():
    (objection,) = plate().objections(SEATED, LEFT, replace(STOCK, size_x=10))
    middle = plate().mass_and_centroid()[1]
    assert f"({MARGIN - (10 - middle.x):.3f} mm too little: it would tip)" in objection


def test_every_objection_is_named_not_only_the_first():
    assert len(plate().objections(SEATED, LEFT, Stock(size_x=10, size_y=100, thickness=5))) == 2
