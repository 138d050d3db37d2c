"""How deep a tool may stand beside a wall: each limit rules in its turn, and says so with its number."""

import math

import pytest

from gingerly.reach import blind_push, side_depth, side_objections, top_note
from gingerly.tool import Tip, Tool

PIN = Tool.pin("1/8 in", free_length=15)
CUTTER = Tool(name="cutter", diameter=3.175, free_length=15, flutes=2, helix=math.radians(30))
BALL = Tool(name="ball", diameter=6, free_length=15, tip=Tip.BALL)


def depth(tool, **changes):
    """Return the depths on a wall 14 mm high with an edge broken by 0.5 mm."""
    return side_depth(tool, **{"chamfer": 0.5, "wall_height": 14.0, "flute_faced": False} | changes)


# ---- the low end ------------------------------------------------------------------------------------------


def test_a_pin_stands_a_millimetre_below_the_broken_edge():
    assert depth(PIN).low == pytest.approx(1.5)
    assert "edge is broken by 0.500 mm" in depth(PIN).low_because


def test_a_ball_stands_a_millimetre_deeper_than_its_radius():
    assert depth(BALL).low == pytest.approx(4.0)
    assert "full diameter from 3.000 mm up" in depth(BALL).low_because


def test_a_fluted_cutter_stands_a_millimetre_deeper_than_its_flutes_cover():
    """πD/(N·tan 30°) is 8.638 mm for two flutes on 3.175 mm."""
    assert depth(CUTTER).low == pytest.approx(9.638, abs=5e-4)
    assert "over 8.638 mm" in depth(CUTTER).low_because


def test_a_flute_turned_to_the_wall_needs_no_cover():
    assert depth(CUTTER, flute_faced=True).low == pytest.approx(1.5)


def test_a_widely_broken_edge_adds_to_the_tip_since_the_two_face_each_other():
    """At 2 + 3 mm the end of a 6 mm ball is level with the end of a 2 mm chamfer; 4 mm would touch the ball."""
    assert depth(BALL, chamfer=2.0).low == pytest.approx(5.0)
    assert "2.000 + 3.000 + 0.000 mm" in depth(BALL, chamfer=2.0).low_because


def test_straight_flutes_are_refused_unless_one_faces_the_wall():
    straight = Tool(name="cutter", diameter=6, free_length=15, flutes=2)
    assert depth(straight).refusal == (
        "no depth is enough: straight flutes never cover the whole circumference; turn a flute to face the wall"
    )
    assert depth(straight, flute_faced=True).refusal is None


def test_flutes_longer_than_the_face_are_refused_however_deep_the_tool_could_go():
    """A lip 9 mm high with 0.5 mm of chamfer leaves 8.5 mm, and 8.638 mm are needed: 0.138 mm too little."""
    refused = depth(CUTTER, face_height=9.0)
    assert refused.low == math.inf
    assert refused.refusal is not None
    assert refused.refusal.endswith("8.638 mm only, and the touched face is 8.500 mm high: 0.138 mm too little")


# ---- the high end -----------------------------------------------------------------------------------------


def test_the_tip_stays_a_millimetre_above_jaw_or_bed():
    assert depth(PIN).high == pytest.approx(13.0)
    assert "wall ends 14.000 mm down" in depth(PIN).high_because


def test_the_free_length_bounds_the_depth():
    assert depth(PIN, wall_height=40.0).high == pytest.approx(15.0)
    assert "free up to 15.000 mm" in depth(PIN, wall_height=40.0).high_because


@pytest.mark.parametrize("name", ["clip", "nut"])
def test_clip_and_nut_stay_a_millimetre_above_the_edge(name):
    clamped = Tool(name="pin", diameter=3.175, free_length=15, **{f"{name}_height": 9.0})
    assert depth(clamped).high == pytest.approx(8.0)
    assert f"the {name} begins 9.000 mm above the tip" in depth(clamped).high_because


def test_clip_and_nut_stay_above_what_stands_on_the_plate_too():
    clamped = Tool(name="pin", diameter=3.175, free_length=15, clip_height=9.0)
    assert depth(clamped, standing=4.0).high == pytest.approx(4.0)
    assert depth(clamped, standing=4.0).high_because.endswith("over what stands 4.000 mm up")


# ---- room and refusal -------------------------------------------------------------------------------------


def test_where_there_is_room_nothing_is_refused():
    assert depth(PIN).room == pytest.approx(11.5)
    assert depth(PIN).refusal is None


def test_a_refusal_names_both_numbers_and_what_is_missing():
    refused = depth(CUTTER, wall_height=10.0)
    assert refused.room == pytest.approx(-0.638, abs=5e-4)
    assert refused.refusal == (
        "the tip must stand at least 9.638 mm below the wall's edge (the flutes cover the whole circumference over"
        " 8.638 mm, and 1 mm is kept), but may stand at most 9.000 mm below it (the wall ends 10.000 mm down, and"
        " 1 mm is kept): 0.638 mm are missing"
    )


@pytest.mark.parametrize(
    "wrong",
    [
        {"chamfer": -0.1},
        {"chamfer": math.nan},
        {"wall_height": math.inf},
        {"standing": -1.0},
        {"face_height": 0.0},
        {"face_height": math.nan},
    ],
)
def test_a_length_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong)).split("_")[0]):
        depth(PIN, **wrong)


# ---- objections and notes ---------------------------------------------------------------------------------


def test_a_pin_may_touch_a_wall():
    assert side_objections(PIN, depth=10.0) == ()


def test_a_v_tool_never_touches_a_wall():
    v = Tool(name="v", diameter=6, free_length=20, tip=Tip.V)
    assert side_objections(v) == ("a V tip of 60° meets a wall on its slope, at no known radius",)


def test_a_clip_below_the_edge_would_strike_before_the_flank_does():
    """A clip 8 mm out on a 3.175 mm pin reaches 6.4125 mm further than the flank."""
    clamped = Tool(name="pin", diameter=3.175, free_length=15, clip_height=9.0)
    assert side_objections(clamped, depth=9.0) == ()
    (objection,) = side_objections(clamped, depth=10.5)
    assert "the clip begins 9.000 mm above the tip" in objection
    assert objection.endswith("it reaches 6.412 mm further out, 1.500 mm below the edge")


def test_a_shoulder_below_the_edge_is_objected_to_with_how_far():
    (objection,) = side_objections(PIN, depth=15.25)
    assert objection.endswith("stand 0.250 mm below the edge")


def test_every_objection_is_named_not_only_the_first():
    v = Tool(name="v", diameter=6, free_length=8, tip=Tip.V, clip_height=9.0, nut_height=9.5)
    assert len(side_objections(v, depth=10.0)) == 4


def test_a_depth_within_its_range_meets_no_objection():
    clamped = Tool(name="pin", diameter=3.175, free_length=15, clip_height=9.0, nut_height=12.0)
    assert side_objections(clamped, depth=depth(clamped).high) == ()


def test_a_hollow_tip_is_brought_over_the_spot_by_its_edge():
    facing = Tool(name="facing cutter", diameter=50, free_length=30, tip=Tip.HOLLOW, edge_width=4)
    assert "23.000 mm beside the axis" in top_note(facing)


def test_an_ordinary_tip_needs_no_note():
    assert top_note(PIN) is None


def test_a_blind_tool_pushes_twice_the_uncertainty_and_the_margin():
    """A face 1 mm nearer than expected, and a sense that ends 1.25 mm beyond where it was expected."""
    assert blind_push(1.0, 0.25) == pytest.approx(2.25)
    assert blind_push(1.0, 0.25, 0.5) == pytest.approx(2.75)
