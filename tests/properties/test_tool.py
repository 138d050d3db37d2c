"""Profiles that never shrink, flutes that read short less and less, depths that always fit."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gingerly.reach import side_depth, side_objections
from gingerly.tool import Tip, Tool


def mm(low, high):
    """Lengths between two limits, in whole micrometres."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda micrometres: micrometres / 1000.0)


@st.composite
def tools(draw):
    """Every kind of tool that can be made."""
    tip, diameter, v_angle = draw(st.sampled_from(Tip)), draw(mm(0.5, 25)), draw(st.floats(0.5, 2.5))
    shortest = {Tip.BALL: diameter / 2, Tip.V: diameter / 2 / math.tan(v_angle / 2)}.get(tip, 0.0)
    return Tool(
        name="any",
        tip=tip,
        diameter=diameter,
        v_angle=v_angle,
        free_length=shortest + draw(mm(1, 40)),
        shank=draw(st.none() | mm(1, 30)),
        flutes=draw(st.integers(0, 6)),
        helix=draw(st.just(0.0) | st.floats(0.1, 1.0)),
        clip_height=draw(st.none() | mm(1, 60)),
        clip_radius=draw(mm(0.1, 20)),
        nut_height=draw(st.none() | mm(1, 60)),
        nut_radius=draw(mm(0.1, 40)),
    )


@given(tools(), mm(-5, 80), mm(-5, 80))
def test_no_radius_shrinks_with_height(tool, one, other):
    low, high = sorted((one, other))
    assert tool.radius_at(low) <= tool.radius_at(high) + 1e-12


@given(tools(), mm(0, 80), mm(0, 80))
def test_the_widest_radius_is_the_largest_of_many(tool, one, other):
    low, high = sorted((one, other))
    steps = [low + (high - low) * step / 200.0 for step in range(200)] + [high]
    assert tool.widest(low, high) == pytest.approx(max(map(tool.radius_at, steps)), abs=1e-12)


@given(tools(), st.floats(0, 1, exclude_max=True))
def test_below_every_obstruction_the_tool_is_no_wider_than_its_diameter(tool, share):
    assert tool.radius_at(share * tool.obstruction_height) <= tool.radius + 1e-12


@given(tools(), st.floats(0, 1))
def test_between_tip_and_obstruction_the_tool_has_its_diameter(tool, share):
    assume(tool.tip_height < tool.obstruction_height)
    height = tool.tip_height + share * (tool.obstruction_height - tool.tip_height)
    assume(tool.tip_height + 1e-6 < height < tool.obstruction_height)
    assert tool.radius_at(height) == pytest.approx(tool.radius, rel=1e-9)


@given(tools(), mm(0, 60), mm(0, 60))
def test_a_deeper_touch_never_reads_shorter(tool, one, other):
    shallow, deep = sorted((one, other))
    assert 0.0 <= tool.flute_shortfall(deep) <= tool.flute_shortfall(shallow) + 1e-12
    assert tool.flute_shortfall(shallow) <= tool.radius * (1.0 - tool.core) + 1e-12


@given(tools(), mm(0, 3), mm(2, 60), mm(2, 40), st.booleans(), st.floats(0, 1))
def test_any_depth_in_the_range_keeps_every_rule(tool, chamfer, wall_height, face_height, faced, share):
    """The rules are written out one by one here; the range is only their outcome."""
    depths = side_depth(tool, chamfer=chamfer, wall_height=wall_height, face_height=face_height, flute_faced=faced)
    assume(depths.refusal is None)
    depth = depths.low + share * depths.room
    assert depth >= max(chamfer, tool.tip_height) + 1.0 - 1e-9
    assert depth <= wall_height - 1.0 + 1e-9
    assert side_objections(tool, depth=depth - 1e-9) in ((), side_objections(tool))
    in_touch = min(depth - tool.tip_height, face_height) - chamfer
    assert faced or tool.flute_shortfall(in_touch + 1e-9) == 0.0


@given(tools(), mm(0, 3), mm(2, 60), st.booleans())
def test_a_refusal_is_given_exactly_where_there_is_no_room(tool, chamfer, wall_height, faced):
    depths = side_depth(tool, chamfer=chamfer, wall_height=wall_height, flute_faced=faced)
    assert (depths.refusal is None) == (depths.low <= depths.high)
