"""The tool's profile: how wide it is at every height, and how much of its circumference is there."""

import math

import pytest

from gingerly.tool import Tip, Tool


def tool(**changes):
    """Return a 6 mm pin, 20 mm free, with some of its properties changed."""
    return Tool(**{"name": "pin", "diameter": 6.0, "free_length": 20.0} | changes)


# ---- sizes ------------------------------------------------------------------------------------------------


def test_sizes_given_as_text_are_kept_in_millimetres():
    found = tool(diameter="1/4 in", free_length="20 mm", shank="1/2 in", clip_height="1 in")
    assert (found.radius, found.free_length, found.shank, found.clip_height) == pytest.approx(
        (3.175, 20, 12.7, 25.4)
    )


def test_a_pin_is_plain_and_flat():
    pin = Tool.pin("1/8 in", free_length="20 mm")
    assert (pin.diameter, pin.flutes, pin.tip) == (pytest.approx(3.175), 0, Tip.FLAT)


@pytest.mark.parametrize(
    "name",
    [
        "diameter",
        "free_length",
        "shank",
        "clip_height",
        "clip_radius",
        "nut_height",
        "nut_radius",
        "edge_width",
        "overtravel",
        "miss_limit",
    ],
)
@pytest.mark.parametrize("value", [0, -1, math.nan, math.inf, "thick", True])
def test_a_size_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"^tool {name} "):
        tool(**{name: value})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *(("flutes", value) for value in (-1, 25, 2.0, True, "two", None)),
        *(("helix", value) for value in (-0.1, math.pi / 2, math.nan, "30°", None)),
        *(("core", value) for value in (0.0, 1.1, math.nan, "60 %")),
        *(("v_angle", value) for value in (0.0, math.pi, math.inf, "60°")),
        *(("tip", value) for value in ("ball", None, 2)),
    ],
)
def test_a_cutter_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"^tool {name} "):
        tool(**{name: value})


def test_a_tip_longer_than_the_free_length_is_refused_with_both_numbers():
    """The tip of a 60° V of 12 mm is 6/tan 30° = 10.39 mm high."""
    with pytest.raises(ValueError, match=r"free_length \(8 mm\) must reach above the tip.* 10\.3923 mm"):
        tool(tip=Tip.V, diameter=12.0, free_length=8.0)


# ---- profile ----------------------------------------------------------------------------------------------


def test_nothing_is_below_the_tip():
    assert tool().radius_at(-0.001) == 0.0


def test_a_flat_tip_has_its_whole_radius_from_the_very_end():
    assert tool().radius_at(0.0) == 3.0


@pytest.mark.parametrize(("height", "radius"), [(0.0, 0.0), (0.6, 1.8), (1.2, 2.4), (3.0, 3.0), (10.0, 3.0)])
def test_a_ball_widens_as_a_circle_does(height, radius):
    """On a circle of radius 3, (3 − h)² + r² = 9: the triples 2.4² + 1.8² and 1.8² + 2.4²."""
    assert tool(tip=Tip.BALL).radius_at(height) == pytest.approx(radius, abs=1e-12)


def test_a_right_angled_v_is_as_wide_as_it_is_high():
    v = tool(tip=Tip.V, v_angle=math.radians(90))
    assert [v.radius_at(height) for height in (0.0, 1.0, 2.5, 7.0)] == pytest.approx([0.0, 1.0, 2.5, 3.0])


@pytest.mark.parametrize(
    ("changes", "height"),
    [
        ({}, 0.0),
        ({"tip": Tip.HOLLOW}, 0.0),
        ({"tip": Tip.BALL}, 3.0),
        ({"tip": Tip.V}, 3.0 / math.tan(math.pi / 6)),
    ],
)
def test_the_tip_ends_where_the_full_diameter_begins(changes, height):
    assert tool(**changes).tip_height == pytest.approx(height, abs=1e-12)
    assert tool(**changes).radius_at(tool(**changes).tip_height + 1e-9) == pytest.approx(3.0, abs=1e-8)


def test_above_the_free_length_comes_the_shank():
    assert [tool(shank=10.0).radius_at(height) for height in (20.0, 20.1)] == [3.0, 5.0]


def test_a_thinner_shank_counts_as_no_thinner_than_the_tool():
    assert tool(shank=3.0).radius_at(25.0) == 3.0


def test_the_clip_counts_wherever_it_sits_even_below_the_free_length():
    assert [tool(clip_height=12.0).radius_at(height) for height in (11.9, 12.0, 30.0)] == [3.0, 8.0, 8.0]


def test_the_nut_is_above_the_clip_and_wider():
    clamped = tool(clip_height=12.0, nut_height=25.0)
    assert [clamped.radius_at(height) for height in (24.9, 25.0)] == [8.0, 15.0]


def test_a_clip_no_wider_than_the_tool_obstructs_nothing():
    assert tool(diameter=20.0, clip_height=5.0).obstructions == ()


@pytest.mark.parametrize(
    ("changes", "height"),
    [
        ({}, 20.0),
        ({"clip_height": 12.0}, 12.0),
        ({"nut_height": 9.0, "clip_height": 12.0}, 9.0),
        ({"nut_height": 30.0}, 20.0),
    ],
)
def test_the_tool_is_free_up_to_whatever_comes_first(changes, height):
    assert tool(**changes).obstruction_height == height


def test_the_widest_place_of_a_range_is_its_upper_end():
    assert tool(tip=Tip.BALL, clip_height=12.0).widest(0.0, 1.2) == pytest.approx(2.4, abs=1e-12)
    assert tool(tip=Tip.BALL, clip_height=12.0).widest(0.0, 12.0) == 8.0


def test_a_range_of_heights_upside_down_is_refused():
    with pytest.raises(ValueError, match=r"not at 2 … 1 mm"):
        tool().widest(2.0, 1.0)


# ---- flutes -----------------------------------------------------------------------------------------------


def test_a_plain_pin_never_reads_short():
    assert (tool().flute_cover, tool().flute_shortfall(0.1)) == (0.0, 0.0)


def test_straight_flutes_never_cover_the_circumference():
    assert tool(flutes=2).flute_cover == math.inf
    assert tool(flutes=2).flute_shortfall(1000.0) == pytest.approx(3.0 * 0.4)


def test_flutes_that_cover_the_wall_do_not_read_short():
    cutter = tool(flutes=3, helix=math.radians(40))
    assert cutter.flute_shortfall(cutter.flute_cover) == 0.0
    assert cutter.flute_shortfall(cutter.flute_cover * 0.99) > 0.0


def test_the_core_bounds_how_short_a_cutter_can_read():
    assert tool(flutes=2, core=0.8).flute_shortfall(0.0) == pytest.approx(3.0 * 0.2)


def test_a_hollow_tip_meets_a_flat_under_the_middle_of_its_edge():
    """A 50 mm facing cutter whose edges reach 4 mm inward meets it 25 − 2 = 23 mm beside its axis."""
    assert tool(diameter=50.0, tip=Tip.HOLLOW, edge_width=4.0).spot_offset == pytest.approx(23.0)


def test_any_other_tip_meets_a_flat_on_its_axis():
    assert [tool(tip=tip).spot_offset for tip in (Tip.FLAT, Tip.BALL, Tip.V)] == [0.0, 0.0, 0.0]
