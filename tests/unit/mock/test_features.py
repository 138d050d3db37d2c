"""What is milled into the blank, or stands on it, is met where it is and nowhere else."""

import math

import pytest

from gingerly.budgets import Doubts
from gingerly.driver.adapter import Feature
from gingerly.geometry import Corner, Position
from gingerly.stock import Stock
from gingerly_mock import Bore, Boss, Island, Pocket

PLACE = Position(100.0, 80.0, -40.0)
RADIUS = 3.175 / 2.0
CORNERS = pytest.mark.parametrize("corner", list(Corner))


@pytest.fixture
def milled(open_shop, make_scene):
    """Return a function that stages a bare blank at a corner and gives it a feature."""

    def make(feature, corner=Corner.FRONT_LEFT):
        stock = Stock(size_x=100.0, size_y=80.0, thickness=20.0, conductive=True)
        shop = open_shop(make_scene(corner=corner, plate=None, stock=stock))
        shop.adapter.mill(feature)
        return shop

    return make


def at(corner, x, y, z):
    """The point x and y mm inward from the corner, z above the top."""
    return PLACE.plus(Position(corner.inward[0] * x, corner.inward[1] * y, z))


def met(shop, corner, start, end):
    """How far from the start a tool on this line first meets something; None: never."""
    contact = shop.adapter.true_contact(at(corner, *start), at(corner, *end))
    return None if contact is None else at(corner, *start).distance(contact)


@CORNERS
def test_a_bore_is_free_to_its_wall_and_its_floor(milled, corner):
    """30 mm across less the pin, 12 mm deep; beside it the top is where it was."""
    shop = milled(Bore(60.0, 30.0, 30.0, 12.0), corner)
    assert met(shop, corner, (60, 30, 5), (60, 30, -15)) == pytest.approx(17.0)
    assert met(shop, corner, (60, 30, -6), (90, 30, -6)) == pytest.approx(15.0 - RADIUS)
    assert met(shop, corner, (60, 30, -6), (60, 0, -6)) == pytest.approx(15.0 - RADIUS)
    assert met(shop, corner, (20, 20, 5), (20, 20, -15)) == pytest.approx(5.0)


@CORNERS
def test_a_boss_stands_on_a_lower_blank(milled, corner):
    """24 mm across and the pin, 8 mm high."""
    shop = milled(Boss(60.0, 30.0, 24.0, 8.0), corner)
    assert met(shop, corner, (60, 30, 5), (60, 30, -15)) == pytest.approx(5.0)
    assert met(shop, corner, (20, 20, 5), (20, 20, -15)) == pytest.approx(13.0)
    assert met(shop, corner, (20, 30, -4), (60, 30, -4)) == pytest.approx(40.0 - 12.0 - RADIUS)


@CORNERS
def test_a_pocket_has_four_walls_and_a_floor(milled, corner):
    """Wider along X than along Y, at every corner."""
    shop = milled(Pocket(50.0, 40.0, 40.0, 20.0, 9.0), corner)
    assert met(shop, corner, (50, 40, 5), (50, 40, -15)) == pytest.approx(14.0)
    for end, half in (((90, 40), 20.0), ((10, 40), 20.0), ((50, 75), 10.0), ((50, 5), 10.0)):
        assert met(shop, corner, (50, 40, -6), (*end, -6)) == pytest.approx(half - RADIUS)


@CORNERS
def test_an_island_stands_on_a_lower_blank(milled, corner):
    """Wider along X than along Y, at every corner."""
    shop = milled(Island(50.0, 40.0, 40.0, 10.0, 9.0), corner)
    assert met(shop, corner, (50, 40, 5), (50, 40, -15)) == pytest.approx(5.0)
    assert met(shop, corner, (5, 40, -6), (50, 40, -6)) == pytest.approx(25.0 - RADIUS)
    assert met(shop, corner, (50, 5, -6), (50, 40, -6)) == pytest.approx(30.0 - RADIUS)


def test_the_next_blank_is_plain_again(milled, make_scene):
    shop = milled(Pocket(50.0, 40.0, 40.0, 20.0, 9.0))
    shop.adapter.stage(make_scene(plate=None))
    assert met(shop, Corner.FRONT_LEFT, (50, 40, 5), (50, 40, -15)) == pytest.approx(5.0)


def test_a_move_of_no_length_inside_a_bore_touches_nothing(milled):
    """It has no direction, and the tool stands free."""
    shop = milled(Bore(60.0, 30.0, 30.0, 12.0))
    shop.go(PLACE.plus(Position(60.0, 30.0, 10.0)), PLACE.plus(Position(60.0, 30.0, -5.0)))
    stayed = shop.go(PLACE.plus(Position(60.0, 30.0, -5.0)))
    assert stayed.circuit.value == "open"


# ---- with all that is in doubt ------------------------------------------------------------------------------


def drawn_bore(open_shop, make_scene, corner, seed):
    """A bore 200 mm along X and 40 mm along Y from a corner of a long, bare blank, whose doubts are drawn."""
    stock = Stock(size_x=260.0, size_y=80.0, thickness=20.0, conductive=True)
    feature = Feature("bore", (200.0, 40.0), (20.0, 20.0), 15.0)
    place = Position(20.0 if corner.inward[0] > 0 else 290.0, PLACE.y, PLACE.z)
    return open_shop(
        make_scene(corner=corner, plate=None, stock=stock, feature=feature, place=place, within=0.5),
        seed=seed,
        doubts=Doubts(),
    )


@CORNERS
def test_a_feature_lies_within_what_is_said_of_it_however_the_blank_is_turned(open_shop, make_scene, corner):
    """It is the feature whose place is said: the corner is then wherever skew puts it, up to 1 mm further off."""
    corners = []
    for seed in range(40):
        truth = drawn_bore(open_shop, make_scene, corner, seed).adapter
        centre = Position(200.0 * corner.inward[0], 40.0 * corner.inward[1], 0.0)
        place = Position(20.0 if corner.inward[0] > 0 else 290.0, PLACE.y, PLACE.z)
        away = truth.true_corner.plus(centre.turned(truth.true_skew)).minus(place.plus(centre))
        assert max(abs(away.x), abs(away.y)) <= 0.5 + 1e-9, f"seed {seed}"
        corners.append(abs(truth.true_corner.y - place.y))
    assert max(corners) > 0.5


def test_touches_of_one_spot_feel_one_wall_whichever_way_a_motor_step_turns_them(open_shop, make_scene):
    """A wall's form is drawn once for each place, and places a degree apart are two."""
    world = drawn_bore(open_shop, make_scene, Corner.FRONT_LEFT, 1).adapter._machine.world

    def towards(degrees):
        return Position(math.cos(math.radians(degrees)), math.sin(math.radians(degrees)), 0.0)

    for middle in (0.0, 51.5, 179.5, 359.7):
        assert len({world.bulge(towards(middle + off)) for off in (-0.02, 0.0, 0.02)}) == 1
    assert len({world.bulge(towards(degrees)) for degrees in (20.0, 22.0, 24.0)}) == 3
