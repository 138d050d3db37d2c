"""Hollows, what stands up, grids and comparisons: where they begin, what they conclude, what they refuse."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from gingerly import (
    Axis,
    BlockMiddle,
    BoreCentre,
    BossCentre,
    Corner,
    EdgeSkew,
    ImplausibleContact,
    InsideCorner,
    PlateCalibration,
    PocketMiddle,
    Position,
    ReactionTime,
    Repeatability,
    RibMiddle,
    SingleEdge,
    SkewedCorner,
    SlotMiddle,
    StartOutsideWindow,
    Stock,
    Surface,
    SurfaceGrid,
    ToolDiameter,
    UnsuitablePlate,
    UnsuitableTool,
    Verify,
)
from gingerly.messages.commands import Question
from gingerly.messages.touches import Contact, Face, Finding, Touch, Unusable
from gingerly.routines.course import foreseen_face
from gingerly.routines.edge_skew import rotation_of

DOWN, RIGHT = Position(0.0, 0.0, -1.0), Position(1.0, 0.0, 0.0)


def touches(course):
    return [step for step in course.foreseen() if isinstance(step, Touch)]


def face(x, y, z=-60.0, *, name="wall", direction=RIGHT, feed=100.0):
    """A face touched with the tool's axis at this place."""
    return Face(name, Position(x, y, z), direction, (Contact(Position(x, y, z), feed, 5.0),) * 3)


def concluded(course, *faces):
    """What a course makes of these faces."""
    return course.next(faces)


def bore(bare, **changes):
    return BoreCentre(**{"spot": bare(), "centre": (60.0, 45.0), "diameter": 20.0, "deep": 12.0} | changes)


# ---- inside -----------------------------------------------------------------------------------------------------


def test_a_bore_is_entered_once_and_every_touch_begins_and_ends_there(bare, site):
    """Over its middle at the hop level, down, and then from the same point outward."""
    top, *walls = touches(bore(bare).plan(site()))
    assert len(walls) == 4
    assert (
        {wall.start for wall in walls}
        == {wall.exit for wall in walls}
        == {Position(210.0, 145.0, walls[0].start.z)}
    )
    assert [len(wall.legs) for wall in walls] == [2, 1, 1, 1]
    assert walls[0].legs[0].to.z == top.exit.z


def test_the_tip_stands_half_the_depth_of_a_bore_below_its_rim_and_a_millimetre_above_its_floor(bare, site):
    _, wall, *_ = touches(bore(bare).plan(site()))
    assert wall.start.z == pytest.approx(-60.0 - 6.0)
    with pytest.raises(UnsuitableTool, match=r"wall ends 2\.000 mm down.* 0\.500 mm are missing"):
        bore(bare, deep=2.0).plan(site())


def test_a_bore_too_narrow_for_doubt_and_a_millimetre_is_refused(bare, site):
    """Radius 5 less 3 of the tool leave 2 mm: enough for a doubt of 1 mm, a hundredth less is not."""
    bore(bare, diameter=10.0).plan(site())
    with pytest.raises(StartOutsideWindow, match=r"begins 1\.990 mm .* needs 2\.000 mm: 0\.010 mm too near"):
        bore(bare, diameter=9.98).plan(site())


def test_the_second_pair_of_a_pocket_begins_in_the_middle_that_the_first_has_found(bare, site):
    """Contacts at 190 and 228 have their middle at 209, wherever the tool went down."""
    course = PocketMiddle(spot=bare(), centre=(60.0, 45.0), sizes=(40.0, 30.0), deep=12.0).plan(site())
    third = course.next((face(0, 0, direction=DOWN), face(228.0, 145.0), face(190.0, 145.0)))
    assert third.start[:2] == (209.0, 145.0)
    assert third.direction == Position(0.0, 1.0, 0.0)


def test_a_slot_too_short_for_the_tool_to_go_down_is_refused(bare, site):
    with pytest.raises(StartOutsideWindow, match=r"slot along Y: .* 0\.500 mm too near"):
        SlotMiddle(spot=bare(), axis=Axis.X, centre=(60.0, 45.0), width=20.0, length=9.0, deep=12.0).plan(site())


def test_the_top_is_not_touched_over_a_hollow(bare, site):
    """The spot lies 4 mm inside the bore's edge, and 5 mm outside it are needed."""
    with pytest.raises(
        StartOutsideWindow, match=r"-4\.000 mm beside the bore, and this tool needs 5\.000 mm: 9\.000"
    ):
        bore(bare, spot=bare(at=(54.0, 45.0))).plan(site())


def test_a_feature_beyond_the_stock_is_refused(bare, site):
    with pytest.raises(
        StartOutsideWindow, match=r"along X, and the stock is 120\.000 mm long there: 5\.000 mm too far"
    ):
        bore(bare, centre=(115.0, 45.0)).plan(site())


def test_a_hollow_is_touched_without_a_plate(spot, site):
    """No plate has an inside."""
    with pytest.raises(UnsuitablePlate, match="a bore is touched directly"):
        bore(spot, spot=spot()).plan(site())


def test_an_inside_corner_needs_room_for_the_tool_between_its_walls(bare, site):
    with pytest.raises(
        StartOutsideWindow, match=r"12\.000 mm wide along Y, and this tool needs 13\.000 mm: 1\.000"
    ):
        InsideCorner(spot=bare(), at=(40.0, 30.0), which=Corner.FRONT_LEFT, sizes=(40.0, 12.0), deep=12.0).plan(
            site()
        )


# ---- circles ----------------------------------------------------------------------------------------------------


def test_touches_all_round_are_evenly_spaced(bare, site):
    _, *walls = touches(bore(bare, touches=5).plan(site()))
    angles = [math.atan2(wall.direction.y, wall.direction.x) % math.tau for wall in walls]
    assert angles == pytest.approx([math.tau * number / 5 for number in range(5)])


def met(touch, middle, reach, *, inside):
    """How far along a touch the tool's axis meets the circle of radius `reach` about `middle`, by the quadratic."""
    x, y = middle[0] - touch.start.x, middle[1] - touch.start.y
    ahead = x * touch.direction.x + y * touch.direction.y
    half = math.sqrt(reach**2 - (x * touch.direction.y - y * touch.direction.x) ** 2)
    return ahead + half if inside else ahead - half


@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("number", [3, 4, 5, 6, 8])
def test_a_round_wall_is_met_within_its_window_wherever_its_middle_may_lie(bare, site, number, inside):
    """Off by up to 1 mm on X and on Y, obliquely by 1.41 mm; the tool is never pushed 3 mm should the lead be off."""
    middle, dice = Position(210.0, 145.0, 0.0), random.Random(number)
    for _ in range(15):
        diameter = dice.uniform(10.0, 30.0)
        kind, size = (BoreCentre, {"deep": 12.0}) if inside else (BossCentre, {"height": 9.0})
        course = kind(spot=bare(), centre=(60.0, 45.0), diameter=diameter, touches=number, **size).plan(site())
        true = (middle.x + dice.choice((-1.0, 1.0, dice.uniform(-1, 1))), middle.y + dice.choice((-1.0, 1.0)))
        faces = (foreseen_face(course.next(())),)
        for _ in range(number):
            touch = course.next(faces)
            along = met(touch, true, diameter / 2.0 + (-3.0 if inside else 3.0), inside=inside)
            assert touch.near - 1e-9 <= along <= touch.far + 1e-9
            assert touch.length - touch.near < 3.0
            place = touch.start.plus(touch.direction.times(along))
            faces = (*faces, Face(touch.name, place, touch.direction, (Contact(place, 100.0, along),) * 3))
        assert dict(course.next(faces).axes) == pytest.approx({Axis.X: true[0], Axis.Y: true[1]}, abs=1e-6)


@pytest.mark.parametrize("touches", [2, 37])
def test_a_number_of_touches_that_makes_no_circle_is_refused(bare, touches):
    with pytest.raises(ValueError, match=f"takes 3 to 36 touches, not {touches}"):
        bore(bare, touches=touches)


def test_contacts_on_a_straight_line_are_no_bore(bare, site):
    """The course itself says that they are unusable, and nothing is written."""
    course = bore(bare, touches=3, offset=1).plan(site())
    step = concluded(course, face(0, 0, direction=DOWN), face(200.0, 140.0), face(205.0, 145.0), face(210.0, 150.0))
    assert isinstance(step, Unusable)
    assert step.fault is ImplausibleContact
    assert "straight line" in step.detail


def test_a_bore_is_wider_than_its_contacts_by_the_tool_and_a_boss_narrower(bare, site):
    """Contacts on a circle of radius 7: with a pin of 6 mm a bore of 20 mm, or a boss of 8 mm."""
    around = [face(210.0 + 7.0 * math.cos(a), 145.0 + 7.0 * math.sin(a)) for a in (0.0, 2.0, 4.0)]
    boss = BossCentre(spot=bare(), centre=(60.0, 45.0), diameter=20.0, height=9.0, touches=3)
    found = [
        dict(concluded(routine.plan(site()), face(0, 0, direction=DOWN), *around).measures)["diameter"]
        for routine in (bore(bare, touches=3), boss)
    ]
    assert found == pytest.approx([20.0, 8.0])


# ---- what stands up ---------------------------------------------------------------------------------------------


def test_a_rib_narrower_than_the_doubt_is_refused(bare, site):
    """Its top must reach a millimetre further around the spot than the place is uncertain by."""
    with pytest.raises(
        StartOutsideWindow, match=r"reaches 1\.500 mm around the spot and must reach 2\.000 mm: 0\.500"
    ):
        RibMiddle(spot=bare(), axis=Axis.X, centre=(60.0, 45.0), width=3.0, length=40.0, height=9.0).plan(site())


def test_a_low_boss_is_refused(bare, site):
    """2.2 mm less a millimetre leave 1.2 mm, and 1.5 are needed."""
    with pytest.raises(UnsuitableTool, match=r"0\.300 mm are missing"):
        BossCentre(spot=bare(), centre=(60.0, 45.0), diameter=30.0, height=2.2).plan(site())


def test_a_block_without_sizes_is_the_whole_stock_touched_in_the_middle_of_its_sides(bare, site):
    _, left, right, front, back = touches(BlockMiddle(spot=bare(), assure_lead=False).plan(site()))
    contacts = [foreseen_face(touch).position[:2] for touch in (left, right, front, back)]
    assert contacts == [
        pytest.approx(place) for place in ((147.0, 145.0), (273.0, 145.0), (210.0, 97.0), (210.0, 193.0))
    ]


def test_a_tool_is_as_wide_as_its_contacts_are_further_apart_than_the_known_width(bare, site):
    """Turned by half a turn, the middle moves by twice the runout: from 210.03 to 210.01."""
    course = ToolDiameter(
        spot=bare(), width=40.0, centre=(60.0, 45.0), length=30.0, height=9.0, half_turn=True, assure_lead=False
    ).plan(site())
    before, after = (187.02, 233.04), (187.0, 233.02)
    step = concluded(course, face(0, 0, direction=DOWN), *(face(x, 145.0) for x in (*before, *after)))
    assert dict(step.measures) == pytest.approx({"diameter": 6.02, "middle": 210.02, "runout along X": 0.01})


def test_the_spindle_is_turned_by_half_before_the_second_pair_and_at_no_other_time(bare, site):
    routine = ToolDiameter(
        spot=bare(), width=40.0, centre=(60.0, 45.0), length=30.0, height=9.0, half_turn=True, assure_lead=False
    )
    asked = [touch.question for touch in touches(routine.plan(site()))]
    assert asked == [None, None, None, Question.TURN_HALF, None]


# ---- edges and skew ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("axis", [Axis.X, Axis.Y])
@pytest.mark.parametrize("turn", [-0.02, 0.0, 0.013])
def test_a_wall_turned_counter_clockwise_has_a_positive_rotation(axis, turn):
    """A wall across Y runs along (cos, sin), a wall across X along (−sin, cos)."""
    along = (math.cos(turn), math.sin(turn)) if axis is Axis.Y else (-math.sin(turn), math.cos(turn))
    first, second = face(10.0, 20.0), face(10.0 + 50.0 * along[0], 20.0 + 50.0 * along[1])
    assert rotation_of(first, second, axis) == pytest.approx(turn)
    assert rotation_of(second, first, axis) == pytest.approx(turn)


def test_the_second_touch_of_an_edge_expects_what_the_first_and_the_skew_leave(bare, site):
    """Over 60 mm of wall, half a degree leaves ±0.52 mm and a tenth around where the first was found."""
    course = EdgeSkew(spot=bare(), axis=Axis.X, near=20.0, far=80.0, assure_lead=False).plan(site())
    top, first, _ = touches(course)
    found = foreseen_face(first).position.plus(Position(0.4, 0.0, 0.0))
    second = course.next((foreseen_face(top), face(*found)))
    half = 60.0 * math.tan(math.radians(0.5)) + 0.1
    assert (second.far - second.near) / 2.0 == pytest.approx(half)
    assert foreseen_face(second).position.x == pytest.approx(found.x)


def test_an_edge_is_not_touched_beyond_its_ends(bare, site):
    with pytest.raises(StartOutsideWindow, match=r"119\.000 mm from the corner; it is 120\.000 mm long"):
        EdgeSkew(spot=bare(), axis=Axis.Y, far=119.0).plan(site())


@pytest.mark.parametrize("make", [SingleEdge, EdgeSkew])
def test_no_edge_lies_across_z(bare, make):
    with pytest.raises(ValueError, match="across X or Y, not Z"):
        make(spot=bare(), axis=Axis.Z)


def test_a_skewed_corner_is_where_the_turned_faces_meet(bare, site):
    """Stock turned by 0.01 rad about (150, 100), touched with a radius of 3 mm from outside."""
    turn, course = 0.01, SkewedCorner(spot=bare(), assure_lead=False).plan(site())
    cos, sin = math.cos(turn), math.sin(turn)

    def outside(along_x, along_y):
        return face(150.0 + along_x * cos - along_y * sin, 100.0 + along_x * sin + along_y * cos)

    step = concluded(
        course, face(0, 0, direction=DOWN), outside(15.0, -3.0), outside(90.0, -3.0), outside(-3.0, 15.0)
    )
    assert dict(step.axes) == pytest.approx({Axis.X: 150.0, Axis.Y: 100.0, Axis.Z: -60.0})
    assert dict(step.measures) == pytest.approx({"rotation": turn})


# ---- grid -------------------------------------------------------------------------------------------------------


def test_a_tilted_face_is_told_by_its_slopes_and_its_shims(bare, site):
    """1 mm per 100 mm along X: the support at the low end is raised by what the other is higher."""
    course = SurfaceGrid(spot=bare(), columns=3, rows=2, supports=((10.0, 45.0), (110.0, 45.0))).plan(site())
    faces = [foreseen_face(touch).position for touch in touches(course)]
    step = concluded(course, *(face(p.x, p.y, p.z + 0.01 * (p.x - 150.0), direction=DOWN) for p in faces))
    seen = dict(step.measures)
    assert seen["tilt along X"] == pytest.approx(math.atan(0.01))
    assert seen["tilt along Y"] == pytest.approx(0.0, abs=1e-12)
    assert (seen["shim 1"], seen["shim 2"]) == pytest.approx((1.0, 0.0))
    assert seen["flatness"] == pytest.approx(0.0, abs=1e-9)


def test_each_row_of_a_grid_goes_back_to_where_the_last_one_began(bare, site):
    """So the trail, the only way back, never grows by more than a row and a column."""
    course = SurfaceGrid(spot=bare(), columns=3, rows=3).plan(site())
    planned = touches(course)
    assert planned[3].legs[0].to == planned[0].exit
    assert planned[6].legs[0].to == planned[3].exit


def test_a_grid_too_near_to_the_edge_is_refused(bare, site):
    with pytest.raises(StartOutsideWindow, match=r"2\.000 mm too little"):
        SurfaceGrid(spot=bare(), margin=3.0).plan(site())


@pytest.mark.parametrize("size", [(1, 3), (3, 1), (21, 20)])
def test_a_grid_of_too_few_or_too_many_places_is_refused(bare, size):
    with pytest.raises(ValueError, match="2 columns and 2 rows at least, and 400 places at most"):
        SurfaceGrid(spot=bare(), columns=size[0], rows=size[1])


# ---- comparing and calibrating ----------------------------------------------------------------------------------


def test_verify_writes_nothing_even_where_its_routine_would(spot, site):
    verify = Verify(routine=Surface(spot=spot(), offset=1), expected=((Axis.Z, -60.01),), tolerance=0.02)
    *_, step = verify.plan(site()).foreseen()
    assert isinstance(step, Finding)
    assert dict(step.measures) == pytest.approx({"off Z": 0.01})


def test_verify_names_every_axis_that_is_off_and_by_how_much(spot, site):
    verify = Verify(routine=Surface(spot=spot()), expected=((Axis.Z, -60.1),), tolerance=0.02)
    *_, step = verify.plan(site()).foreseen()
    assert isinstance(step, Unusable)
    assert "0.1000 mm off, 0.0200 mm allowed, 0.0800 mm too much" in step.detail


def test_verify_says_what_its_routine_does_not_find(spot, site):
    verify = Verify(routine=Surface(spot=spot()), expected=((Axis.X, 1.0),), tolerance=0.02)
    *_, step = verify.plan(site()).foreseen()
    assert isinstance(step, Unusable)
    assert "finds no X" in step.detail


def test_verify_needs_something_to_compare_and_a_tolerance(spot):
    for changes in ({"expected": ()}, {"tolerance": 0.0}):
        with pytest.raises(ValueError, match=r"axis|tolerance"):
            Verify(**{"routine": Surface(spot=spot()), "expected": ((Axis.Z, 0.0),), "tolerance": 0.1} | changes)


def test_repeatability_is_four_standard_deviations(spot, site):
    """ISO 230-2 (from memory): unidirectional repeatability is 4·s. Heights of 0, 1, 2, 3 µm have s = 1.290994 µm."""
    course = Repeatability(spot=spot(), touches=4).plan(site())
    step = concluded(course, *(face(0, 0, z, direction=DOWN) for z in (0.0, 0.001, 0.002, 0.003)))
    seen = dict(step.measures)
    assert seen["standard deviation"] == pytest.approx(0.001290994, abs=1e-9)
    assert seen["repeatability"] == pytest.approx(4.0 * seen["standard deviation"])
    assert seen["range"] == pytest.approx(0.003)


def test_the_reaction_time_is_the_slope_of_contact_against_speed(spot, site):
    """Latched 4 ms late, a touch at 600 mm/min lies 0.04 mm too deep."""
    feeds = (600.0, 300.0, 150.0)
    course = ReactionTime(spot=spot(), feeds=feeds, rounds=1).plan(site())
    step = concluded(course, *(face(0, 0, -54.0 - f / 60.0 * 0.004, direction=DOWN, feed=f) for f in feeds))
    assert dict(step.measures)["latch_s"] == pytest.approx(0.004)


def test_the_reaction_time_is_as_sure_as_it_says(spot, site):
    """Contacts latched up to 4 ms late by samples 1 ms apart, rounded to steps: of 300 calibrations 95 % lie within
    1.96 of their own standard uncertainties; four standard deviations of that share are 5 %."""
    place, dice, inside = site(), random.Random(8), 0
    facts = place.facts
    course = ReactionTime(spot=spot()).plan(place)
    feeds = [touch.plan.fast_feed for touch in touches(course)]
    for _ in range(300):
        lag, height = dice.uniform(0.0, 0.003), -54.0 + dice.uniform(-0.01, 0.01)
        depths = [feed / 60.0 * (lag + dice.uniform(0.0, facts.sample_interval_s)) for feed in feeds]
        rounded = [facts.resolution * round((height - depth) / facts.resolution) for depth in depths]
        faces = [face(0, 0, z, direction=DOWN, feed=feed) for z, feed in zip(rounded, feeds, strict=True)]
        seen = dict(concluded(course, *faces).measures)
        true = lag + facts.sample_interval_s / 2.0
        inside += abs(seen["latch_s"] - true) <= 1.96 * seen["u_latch_s"]
    assert 0.91 <= inside / 300 <= 0.99


def test_a_calibration_faster_than_the_tool_bears_is_refused(spot, site):
    with pytest.raises(UnsuitableTool, match=r"5000 mm/min would be \d+ mm/min too fast; approach at"):
        ReactionTime(spot=spot(), feeds=(5000.0, 100.0)).plan(site())


def test_a_plate_is_measured_on_a_block_that_reaches_beyond_it(spot, site):
    """The recess covers 40 mm, and pin, doubts and margins take 5.5 + 5 mm more on the block."""
    block = Stock(size_x=50.0, size_y=90.0, thickness=25.0, jaw_height=8.0, conductive=True)
    with pytest.raises(
        StartOutsideWindow, match=r"50\.000 mm long along X, the plate covers 40\.000 mm.* 0\.500 mm"
    ):
        PlateCalibration(spot=spot(stock=block)).plan(site())
    PlateCalibration(spot=spot(stock=replace(block, size_x=50.5))).plan(site())


def test_a_plate_is_not_measured_on_a_block_that_does_not_conduct(spot, site):
    with pytest.raises(UnsuitablePlate, match="does not conduct"):
        PlateCalibration(spot=spot()).plan(site())
