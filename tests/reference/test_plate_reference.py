"""The touch plate against composite centroids worked by hand and against figures of common practice."""

import numpy as np
import pytest

from gingerly.geometry import Axis, Corner, Position, centroid
from gingerly.plate import Bolt, Placement, Plate
from gingerly.stock import Stock
from gingerly.tool import Tool

SQUARE = Plate(name="square", size_a=61, size_b=61, height=10, recess_a=50, recess_b=50, recess_depth=5)
STOCK = Stock(size_x=100, size_y=100, thickness=20)


def test_the_square_aluminium_plate_has_the_lips_top_and_mass_of_common_practice():
    """61 × 61 × 10 less 50 × 50 × 5 is 24.71 cm³; at 2.70 g/cm³ that is 66.7 g."""
    assert (SQUARE.lip_a, SQUARE.lip_b, SQUARE.top) == (11, 11, 5)
    assert SQUARE.mass_and_centroid()[0] == pytest.approx(66.717, abs=1e-9)


@pytest.mark.parametrize("corner", Corner)
def test_the_square_plate_stays_on_any_corner_by_16_72_mm(corner):
    """(37 210·19.5 − 12 500·25) / 24 710 = 16.718 mm from the stock's edge."""
    margin = SQUARE.stability(Placement.SEATED, corner, STOCK)
    assert margin == pytest.approx((37210 * 19.5 - 12500 * 25) / 24710, rel=1e-12)
    assert margin == pytest.approx(16.72, abs=0.005)


def test_a_pin_at_the_square_plates_lip_stands_12_5875_mm_outside_the_stock():
    pin = Tool.pin("1/8 in", free_length=20)
    outside = SQUARE.compensation(Placement.SEATED, Corner.FRONT_LEFT, Axis.X) + pin.radius
    assert outside == pytest.approx(12.5875, abs=1e-12)


def test_a_block_with_a_hanging_lip_has_its_centroid_at_21():
    """60 × 60 × 12 from x = 0 and 12 × 60 × 20 from x = −12: (43 200·30 − 14 400·6) / 57 600 = 21."""
    block, lip = 60 * 60 * 12, 12 * 60 * 20
    volume, middle = centroid([(block, Position(30, 30, 6)), (lip, Position(-6, 30, 2))])
    assert (volume, middle.x) == pytest.approx((57600, 21.0), rel=1e-12)


def test_the_same_block_as_a_plate_with_next_to_no_second_lip_has_it_there_too():
    hanging = Plate(
        name="hanging",
        size_a=72,
        size_b=60 + 1e-7,
        height=20,
        recess_a=60,
        recess_b=60,
        recess_depth=8,
    )
    assert hanging.mass_and_centroid()[1].x == pytest.approx(21.0, abs=1e-5)


@pytest.mark.parametrize(("density", "mass"), [(2.70, 67.5), (8.50, 212.5), (7.85, 196.25)])
def test_a_block_of_aluminium_brass_or_steel_weighs_what_shop_tables_say(density, mass):
    """50 × 50 × 10 mm; densities are handbook values from memory. The recess is too small to weigh anything."""
    block = Plate(
        name="block",
        size_a=50,
        size_b=50,
        height=10,
        recess_a=1e-3,
        recess_b=1e-3,
        recess_depth=1e-3,
        density=density,
    )
    assert block.mass_and_centroid()[0] == pytest.approx(mass, abs=1e-6)


@pytest.mark.parametrize("through", [True, False])
def test_mass_and_centroid_agree_with_a_plate_cut_into_little_slivers(through):
    """Each sliver is metal or not by its middle: an independent sum, good to a few parts in ten thousand."""
    plate = Plate(
        name="slivers",
        size_a=22,
        size_b=20,
        height=8,
        recess_a=16,
        recess_b=15,
        recess_depth=4,
        relief_radius=4,
        relief_through=through,
        bolt=Bolt(8, 8, 3, 4),
    )
    mass, middle = plate.mass_and_centroid()
    counted_mass, counted_middle = by_slivers(plate, 0.05)
    assert mass == pytest.approx(counted_mass, rel=5e-4)
    assert tuple(middle) == pytest.approx(tuple(counted_middle), abs=0.005)


def by_slivers(plate, edge):
    """Return mass (g) and centroid of a plate counted sliver by sliver, each `edge` wide and 1 mm high."""
    a = np.arange(plate.recess_a - plate.size_a, plate.recess_a, edge)[:, None, None] + edge / 2
    b = np.arange(plate.recess_b - plate.size_b, plate.recess_b, edge)[None, :, None] + edge / 2
    z = np.arange(-plate.recess_depth, plate.top + plate.highest)[None, None, :] + 0.5
    grams = grams_per_mm3(plate, a, b, z) * edge**2
    return grams.sum(), [(grams * at).sum() / grams.sum() for at in (a, b, z)]


def grams_per_mm3(plate, a, b, z):
    """Return the density at points: the plate's, steel, or nothing."""
    bolt = (z > plate.top) & (np.hypot(a - plate.bolt.a, b - plate.bolt.b) < plate.bolt.radius)
    recess = (a > 0) & (b > 0) & (z < 0)
    relief = (np.hypot(a, b) < plate.relief_radius) & ((z < 0) | plate.relief_through)
    metal = (z < plate.top) & ~recess & ~relief
    return np.where(bolt, 7.85e-3, np.where(metal, plate.density / 1000.0, 0.0))
