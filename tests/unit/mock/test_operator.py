"""The virtual operator does what a yes says, and only that."""

import math

import pytest

from gingerly.geometry import Position
from gingerly.messages.commands import Answer, Question
from gingerly.messages.snapshot import Circuit, Spindle
from gingerly.stock import Stock

OVER = Position(120.0, 100.0, 0.0), Position(120.0, 100.0, -45.0)


def plate_is_there(shop):
    return shop.true_contact(*OVER).z == pytest.approx(-34.0)


@pytest.mark.parametrize("question", [Question.CLOSE_AT_TIP, Question.CLOSE_AT_FLANK])
def test_bringing_the_plate_to_the_tool_closes_the_circuit_and_seating_it_opens_it(open_shop, question):
    shop = open_shop()
    assert shop.ask(question) is Answer.YES
    assert (shop.look().circuit, plate_is_there(shop)) == (Circuit.CLOSED, False)
    assert shop.ask(Question.CLEAR) is Answer.YES
    assert (shop.look().circuit, plate_is_there(shop)) == (Circuit.OPEN, True)


def test_taking_the_plate_away_again_opens_the_circuit_and_seats_nothing(open_shop):
    shop = open_shop()
    shop.ask(Question.CLOSE_AT_TIP)
    assert shop.ask(Question.OPEN) is Answer.YES
    assert (shop.look().circuit, plate_is_there(shop)) == (Circuit.OPEN, False)


@pytest.mark.parametrize("trouble", ["lead off", "anodised"])
def test_nothing_closes_with_the_lead_off_or_an_insulating_skin(open_shop, trouble):
    shop = open_shop(faults=[{"what": trouble}])
    shop.ask(Question.CLOSE_AT_TIP)
    assert shop.look().circuit is Circuit.OPEN


@pytest.mark.parametrize(("conducts", "circuit"), [(True, Circuit.CLOSED), (False, Circuit.OPEN)])
def test_bridging_the_stock_closes_the_circuit_only_if_it_conducts(open_shop, make_scene, conducts, circuit):
    stock = Stock(size_x=100.0, size_y=80.0, thickness=20.0, conductive=conducts)
    shop = open_shop(make_scene(plate=None, stock=stock))
    shop.ask(Question.CLOSE_AT_STOCK)
    assert shop.look().circuit is circuit


def test_without_a_plate_nothing_can_be_brought_to_the_tip(open_shop, make_scene):
    shop = open_shop(make_scene(plate=None))
    shop.ask(Question.CLOSE_AT_TIP)
    assert shop.look().circuit is Circuit.OPEN


def test_clearing_locks_the_spindle(open_shop):
    shop = open_shop()
    shop.expect("spindle starts", call="look")
    assert shop.look().spindle is Spindle.TURNING
    shop.ask(Question.CLEAR)
    assert shop.look().spindle is Spindle.STILL


def test_releasing_takes_lead_and_plate_off_and_staging_puts_them_back(open_shop, make_scene):
    shop = open_shop()
    shop.ask(Question.RELEASE)
    assert not plate_is_there(shop)
    shop.ask(Question.CLOSE_AT_TIP)
    assert shop.look().circuit is Circuit.OPEN
    shop.stage(make_scene(name="next"))
    assert plate_is_there(shop)
    shop.ask(Question.CLOSE_AT_TIP)
    assert shop.look().circuit is Circuit.CLOSED


def test_whoever_answers_no_has_done_nothing(open_shop):
    shop = open_shop(operator={"answers": {"close at tip": "no"}})
    assert shop.ask(Question.CLOSE_AT_TIP) is Answer.NO
    assert (shop.look().circuit, plate_is_there(shop)) == (Circuit.OPEN, True)


def test_answers_are_given_in_turn_and_the_last_one_over_and_over(open_shop):
    shop = open_shop(operator={"answers": {"close at tip": ["no", "waive"]}})
    assert [shop.ask(Question.CLOSE_AT_TIP) for _ in range(3)] == [Answer.NO, Answer.WAIVE, Answer.WAIVE]


def test_whoever_forgets_says_yes_and_has_done_nothing(open_shop):
    shop = open_shop(operator={"forgets": ["clear"]})
    shop.ask(Question.CLOSE_AT_TIP)
    assert shop.ask(Question.CLEAR) is Answer.YES
    assert (shop.look().circuit, plate_is_there(shop)) == (Circuit.CLOSED, False)


def test_a_person_takes_virtual_seconds(open_shop):
    shop = open_shop(operator={"seconds": 4.0, "seconds_for": {"release": 30.0}})
    shop.ask(Question.CLEAR)
    shop.ask(Question.RELEASE)
    assert shop.clock.now() == 34.0


def test_a_person_who_has_left_never_answers(open_shop, drive):
    shop = open_shop(operator={"seconds": math.inf})
    asked = shop.adapter.operator.ask(Question.CLEAR, "bench")
    with pytest.raises(TimeoutError):
        drive(shop.adapter.clock.bounded(asked, 60.0))
    assert shop.adapter.operator.questions == [(0.0, Question.CLEAR, None)]


def test_the_operator_remembers_what_was_asked(open_shop):
    shop = open_shop(operator={"seconds": 1.0})
    shop.ask(Question.CLEAR)
    assert shop.adapter.operator.questions == [(1.0, Question.CLEAR, Answer.YES)]


@pytest.mark.parametrize(
    ("habits", "error"),
    [
        ({"answer": {}}, TypeError),
        ({"answers": {"close": "yes"}}, ValueError),
        ({"answers": {"clear": "maybe"}}, ValueError),
        ({"answers": {"clear": []}}, ValueError),
        ({"forgets": ["tea"]}, ValueError),
        ({"seconds": -1.0}, ValueError),
        ("lazy", ValueError),
    ],
)
def test_unusable_habits_are_refused(open_shop, habits, error):
    with pytest.raises(error):
        open_shop(operator=habits)
