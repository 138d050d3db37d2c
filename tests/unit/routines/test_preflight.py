"""What is refused before anything moves, with the number that is wrong and by how much."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace
from itertools import pairwise

import pytest

from gingerly import (
    Box,
    KeepOut,
    KeepOutEntered,
    OutsideCorner,
    OutsideEnvelope,
    Position,
    Surface,
    Tool,
    UnsuitableTool,
)
from gingerly.messages.faults import StartOutsideWindow
from gingerly.messages.touches import Leg, Touch
from gingerly.routines import Above
from gingerly.routines.preflight import Move, check_moves, check_standoff, check_way, moves, widest


def box(**low: float) -> Box:
    """The envelope of the drawing board with one low limit moved."""
    return Box(Position(0.0, 0.0, -90.0)._replace(**low), Position(400.0, 300.0, 0.0))


def clamp(x: float, y: float, height: float | None, *, size: float = 10.0) -> KeepOut:
    return KeepOut(name="clamp", low=(x, y), high=(x + size, y + size), height_above_stock=height)


# ---- envelope -----------------------------------------------------------------------------------------------


def test_a_sense_may_end_at_the_envelope_but_not_beyond_it_with_its_overtravel(spot, site, facts):
    """Plate top at −54, 1 mm of doubt, 0.5 mm of margin: the sense ends at −55.5 and may run on by 0.3 mm."""
    Surface(spot=spot()).plan(site(facts=facts(envelope=box(z=-55.8))))
    with pytest.raises(OutsideEnvelope, match=r"touch the top: .* lies 0\.100 mm outside on Z"):
        Surface(spot=spot()).plan(site(facts=facts(envelope=box(z=-55.7))))


def test_a_wall_is_refused_where_a_lower_top_would_lead_it_out(spot, site, facts):
    """The tip stands at −60 if the top is where it is expected, and at −61 if it lies a millimetre lower."""
    OutsideCorner(spot=spot()).plan(site(facts=facts(envelope=box(z=-61.0))))
    with pytest.raises(OutsideEnvelope, match=r"lies 0\.200 mm outside on Z, where the faces before it lie"):
        OutsideCorner(spot=spot()).plan(site(facts=facts(envelope=box(z=-60.8))))


def test_the_way_beside_a_lip_counts_with_radius_lip_and_standoff(spot, site, facts):
    """Corner at 150, lip 12, radius 3, standoff 1 + 1: the tool goes down at X 133."""
    OutsideCorner(spot=spot()).plan(site(facts=facts(envelope=box(x=133.0)), here=Position(200.0, 50.0, 0.0)))
    with pytest.raises(OutsideEnvelope, match=r"lies 0\.500 mm outside on X"):
        OutsideCorner(spot=spot()).plan(site(facts=facts(envelope=box(x=133.5)), here=Position(200.0, 50.0, 0.0)))


def test_a_tool_that_stands_outside_the_envelope_is_refused(spot, site):
    """Where the tool stands counts as well."""
    with pytest.raises(OutsideEnvelope, match=r"lies 1\.000 mm outside on Y"):
        Surface(spot=spot()).plan(site(here=Position(20.0, -1.0, -5.0)))


# ---- keep-outs ----------------------------------------------------------------------------------------------


def test_while_the_length_is_unknown_a_keep_out_has_no_upper_end(spot, site):
    """A clamp far below the way at the top of Z is in the way all the same, until Z was touched with this tool."""
    low = (clamp(80.0, 60.0, -20.0),)
    with pytest.raises(KeepOutEntered, match="to the top"):
        Surface(spot=spot()).plan(site(keep_outs=low))
    Surface(spot=spot()).plan(site(keep_outs=low, length_known=True))


def test_a_touch_sideways_does_not_tell_the_tools_length(spot, site):
    """Only a sense straight down does: after one sideways a low clamp is still in the way."""
    low = clamp(80.0, 60.0, -20.0)
    up, across = Position(20.0, 20.0, 0.0), Position(170.0, 120.0, 0.0)
    for end, fits in ((up._replace(x=25.0), False), (up._replace(z=-20.0), True)):
        planned = [Move("touch", up, end, 100.0, senses=True), Move("across", up, across, None, senses=False)]
        with nullcontext() if fits else pytest.raises(KeepOutEntered):
            check_moves(planned, site(keep_outs=(low,)), spot().tool, stock_top=-60.0)


def test_a_keep_out_of_unknown_height_stays_endless(spot, site):
    """Nobody measured it."""
    with pytest.raises(KeepOutEntered):
        Surface(spot=spot()).plan(site(keep_outs=(clamp(80.0, 60.0, None),), length_known=True))


def test_after_the_first_touch_a_low_strap_is_passed_over_and_a_high_one_is_not(spot, site):
    """On the way from the flat to the wall the tip is 3 mm above the plate at least, 9 mm above the stock."""
    course = OutsideCorner(spot=spot(), assure_lead=False)
    strap = KeepOut(name="strap", low=(150.0, 116.0), high=(151.0, 118.0), height_above_stock=2.0)
    course.plan(site(keep_outs=(strap,)))
    with pytest.raises(KeepOutEntered, match="to the X wall"):
        course.plan(site(keep_outs=(replace(strap, height_above_stock=9.1),)))


def test_beside_the_lip_the_tool_goes_down_to_what_is_low(spot, site):
    """A clamp 2 mm above the stock is in the way of a tip that stands level with the stock's top."""
    with pytest.raises(KeepOutEntered, match="to the X wall"):
        OutsideCorner(spot=spot()).plan(site(keep_outs=(clamp(125.0, 112.0, 2.0, size=5.0),)))


def test_the_widest_part_of_the_tool_keeps_a_millimetre_from_every_keep_out(spot, site):
    """The clip of the test lead reaches 8 mm out: with 1 mm kept, 9 mm are needed beside the line of approach."""
    clipped = replace(spot().tool, clip_height=15.0, clip_radius=8.0)
    above = Surface(spot=spot(tool=clipped, place=Above(10.0)))
    here = Position(200.0, 150.0, -20.0)
    with pytest.raises(KeepOutEntered, match=r"comes within 8\.900 mm of 'clamp' and needs 9\.000 mm: 0\.100 mm"):
        above.plan(site(here=here, keep_outs=(clamp(208.9, 145.0, None),)))
    above.plan(site(here=here, keep_outs=(clamp(209.0, 145.0, None),)))


def test_a_tool_beside_a_keep_out_may_still_go_straight_up(spot, site):
    """Going up and away from where it stands is never refused."""
    check_way(
        [Leg(Position(50.0, 50.0, 0.0))],
        "up",
        site(here=Position(50.0, 50.0, -30.0), keep_outs=(clamp(45.0, 45.0, None),)),
        spot().tool,
    )


def test_the_widest_part_counts_shank_clip_and_nut():
    """Whatever moves with the tool."""
    tool = Tool(name="t", diameter=3.0, free_length=20.0, shank=8.0)
    assert widest(tool) == 4.0
    assert widest(replace(tool, nut_height=25.0, nut_radius=16.0)) == 16.0


# ---- a dead circuit, and the standoff -----------------------------------------------------------------------


def test_a_touch_is_refused_where_a_lead_that_is_off_would_push_the_tool_too_far(spot, site):
    """Twice the doubt and 0.5 mm: 1.3 mm of doubt push 3.1 mm, and a pin bears 3."""
    Surface(spot=spot(within=1.25)).plan(site())
    with pytest.raises(
        UnsuitableTool, match=r"if the lead is off here, the tool pushes up to 3\.100 mm.* 0\.100 mm too"
    ):
        Surface(spot=spot(within=1.3)).plan(site())


def test_a_standoff_is_the_doubt_and_a_millimetre():
    """Design: standoff ≥ start uncertainty + 1 mm."""
    check_standoff("top", standoff=2.5, within=1.5)
    with pytest.raises(StartOutsideWindow, match=r"begins 2\.400 mm .* needs 2\.500 mm: 0\.100 mm too near"):
        check_standoff("top", standoff=2.4, within=1.5)


# ---- the moves and their doubt ------------------------------------------------------------------------------


def test_the_doubt_of_a_move_is_what_the_faces_before_it_may_shift_it_by(spot, site):
    """Both walls go as deep as the top is found; the top itself is in no doubt."""
    planned = moves(OutsideCorner(spot=spot(within=0.7), assure_lead=False).plan(site()), site().here)
    senses = [move for move in planned if move.senses]
    assert [move.end_doubt.z for move in senses] == pytest.approx([0.0, 0.7, 0.7])
    assert {move.end_doubt.x for move in planned} == {0.0}


def test_the_moves_hang_together(spot, site):
    """Each begins where the one before ended, or where that touch's way out ends."""
    course = OutsideCorner(spot=spot()).plan(site())
    exits = [step.exit for step in course.foreseen() if isinstance(step, Touch)]
    planned = moves(course, site().here)
    for before, after in pairwise(planned):
        assert after.start == (exits.pop(0) if before.senses else before.end)
