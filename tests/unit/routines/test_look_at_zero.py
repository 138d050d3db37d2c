"""A look at the new zero: up, across at the top of Z, and down no further than what was touched allows."""

from __future__ import annotations

import pytest

from gingerly import KeepOut, KeepOutEntered, Position, StartOutsideWindow, Tool, UnsuitableTool
from gingerly.routines.look_at_zero import LookAtZero

PIN = Tool.pin(6.0, free_length=30.0)
ZERO = Position(150.0, 100.0, -60.0)


def look(**changes):
    return LookAtZero(**{"origin": ZERO, "height": 5.0, "tool": PIN, "length_known": True, "above": 0.0} | changes)


def test_the_way_goes_up_across_and_down_to_the_height_asked_for(site):
    legs = look().plan(site()).way.legs
    assert [leg.to.z for leg in legs] == [0.0, 0.0, -55.0]
    assert legs[1].to[:2] == ZERO[:2]
    assert legs[2].feed < 300.0


def test_a_zero_below_the_face_is_looked_at_from_above_the_face(site):
    """A top that reads 25 has its zero at the stock's underside: 5 mm above that is inside the stock."""
    deep = look(origin=ZERO._replace(z=-85.0), above=25.0)
    assert deep.plan(site()).way.legs[-1].to.z == -55.0


def test_a_zero_in_the_air_is_looked_at_from_above_itself(site):
    """A face that reads -3, an allowance that was milled off before, lies below its zero."""
    assert look(above=-3.0).plan(site()).way.legs[-1].to.z == -55.0


def test_where_nobody_knows_what_stands_above_the_zero_nothing_goes_down(site):
    """A zero whose Z comes from elsewhere may lie deep inside the stock."""
    with pytest.raises(StartOutsideWindow, match="how far the stock reaches above the zero"):
        look(above=None).plan(site())


def test_a_tool_that_never_touched_z_goes_nowhere_near(site):
    with pytest.raises(UnsuitableTool, match="nobody knows where its tip is"):
        look(length_known=False).plan(site())


def test_a_look_too_low_is_refused(site):
    with pytest.raises(
        StartOutsideWindow, match=r"needs 2 mm of height .* 1\.5 mm were asked for: 0\.5 mm too low"
    ):
        look(height=1.5).plan(site())


def test_keep_outs_count_on_the_way_as_endless_columns(site):
    post = KeepOut(name="post", low=(80.0, 60.0), high=(90.0, 70.0), height_above_stock=-30.0)
    with pytest.raises(KeepOutEntered, match="to the zero"):
        look().plan(site(keep_outs=(post,)))
