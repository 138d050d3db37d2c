"""Touching walls from outside: how deep, where, over what, and with which tools and plates."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from gingerly import (
    Bolt,
    Corner,
    OutsideCorner,
    Placement,
    PlateCalibration,
    Position,
    StartOutsideWindow,
    Stock,
    Tip,
    Tool,
    UnsuitablePlate,
    UnsuitableTool,
)
from gingerly.geometry import Axis
from gingerly.messages.commands import Question
from gingerly.messages.touches import Finding, Place, Setting, Touch
from gingerly.routines import Above
from gingerly.routines.walls import AGAIN, CornerWalls, check_along


def touches(routine, site):
    return {step.name: step for step in routine.plan(site).foreseen() if isinstance(step, Touch)}


def cutter(**changes):
    return Tool(
        **{"name": "cutter", "diameter": 6.0, "free_length": 30.0, "flutes": 2, "helix": math.radians(30)} | changes
    )


# ---- the course -----------------------------------------------------------------------------------------------


def test_a_corner_is_top_wall_assurance_wall(spot, site):
    """The short touch of the flat just before the second wall shows that the lead is still on."""
    assert list(touches(OutsideCorner(spot=spot()), site())) == ["top", "X wall", AGAIN, "Y wall"]
    without = OutsideCorner(spot=spot(), assure_lead=False)
    assert list(touches(without, site())) == ["top", "X wall", "Y wall"]


def test_the_assurance_is_one_quick_contact_whose_height_is_known(spot, site):
    """It may be off by the spread and by what is open of the latch, no more, and goes no deeper than needed."""
    again = touches(OutsideCorner(spot=spot()), site())[AGAIN]
    assert again.plan.retouches == 0
    assert again.far - again.near < 0.1
    assert again.length - again.far < 0.55


@pytest.mark.parametrize("corner", list(Corner))
def test_each_wall_is_touched_across_its_own_lip_from_outside(spot, site, corner):
    """Radius 3, and lips of 12 and 14 mm which swap between X and Y from corner to corner."""
    planned = touches(OutsideCorner(spot=spot(corner=corner)), site(here=Position(150.0, 100.0, 0.0)))
    for axis in (Axis.X, Axis.Y):
        touch, lip = (
            planned[f"{axis.name} wall"],
            12.0 if (axis is Axis.X) == (corner.quarter_turns % 2 == 0) else 14.0,
        )
        contact = touch.start.plus(touch.direction.times((touch.near + touch.far) / 2.0))
        assert contact[axis] == pytest.approx((150.0, 100.0)[axis] - corner.inward[axis] * (3.0 + lip))
        assert touch.direction[axis] == corner.inward[axis]


def test_a_wall_is_approached_from_the_doubt_and_a_millimetre_and_given_up_half_a_millimetre_beyond_it(spot, site):
    """Standoff 0.6 + 1, window ±0.6, end 0.6 + 0.5 beyond the expected face."""
    wall = touches(OutsideCorner(spot=spot(within=0.6)), site())["X wall"]
    assert (wall.near, wall.far) == pytest.approx((1.0, 2.2))
    assert wall.length == pytest.approx(1.6 + 0.6 + 0.5)


def test_the_way_to_a_wall_goes_over_at_the_hop_level_then_down_beside_it_no_faster_than_a_look_allows(spot, site):
    """Both legs lie below clearance."""
    wall = touches(OutsideCorner(spot=spot()), site())["X wall"]
    aside, start = wall.legs
    assert aside.to.z == pytest.approx(-54.0 + 1.0 + 4.0)
    assert aside.to[:2] == start.to[:2]
    assert {aside.feed, start.feed} == {wall.plan.leave_feed}
    assert wall.exit == aside.to


def test_the_circuit_is_proved_at_tip_and_flank_or_at_the_very_stock(spot, bare, site):
    """The place that will touch is the place that must be seen to close."""
    assert OutsideCorner(spot=spot()).plan(site()).places == (Place.TIP, Place.FLANK)
    assert OutsideCorner(spot=bare()).plan(site()).places == (Place.STOCK,)


def test_a_corner_that_is_only_found_writes_nothing(spot, site):
    """Without a work offset there is a finding; with one, a setting of all three axes at once."""
    *_, found = OutsideCorner(spot=spot()).plan(site()).foreseen()
    *_, to_set = OutsideCorner(spot=spot(), offset=3).plan(site()).foreseen()
    assert isinstance(found, Finding)
    assert isinstance(to_set, Setting)
    assert [axis for axis, _ in to_set.changes[0].axes] == [Axis.X, Axis.Y, Axis.Z]
    assert [value for _, value in found.axes] == pytest.approx([150.0, 100.0, -60.0])


def test_what_a_face_reads_is_taken_off_the_origin(spot, site):
    """A top that reads 0.3 has the origin 0.3 mm below it."""
    *_, found = OutsideCorner(spot=spot(), reads=Position(-10.0, 5.0, 0.3)).plan(site()).foreseen()
    assert [value for _, value in found.axes] == pytest.approx([160.0, 95.0, -60.3])


# ---- how deep ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "depth"),
    [
        ({}, 6.0),
        ({"free_length": 5.0}, 5.0),
        ({"clip_height": 6.0}, 5.0),
        ({"free_length": 6.0, "shank": 8.0}, 5.0),
        ({"tip": Tip.BALL, "diameter": 12.0}, 7.0),
    ],
)
def test_a_pin_stands_half_a_lip_deep_where_nothing_else_limits_it(spot, site, changes, depth):
    """Or as deep as it is free, a millimetre less than a clip or a wider shank, a millimetre more than its ball."""
    tool = Tool(**{"name": "t", "diameter": 6.0, "free_length": 30.0} | changes)
    wall = touches(OutsideCorner(spot=spot(tool=tool)), site())["X wall"]
    assert -54.0 - wall.start.z == pytest.approx(depth)


def test_a_fluted_cutter_is_refused_where_its_flutes_do_not_cover_the_lip(spot, site):
    """Cover πD / (N·tan β) = 16.32 mm for two flutes of 30° on 6 mm, on a lip 12 mm high less 0.5 mm of edge."""
    with pytest.raises(UnsuitableTool, match=r"over 16\.324 mm only.* 4\.824 mm too little") as caught:
        OutsideCorner(spot=spot(tool=cutter())).plan(site())
    assert "say flute_faced = true" in caught.value.advice
    with pytest.raises(UnsuitableTool, match="straight flutes never cover"):
        OutsideCorner(spot=spot(tool=cutter(helix=0.0))).plan(site())


def test_turning_a_flute_is_advised_only_where_it_would_help_and_can_be_said(spot, site):
    """Not for a cutter that is too short besides, and not in a routine that has no such key."""
    short, bare = cutter(free_length=1.0), replace(spot().stock, conductive=True)
    for routine in (OutsideCorner(spot=spot(tool=short)), PlateCalibration(spot=spot(tool=cutter(), stock=bare))):
        with pytest.raises(UnsuitableTool) as caught:
            routine.plan(site())
        assert caught.value.advice == UnsuitableTool.advice


def test_a_flute_turned_to_each_wall_makes_up_for_that_and_hands_are_asked_for(spot, site):
    """One question before each wall, none before the flat."""
    planned = touches(OutsideCorner(spot=spot(tool=cutter()), flute_faced=True), site())
    asked = {name: touch.question for name, touch in planned.items()}
    turn = Question.TURN_FLUTE
    assert asked == {"top": None, "X wall": turn, AGAIN: None, "Y wall": turn}


def test_four_flutes_of_a_steep_helix_cover_the_lip(spot, site):
    """πD / (N·tan β) = 4.71 mm for four flutes of 45° on 6 mm: with 1 mm more the tip stands 6 mm deep anyway."""
    wall = touches(OutsideCorner(spot=spot(tool=cutter(flutes=4, helix=math.radians(45)))), site())["X wall"]
    assert -54.0 - wall.start.z == pytest.approx(6.0)


def test_a_v_tool_touches_no_wall(spot, site):
    """It would meet it on its slope."""
    with pytest.raises(UnsuitableTool, match="on its slope"):
        OutsideCorner(spot=spot(tool=Tool(name="v", diameter=6.0, free_length=30.0, tip=Tip.V))).plan(site())


def test_a_clip_too_low_is_refused_with_what_is_missing(spot, site):
    """1.5 mm of depth are needed, and a clip 2 mm above the tip leaves 1 mm."""
    clipped = Tool(name="t", diameter=6.0, free_length=30.0, clip_height=2.0)
    with pytest.raises(UnsuitableTool, match=r"0\.500 mm are missing"):
        OutsideCorner(spot=spot(tool=clipped)).plan(site())


def test_a_bolt_takes_its_height_from_what_is_left_below_the_clip(spot, site):
    """The clip, 10 mm above the tip, passes over a bolt 5 mm high with a millimetre: 4 mm of depth are left."""
    bolted = replace(spot().plate, bolt=Bolt(30.0, 30.0, 3.0, 5.0))
    clipped = Tool(name="t", diameter=6.0, free_length=30.0, clip_height=10.0)
    wall = touches(OutsideCorner(spot=spot(tool=clipped, plate=bolted)), site())["X wall"]
    assert -54.0 - wall.start.z == pytest.approx(4.0)


def test_a_wider_shank_that_cannot_pass_the_edge_is_refused(spot, site):
    """A ball of 6 mm must stand 4 mm deep at least, and its shank begins 4.5 mm up: 0.5 mm are missing."""
    short = Tool(name="t", diameter=6.0, free_length=4.5, tip=Tip.BALL, shank=8.0)
    with pytest.raises(UnsuitableTool, match=r"wider shank begins 4\.500 mm up.* 0\.500 mm are missing"):
        OutsideCorner(spot=spot(tool=short)).plan(site())


def test_bare_stock_in_high_jaws_is_refused(bare, site):
    """2.5 mm proud less a doubt of 1 mm and 1 mm above the jaw leave 0.5 mm, and 1.5 are needed."""
    held = Stock(size_x=120.0, size_y=90.0, thickness=25.0, jaw_height=22.5)
    with pytest.raises(UnsuitableTool, match=r"1\.000 mm are missing"):
        OutsideCorner(spot=bare(stock=held)).plan(site())


# ---- over what, and beside what ---------------------------------------------------------------------------------


def test_a_start_too_low_to_pass_over_the_bolt_is_refused(spot, site):
    """A bolt 8 mm high, a doubt of 1 mm and 1 mm more: 10 mm above the flat."""
    bolted = replace(spot().plate, bolt=Bolt(30.0, 30.0, 3.0, 8.0))
    here = Position(200.0, 150.0, -30.0)
    OutsideCorner(spot=spot(plate=bolted, place=Above(10.0))).plan(site(here=here))
    with pytest.raises(StartOutsideWindow, match=r"starts 9\.000 mm .* takes 10\.000 mm: start 1\.000 mm higher"):
        OutsideCorner(spot=spot(plate=bolted, place=Above(9.0))).plan(site(here=here))


def test_a_bolt_that_reaches_over_the_lip_is_refused_beside_that_lip(spot, site):
    """At the lip's outer edge a bolt of radius 3 stands 3 mm outside it, where the pin would meet it first."""
    over = replace(spot().plate, bolt=Bolt(-11.0, 15.0, 3.0, 5.0))
    with pytest.raises(
        UnsuitablePlate, match=r"X wall.* within 4\.000 mm of the bolt's, and needs 7\.000 mm: 3\.000"
    ):
        OutsideCorner(spot=spot(plate=over)).plan(site())


@pytest.mark.parametrize("placement", [Placement.FLAT, Placement.FLIPPED])
def test_a_plate_on_top_of_the_stock_has_no_lip_for_a_corner(spot, site, placement):
    """It must be seated."""
    with pytest.raises(UnsuitablePlate, match="has no lip beside the stock"):
        OutsideCorner(spot=spot(placement=placement)).plan(site())


def test_a_wall_is_touched_between_its_ends(spot):
    """The recess makes the lip 41 mm long beside the stock; 2 mm are kept from both ends."""
    walls = CornerWalls(spot())
    check_along(walls, Axis.X, 39.0)
    with pytest.raises(
        StartOutsideWindow, match=r"39\.500 mm from the corner; it is 41\.000 mm long.* 0\.500 mm too far"
    ):
        check_along(walls, Axis.X, 39.5)
