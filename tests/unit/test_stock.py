"""The blank: its sizes and how high it stands."""

import math

import pytest

from gingerly.stock import Stock


def test_stock_stands_proud_by_its_thickness_less_the_jaws():
    assert Stock(size_x=100, size_y=80, thickness=20, jaw_height=12.5).proud == pytest.approx(7.5, abs=1e-12)


def test_sizes_given_as_text_are_kept_in_millimetres():
    stock = Stock(size_x="4 in", size_y="80 mm", thickness="3/4 in", jaw_height="1/2 in")
    assert (stock.size_x, stock.size_y, stock.thickness, stock.jaw_height) == pytest.approx(
        (101.6, 80, 19.05, 12.7)
    )


@pytest.mark.parametrize("name", ["size_x", "size_y", "thickness"])
@pytest.mark.parametrize("value", [0, -1, math.nan, math.inf, "six", None, True])
def test_a_size_that_cannot_be_is_refused_by_name(name, value):
    sizes = {"size_x": 100, "size_y": 80, "thickness": 20, name: value}
    with pytest.raises(ValueError, match=f"^stock {name} "):
        Stock(**sizes)


@pytest.mark.parametrize("value", [-0.1, 20, 25, math.nan, math.inf, "high"])
def test_jaws_as_high_as_the_stock_are_refused(value):
    with pytest.raises(ValueError, match=r"^stock jaw_height "):
        Stock(size_x=100, size_y=80, thickness=20, jaw_height=value)


def test_stock_cannot_be_changed_once_made():
    stock = Stock(size_x=100, size_y=80, thickness=20)
    with pytest.raises(AttributeError):
        stock.thickness = 10
