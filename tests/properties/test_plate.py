"""The plate turned to every corner, and its window tried point by point against the metal that is there."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gingerly.geometry import Axis, Corner
from gingerly.plate import Bolt, Placement, Plate
from gingerly.stock import Stock
from gingerly.tool import Tool

CORNERS = st.sampled_from(Corner)
PLACEMENTS = st.sampled_from(Placement)


def mm(low, high):
    """Lengths between two limits, in whole micrometres."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda micrometres: micrometres / 1000.0)


@st.composite
def plates(draw):
    """Plates with any lips, recess, relief and bolt."""
    lip_a, lip_b, recess_a, recess_b = (draw(mm(low, high)) for low, high in ((6, 30), (6, 30), (15, 80), (15, 80)))
    recess_depth, top = draw(mm(1, 10)), draw(mm(2, 10))
    bolts = st.builds(Bolt, mm(-lip_a, recess_a), mm(-lip_b, recess_b), mm(1, 5), mm(1, 10))
    return Plate(
        name="any",
        size_a=lip_a + recess_a,
        size_b=lip_b + recess_b,
        height=recess_depth + top,
        recess_a=recess_a,
        recess_b=recess_b,
        recess_depth=recess_depth,
        relief_radius=draw(st.just(0.0) | mm(0.1, 5)),
        relief_through=draw(st.booleans()),
        bolt=draw(st.none() | bolts),
        chamfer=draw(mm(0, 1.5)),
    )


STOCKS = st.builds(Stock, size_x=mm(5, 150), size_y=mm(5, 150), thickness=mm(2, 40))
TOOLS = st.builds(
    Tool,
    name=st.just("any"),
    diameter=mm(0.5, 12),
    free_length=mm(13, 40),
    clip_height=st.none() | mm(1, 30),
)


@given(plates(), CORNERS, PLACEMENTS, mm(-50, 50), mm(-50, 50))
def test_to_the_machine_and_back_is_nothing(plate, corner, placement, a, b):
    there = plate.to_machine(corner, a, b, placement)
    assert plate.from_machine(corner, *there, placement) == pytest.approx((a, b), abs=1e-9)


@given(plates(), CORNERS, PLACEMENTS, mm(-50, 50), mm(-50, 50))
def test_laying_a_plate_down_keeps_its_distances(plate, corner, placement, a, b):
    start, end = plate.to_machine(corner, 0, 0, placement), plate.to_machine(corner, a, b, placement)
    assert math.dist(start, end) == pytest.approx(math.hypot(a, b), abs=1e-9)


@given(plates(), CORNERS, mm(-200, 200), mm(-200, 200), mm(0.5, 12))
def test_a_pin_at_either_lip_always_gives_the_stocks_corner_when_compensated(plate, corner, x, y, diameter):
    """The plate's outline is turned here by complex numbers; its outermost points are what the pin touches."""
    turn = 1j**corner.quarter_turns
    outline = [
        complex(x, y) + complex(a, b) * turn
        for a in (plate.recess_a - plate.size_a, plate.recess_a)
        for b in (plate.recess_b - plate.size_b, plate.recess_b)
    ]
    for axis, inward, along in ((Axis.X, corner.inward[0], "real"), (Axis.Y, corner.inward[1], "imag")):
        outermost = min(inward * getattr(point, along) for point in outline) * inward
        pin = outermost - inward * diameter / 2
        found = pin + inward * (diameter / 2 + plate.compensation(Placement.SEATED, corner, axis))
        assert found == pytest.approx((x, y)[axis], abs=1e-9)


@given(plates(), CORNERS, STOCKS)
def test_stock_turned_along_with_the_plate_carries_it_alike(plate, corner, stock):
    swapped = Stock(size_x=stock.size_y, size_y=stock.size_x, thickness=stock.thickness)
    next_corner = next(other for other in Corner if other.quarter_turns == (corner.quarter_turns + 1) % 4)
    for placement in Placement:
        here, there = plate.stability(placement, corner, stock), plate.stability(placement, next_corner, swapped)
        assert here == pytest.approx(there, abs=1e-9)


@given(plates(), PLACEMENTS, CORNERS, TOOLS, STOCKS, st.tuples(st.floats(0, 1), st.floats(0, 1)))
def test_inside_the_window_the_whole_tip_stands_on_supported_metal_off_hole_and_bolt(
    plate, placement, corner, tool, stock, share
):
    """Brute force: points of the tip's disc, each asked whether flat metal and support are there."""
    window = plate.spot_window(placement, corner, tool, stock)
    assume(window.low_a < window.high_a and window.low_b < window.high_b)
    a = window.low_a + share[0] * (window.high_a - window.low_a)
    b = window.low_b + share[1] * (window.high_b - window.low_b)
    assume(window.margin(a, b) > 0.0)
    for point_a, point_b in disc(a, b, tool.radius):
        assert is_flat_metal(plate, placement, point_a, point_b)
        assert is_supported(plate, placement, corner, stock, point_a, point_b)
    assert clears_what_stands_up(plate, placement, tool, a, b)


@given(plates(), PLACEMENTS, CORNERS, TOOLS, STOCKS)
def test_the_windows_middle_is_at_least_as_deep_as_its_other_places(plate, placement, corner, tool, stock):
    window = plate.spot_window(placement, corner, tool, stock)
    best = window.margin(*window.middle())
    tries = np.random.default_rng(1).uniform(0.0, 1.0, (60, 2))
    spacing = math.hypot(window.high_a - window.low_a, window.high_b - window.low_b) / 24.0
    for u, v in tries:
        a, b = window.low_a + u * (window.high_a - window.low_a), window.low_b + v * (window.high_b - window.low_b)
        assert window.margin(a, b) <= best + spacing + 1e-9


@given(plates(), PLACEMENTS, CORNERS, STOCKS)
def test_an_objection_is_made_exactly_where_a_rule_is_broken(plate, placement, corner, stock):
    """The rules, written out: half a millimetre below the lips, no bolt beneath, a millimetre of support."""
    broken = [
        placement is Placement.SEATED and stock.proud < plate.recess_depth + 0.5,
        placement is Placement.FLIPPED and plate.bolt is not None,
        plate.stability(placement, corner, stock) < 1.0,
    ]
    assert len(plate.objections(placement, corner, stock)) == sum(broken)


@given(plates(), PLACEMENTS, CORNERS, STOCKS)
def test_a_plate_stays_exactly_where_its_centroid_has_support_about_it(plate, placement, corner, stock):
    """Rays from the centroid: with a positive margin, every point that far away is still supported."""
    margin = plate.stability(placement, corner, stock)
    _, middle = plate.mass_and_centroid()
    if margin > 1e-6:
        for a, b in disc(middle.x, middle.y, margin * (1.0 - 1e-9)):
            assert is_supported(plate, placement, corner, stock, a, b)
    elif margin < -1e-6:
        assert not is_supported(plate, placement, corner, stock, middle.x, middle.y)


# ---- the metal, told independently ------------------------------------------------------------------------


def disc(a, b, radius):
    """Return points of a disc, its rim included."""
    angles = np.linspace(0.0, 2.0 * math.pi, 48, endpoint=False)
    return [
        (a + share * radius * math.cos(t), b + share * radius * math.sin(t))
        for share in (0, 0.5, 1)
        for t in angles
    ]


def is_flat_metal(plate, placement, a, b):
    """Return whether the face that looks up is flat metal at a point: off recess walls, edges, hole and bolt."""
    if plate.relief_through and math.hypot(a, b) < plate.relief_radius:
        return False
    if placement is Placement.FLIPPED:
        return 0 < a < plate.recess_a and 0 < b < plate.recess_b
    if plate.bolt is not None and math.hypot(a - plate.bolt.a, b - plate.bolt.b) < plate.bolt.radius:
        return False
    low_a, low_b = plate.recess_a - plate.size_a, plate.recess_b - plate.size_b
    edge = plate.chamfer
    return low_a + edge < a < plate.recess_a - edge and low_b + edge < b < plate.recess_b - edge


def is_supported(plate, placement, corner, stock, a, b):
    """Return whether a push at a point cannot tip the plate: it lies in the hull of what rests on the stock.

    Whether a point lies in a hull is asked by directions: in every direction something that rests must reach
    at least as far as the point does.
    """
    resting = np.array(resting_points(plate, placement, corner, stock))
    angles = np.linspace(0.0, 2.0 * math.pi, 720, endpoint=False)
    directions = np.stack((np.cos(angles), np.sin(angles)))
    return bool(((resting @ directions).max(axis=0) >= np.array((a, b)) @ directions - 1e-9).all())


def resting_points(plate, placement, corner, stock):
    """Return the corners of the rectangles in which plate and stock touch, in plate coordinates."""
    low_a, low_b = plate.recess_a - plate.size_a, plate.recess_b - plate.size_b
    ends = [
        plate.from_machine(corner, *(s * size for s, size in zip(corner.inward, extent, strict=True)), placement)
        for extent in ((0, 0), (stock.size_x, stock.size_y))
    ]
    (near_a, near_b), (far_a, far_b) = ends
    rests = {
        Placement.SEATED: [(0, plate.recess_a, 0, plate.recess_b)],
        Placement.FLAT: [(low_a, 0, low_b, plate.recess_b), (low_a, plate.recess_a, low_b, 0)],
        Placement.FLIPPED: [(low_a, plate.recess_a, low_b, plate.recess_b)],
    }[placement]
    return [
        (a, b)
        for low_x, high_x, low_y, high_y in rests
        for a in (max(low_x, near_a), min(high_x, far_a))
        for b in (max(low_y, near_b), min(high_y, far_b))
    ]


def clears_what_stands_up(plate, placement, tool, a, b):
    """Return whether the tool, slice by slice, clears the bolt or the lips that stand beside the touched face."""
    if placement is Placement.FLIPPED:
        beside, height = min(a, b), plate.recess_depth
    elif plate.bolt is not None:
        beside, height = math.hypot(a - plate.bolt.a, b - plate.bolt.b) - plate.bolt.radius, plate.bolt.height
    else:
        return True
    return all(tool.radius_at(height * step / 100.0) < beside for step in range(101))
