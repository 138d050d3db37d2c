"""Positions, limits, boxes, columns and corners: the rules that everything else is told in."""

import math

import pytest

from gingerly.geometry import (
    ORIGIN,
    Axis,
    Box,
    Corner,
    KeepOut,
    Limits,
    Position,
    centroid,
    distance_to_line,
    margin_in_polygon,
    quarter_turned,
    segment_to_rectangle,
)

BOX = Box(Position(0, 0, -50), Position(200, 100, 0))
SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))


# ---- positions --------------------------------------------------------------------------------------------


def test_an_axis_picks_its_own_coordinate():
    assert [Position(1, 2, 3)[axis] for axis in Axis] == [1, 2, 3]


def test_adding_what_was_taken_away_leads_back():
    assert Position(1, 2, 3).minus(Position(4, 6, 8)).plus(Position(4, 6, 8)) == Position(1, 2, 3)


def test_the_length_of_three_four_twelve_is_thirteen():
    assert Position(3, 4, 12).length() == pytest.approx(13.0, rel=1e-15)


def test_the_scalar_product_of_upright_directions_is_nothing():
    assert Position(1, 0, 0).dot(Position(0, 5, 7)) == 0.0


@pytest.mark.parametrize("tiny", [1e-3, 1e-200, 5e-324])
def test_a_displacement_of_any_length_has_a_direction(tiny):
    assert Position(0, -tiny, 0).unit() == Position(0, -1, 0)


def test_a_displacement_of_no_length_has_no_direction():
    with pytest.raises(ValueError, match="no direction"):
        ORIGIN.unit()


def test_a_step_towards_a_point_never_passes_it():
    assert Position(0, 0, 0).towards(Position(10, 0, 0), 4) == Position(4, 0, 0)
    assert Position(0, 0, 0).towards(Position(10, 0, 0), 40) == Position(10, 0, 0)


def test_replacing_axes_leaves_the_others_untouched():
    assert Position(1, 2, 3).with_axes({Axis.Z: -5.0}) == Position(1, 2, -5)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("axis", Axis)
def test_one_bad_coordinate_makes_a_position_not_finite(bad, axis):
    assert not ORIGIN.with_axes({axis: bad}).is_finite()


def test_a_position_prints_in_micrometres():
    assert str(Position(1, -2.5, 3.14159)) == "X1.000 Y-2.500 Z3.142"


def test_distance_to_a_line_is_measured_square_to_it():
    diagonal = Position(1, 1, 0).unit()
    assert distance_to_line(Position(2, 0, 0), ORIGIN, diagonal) == pytest.approx(math.sqrt(2), rel=1e-15)


# ---- limits and boxes -------------------------------------------------------------------------------------


def test_limits_hold_their_ends_and_what_slack_adds():
    limits = Limits(1.0, 2.0)
    assert [limits.hold(value) for value in (0.999, 1.0, 2.0, 2.001)] == [False, True, True, False]
    assert limits.hold(2.001, slack=0.001)


def test_limits_know_middle_and_half_width():
    assert (Limits(1.0, 4.0).middle, Limits(1.0, 4.0).half_width) == (2.5, 1.5)


def test_limits_never_hold_what_is_no_number():
    assert not Limits(-1.0, 1.0).hold(math.nan)


@pytest.mark.parametrize("pair", [(2.0, 1.0), (math.nan, 1.0), (0.0, math.inf)])
def test_limits_the_wrong_way_round_or_endless_are_refused(pair):
    with pytest.raises(ValueError, match="limit"):
        Limits(*pair)


def test_a_box_names_the_axis_left_furthest_behind():
    assert BOX.excess(Position(203, 110, 0)) == (Axis.Y, 10)


def test_a_point_on_the_boxs_face_is_inside():
    assert BOX.excess(Position(200, 0, -50)) is None


@pytest.mark.parametrize("axis", Axis)
def test_a_coordinate_that_is_no_number_is_outside_every_box(axis):
    assert BOX.excess(Position(1, 1, -1).with_axes({axis: math.nan})) == (axis, math.inf)


@pytest.mark.parametrize(
    "high", [Position(-1, 1, 1), Position(1, -1, 1), Position(1, 1, -1), Position(1, 1, math.inf)]
)
def test_a_box_inside_out_or_endless_is_refused(high):
    with pytest.raises(ValueError, match="box"):
        Box(ORIGIN, high)


# ---- keep-outs --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "distance"),
    [
        ((-5, 5), (15, 5), 0.0),
        ((-5, -5), (15, 15), 0.0),
        ((5, 5), (6, 6), 0.0),
        ((0, -3), (10, -3), 3.0),
        ((13, 14), (20, 14), 5.0),
        ((-4, 4), (4, -4), 0.0),
        ((-6, 4), (4, -6), math.sqrt(2)),
        ((-7, 5), (-7, 5), 7.0),
    ],
)
def test_a_segments_distance_to_a_square_is_that_of_their_nearest_points(start, end, distance):
    assert segment_to_rectangle(start, end, (0, 0), (10, 10)) == pytest.approx(distance, abs=1e-12)


def test_a_keep_outs_clearance_does_not_look_at_height():
    clamp = KeepOut(name="clamp", low=(0, 0), high=(10, 10))
    assert clamp.clearance(Position(-5, -2, 80), Position(15, -2, -20)) == pytest.approx(2.0, abs=1e-12)


@pytest.mark.parametrize(
    "wrong",
    [
        {"low": (10, 0)},
        {"low": (0, 10)},
        {"high": (math.inf, 10)},
        {"low": (math.nan, 0)},
        {"height_above_stock": math.nan},
    ],
)
def test_a_keep_out_that_encloses_nothing_or_everything_is_refused_by_name(wrong):
    with pytest.raises(ValueError, match=r"^keep-out 'clamp'"):
        KeepOut(**{"name": "clamp", "low": (0, 0), "high": (10, 10)} | wrong)


# ---- corners, turns, polygons -----------------------------------------------------------------------------


def test_a_corners_quarter_turns_bring_the_front_left_corners_inward_directions_to_its_own():
    for corner in Corner:
        assert quarter_turned(Corner.FRONT_LEFT.inward, corner.quarter_turns) == corner.inward


def test_a_quarter_turn_takes_x_to_y():
    assert quarter_turned((1.0, 0.0), 1) == (0.0, 1.0)
    assert quarter_turned((1.0, 0.0), -1) == (0.0, -1.0)


@pytest.mark.parametrize("corner", Corner)
def test_a_corner_is_found_by_the_name_that_people_write(corner):
    for written in (
        corner.label,
        corner.label.upper(),
        corner.name,
        corner.label.replace(" ", "-"),
        f" {corner.label} ",
    ):
        assert Corner.named(written) is corner


@pytest.mark.parametrize("name", ["", "left", "front", "front middle", None, 3, "x" * 5000])
def test_an_unknown_corner_is_refused_with_the_four_names(name):
    with pytest.raises(ValueError, match="front left, front right, back right, back left") as refusal:
        Corner.named(name)
    assert len(str(refusal.value)) < 250


@pytest.mark.parametrize(("point", "margin"), [((5, 5), 5.0), ((1, 5), 1.0), ((5, 9), 1.0), ((-2, 5), -2.0)])
def test_the_margin_in_a_square_is_the_distance_to_its_nearest_side(point, margin):
    assert margin_in_polygon(SQUARE, point) == pytest.approx(margin, abs=1e-12)


def test_a_side_of_no_length_does_not_count():
    assert margin_in_polygon((*SQUARE, SQUARE[-1]), (1, 5)) == pytest.approx(1.0, abs=1e-12)


def test_a_hole_moves_the_centroid_away_from_itself():
    plate_and_hole = [(100.0, Position(5, 5, 0.5)), (-4.0, Position(2, 2, 0.5))]
    volume, middle = centroid(plate_and_hole)
    assert volume == pytest.approx(96.0, abs=1e-12)
    assert middle.x == pytest.approx((500.0 - 8.0) / 96.0, abs=1e-12)


def test_parts_that_leave_nothing_have_no_centroid():
    with pytest.raises(ValueError, match="no volume"):
        centroid([(1.0, ORIGIN), (-1.0, ORIGIN)])
