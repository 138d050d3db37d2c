"""Fluted cutters against figures of common practice, and against a cutter built up slice by slice."""

import math

import numpy as np
import pytest

from gingerly.tool import Tool


def cutter(flutes, diameter, core=0.6):
    """Return a cutter of 30° helix."""
    return Tool(name="cutter", diameter=diameter, free_length=30, flutes=flutes, helix=math.radians(30), core=core)


def worst_shortfall(tool, depth):
    """Return by how much a wall comes nearer than the radius before the cutter meets it, in the worst direction.

    The cutter is stacked from thin slices, each with its edges turned a little further. A wall in direction θ
    is met by whichever edge reaches furthest towards it, R·cos(θ − edge), or by the core.
    """
    turned = np.linspace(0.0, depth, 200) * math.tan(tool.helix) / tool.radius
    edges = (turned[:, None] + 2.0 * math.pi * np.arange(tool.flutes) / tool.flutes).ravel()
    walls = np.linspace(0.0, 2.0 * math.pi, 20_000)
    reach = tool.radius * np.cos(walls[:, None] - edges).max(axis=1)
    return tool.radius - max(reach.min(), tool.radius * tool.core)


@pytest.mark.parametrize(("diameter", "cover"), [(3.175, 8.6), (6.35, 17.3)])
def test_two_flutes_cover_the_circumference_from_the_depth_of_shop_tables(diameter, cover):
    """πD/(N·tan β), one decimal; common practice, no source."""
    assert cutter(2, diameter).flute_cover == pytest.approx(cover, abs=0.05)


@pytest.mark.parametrize(
    ("flutes", "diameter", "core", "shortfall"),
    [(2, 3.175, 0.6, 0.53), (2, 6.35, 0.6, 1.27), (2, 6.35, 0.1, 2.05), (4, 6.35, 0.6, 0.28)],
)
def test_a_cutter_four_millimetres_deep_reads_short_as_shop_tables_say(flutes, diameter, core, shortfall):
    """Two decimals; common practice, no source. A core of 60 % of D bounds the second; a thin one does not."""
    assert cutter(flutes, diameter, core).flute_shortfall(4.0) == pytest.approx(shortfall, abs=0.005)


@pytest.mark.parametrize("flutes", [1, 2, 3, 4])
@pytest.mark.parametrize("depth", [0.5, 2.0, 4.0, 7.0])
def test_the_formula_agrees_with_a_cutter_built_slice_by_slice(flutes, depth):
    tool = cutter(flutes, 6.0, core=0.05)
    assert tool.flute_shortfall(depth) == pytest.approx(worst_shortfall(tool, depth), abs=1e-3)
