"""Touching a top face: where, from how high, and what must not be laid or touched so."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import (
    Bolt,
    Corner,
    Placement,
    Position,
    StartOutsideWindow,
    Stock,
    Surface,
    Tip,
    Tool,
    UnsuitablePlate,
)
from gingerly.routines import Above
from gingerly.routines.top import HOP

FACING = Tool(name="facing cutter", diameter=20.0, free_length=30.0, tip=Tip.HOLLOW, edge_width=3.0)


def test_with_the_length_unknown_the_whole_way_down_is_the_sense(spot, site):
    """Up, across at the top of Z, and nothing down."""
    touch = Surface(spot=spot()).plan(site()).next(())
    assert [leg.to.z for leg in touch.legs] == [0.0, 0.0]
    assert touch.start.z == 0.0
    assert touch.end.z == pytest.approx(-54.0 - 1.0 - 0.5)


def test_with_the_length_known_the_tool_comes_down_to_the_hop_level_no_faster_than_a_look_allows(spot, site):
    """Four millimetres above the furthest that the plate can reach up."""
    touch = Surface(spot=spot()).plan(site(length_known=True)).next(())
    assert touch.start.z == pytest.approx(-54.0 + 1.0 + HOP)
    assert [leg.feed for leg in touch.legs] == [None, None, touch.plan.leave_feed]


def test_a_tool_brought_there_by_hand_begins_where_it_stands(spot, site):
    """Nothing moves sideways before the first touch."""
    here = Position(200.0, 150.0, -30.0)
    touch = Surface(spot=spot(place=Above(6.0))).plan(site(here=here)).next(())
    assert [leg.to for leg in touch.legs] == [here]
    assert touch.near == pytest.approx(5.0)


def test_a_start_too_near_to_the_flat_is_refused(spot, site):
    """The doubt of 1 mm and 1 mm more are needed."""
    with pytest.raises(StartOutsideWindow, match=r"begins 1\.500 mm .* needs 2\.000 mm: 0\.500 mm too near"):
        Surface(spot=spot(place=Above(1.5))).plan(site(here=Position(200.0, 150.0, -30.0)))


def test_the_top_of_z_must_leave_the_standoff(spot, site):
    """A place just below the top of Z leaves no way to approach it."""
    with pytest.raises(StartOutsideWindow, match=r"0\.500 mm too near"):
        Surface(spot=spot(place=Position(150.0, 100.0, -7.5))).plan(site())


def test_a_place_known_less_well_than_the_flat_is_wide_is_refused(spot, site):
    """Supported are 40 mm across less 3 + 1 mm from either side: 16 mm around the middle."""
    with pytest.raises(StartOutsideWindow, match=r"leaves 15\.\d+ mm of room .* within 17\.000 mm only: 1\.\d+ mm"):
        Surface(spot=spot(within=17.0)).plan(site())


# ---- plates that must not be laid so ------------------------------------------------------------------------


def test_stock_thinner_than_the_recess_is_refused(spot, site):
    """The lips, 6 mm, would stand on the bed, and Z come out too high."""
    thin = Stock(size_x=120.0, size_y=90.0, thickness=5.0)
    with pytest.raises(UnsuitablePlate, match=r"only 5\.000 mm proud.* 1\.500 mm too little"):
        Surface(spot=spot(stock=thin)).plan(site())


def test_jaws_that_hold_the_lips_up_are_refused(spot, site):
    """25 mm of stock in jaws 20 mm high stand 5 mm proud, and 6.5 are needed."""
    held = Stock(size_x=120.0, size_y=90.0, thickness=25.0, jaw_height=20.0)
    with pytest.raises(UnsuitablePlate, match=r"1\.500 mm too little"):
        Surface(spot=spot(stock=held)).plan(site())


def test_a_plate_that_tips_off_narrow_stock_is_refused(spot, site):
    """Of a plate 52 mm across only 8 mm lie on the stock."""
    narrow = Stock(size_x=8.0, size_y=90.0, thickness=25.0)
    with pytest.raises(UnsuitablePlate, match="it would tip"):
        Surface(spot=spot(stock=narrow)).plan(site())


def test_a_plate_is_not_flipped_onto_its_bolt(spot, site):
    """It would stand on it."""
    bolted = replace(spot().plate, bolt=Bolt(20.0, 20.0, 3.0, 4.0))
    with pytest.raises(UnsuitablePlate, match="stand on its bolt"):
        Surface(spot=spot(plate=bolted, placement=Placement.FLIPPED)).plan(site())


def test_stock_that_does_not_conduct_is_not_touched_bare(spot, site):
    """Without a plate there is no circuit."""
    with pytest.raises(UnsuitablePlate, match="does not conduct"):
        Surface(spot=spot(plate=None)).plan(site())


@pytest.mark.parametrize(
    ("placement", "thickness"), [(Placement.SEATED, 6.0), (Placement.FLAT, 12.0), (Placement.FLIPPED, 6.0)]
)
def test_each_placement_has_its_own_thickness_under_the_tool(spot, site, placement, thickness):
    """The top of a plate laid flat is its whole height above the stock."""
    course = Surface(spot=spot(placement=placement), offset=1).plan(site())
    touch = course.next(())
    assert (touch.near + touch.far) / 2.0 == pytest.approx(60.0 - thickness)
    (step,) = [step for step in course.foreseen() if step is not touch and step != touch]
    assert dict(step.changes[0].axes) == {2: pytest.approx(-60.0)}


# ---- tools without a centre edge ----------------------------------------------------------------------------


def test_a_facing_cutter_is_touched_under_its_edge_not_its_axis(spot, site):
    """The axis stands 8.5 mm from the spot, half-way along the inner end of the edge."""
    pin, facing = spot(), spot(tool=FACING)
    (x, y), (axis_x, axis_y) = facing.spot(), facing.axis_offset()
    assert ((axis_x - x) ** 2 + (axis_y - y) ** 2) ** 0.5 == pytest.approx(8.5)
    assert pin.spot() == pin.axis_offset()


@pytest.mark.parametrize("corner", list(Corner))
def test_the_axis_of_a_facing_cutter_stands_towards_the_middle_of_the_stock(spot, corner):
    """At every corner."""
    facing = spot(tool=FACING, corner=corner)
    (x, y), (axis_x, axis_y) = facing.spot(), facing.axis_offset()
    assert (axis_x - x) * corner.inward[0] > 0.0
    assert (axis_y - y) * corner.inward[1] > 0.0


def test_a_facing_cutter_that_would_strike_the_bolt_is_refused(spot, site):
    """Its edge is over a free spot, and its other side over the bolt."""
    bolted = replace(spot().plate, bolt=Bolt(32.0, 33.0, 3.0, 6.0))
    with pytest.raises(StartOutsideWindow, match=r"touches under its edge.* mm too near"):
        Surface(spot=spot(tool=FACING, plate=bolted)).plan(site())


# ---- a spot of one's own ------------------------------------------------------------------------------------


def test_bare_stock_may_be_touched_anywhere_inside_its_edges(bare, site):
    """So many mm inward from the corner, whichever corner that is."""
    touch = Surface(spot=bare(at=(30.0, 40.0), corner=Corner.BACK_RIGHT)).plan(site()).next(())
    assert touch.start[:2] == (120.0, 60.0)


def test_a_spot_at_the_very_edge_is_refused(bare, site):
    """Radius 3, a millimetre, and a millimetre of doubt are kept from every edge."""
    Surface(spot=bare(at=(5.0, 85.0))).plan(site())
    with pytest.raises(StartOutsideWindow, match=r"0\.100 mm too little"):
        Surface(spot=bare(at=(5.0, 85.1))).plan(site())


def test_a_plate_says_itself_where_it_is_touched(spot, site):
    """A spot of one's own is for bare stock."""
    with pytest.raises(UnsuitablePlate, match="for bare stock"):
        Surface(spot=spot(at=(30.0, 40.0))).plan(site())
