"""The mock keeps the contract of an adapter: what it refuses, and that a refusal moves nothing."""

import asyncio

import pytest

from gingerly.driver.adapter import HasClock, Operator, Simulated
from gingerly.driver.registry import installed
from gingerly.geometry import Axis, Position
from gingerly.messages.faults import AlarmActive, ControllerRefused
from gingerly.messages.snapshot import Circuit, Spindle
from gingerly_mock import MockAdapter

HERE = Position(150.0, 100.0, 0.0)
CALLS = [
    ("look", ()),
    ("traverse", (HERE, None)),
    ("sense", (HERE, 100.0)),
    ("stop", ()),
    ("read_offset", (1,)),
    ("write_offset", (1, {Axis.X: 1.0})),
]


def refused(shop, call, *given):
    """Make a call that must be refused, check that nothing moved, and return the refusal."""
    before = shop.look().position
    with pytest.raises(ControllerRefused) as found:
        getattr(shop, call)(*given)
    assert shop.look().position == before
    return found.value


def test_the_mock_is_found_under_its_name():
    assert installed()["mock"].load() is MockAdapter


def test_the_mock_brings_a_clock_an_operator_and_a_truth(open_shop):
    adapter = open_shop().adapter
    assert isinstance(adapter, HasClock)
    assert isinstance(adapter, Simulated)
    assert isinstance(adapter.operator, Operator)


# ---- open and close ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("call", "given"), CALLS)
def test_no_call_works_before_open_or_after_close(drive, call, given):
    adapter = MockAdapter()
    with pytest.raises(RuntimeError, match=f"{call}.*not open"):
        drive(getattr(adapter, call)(*given))
    drive(adapter.open())
    drive(adapter.close())
    with pytest.raises(RuntimeError, match=f"{call}.*not open"):
        drive(getattr(adapter, call)(*given))


def test_opening_twice_is_an_error(drive):
    adapter = MockAdapter()
    drive(adapter.open())
    with pytest.raises(RuntimeError, match="open already"):
        drive(adapter.open())


def test_closing_is_allowed_at_any_time_and_again(drive):
    adapter = MockAdapter()
    drive(adapter.close())
    drive(adapter.open())
    drive(adapter.close())
    drive(adapter.close())
    drive(adapter.open())


def test_opening_moves_nothing_and_finds_a_machine_at_rest(open_shop):
    shop = open_shop()
    found = shop.look()
    assert (found.idle, found.alarm, found.circuit, found.homed, found.restarts) == (
        True,
        False,
        Circuit.OPEN,
        True,
        0,
    )
    assert shop.motions == ()


# ---- one call at a time --------------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_a_second_call_during_a_first_names_both_and_harms_neither():
    adapter = MockAdapter()
    await adapter.open()
    adapter.expect("pause", call="traverse", after_mm=10.0)
    first = asyncio.ensure_future(adapter.traverse(Position(100.0, 50.0, 0.0), None))
    await asyncio.sleep(0)
    with pytest.raises(RuntimeError, match=r"look\(\).*traverse\(\)"):
        await adapter.look()
    adapter.go_on()
    assert (await first).position == (100.0, 50.0, 0.0)
    assert (await adapter.look()).idle


# ---- what is refused -----------------------------------------------------------------------------------------


def test_a_sense_nearer_than_the_standards_least_distance_is_refused(open_shop):
    """Source: NISTIR 6556, 3.5.9.1: a probe target within 0.254 mm (0.01 in) of the current point is an error."""
    shop = open_shop(position=[150.0, 100.0, -5.0])
    assert refused(shop, "sense", Position(150.253, 100.0, -5.0), 50.0).code == "too near"
    shop.sense(Position(150.255, 100.0, -5.0), 50.0)


def test_a_sense_with_the_circuit_closed_is_refused(open_shop):
    """Source: NISTIR 6556, 4.3.6.6: a probe tripped already at the start is an error."""
    shop = open_shop()
    shop.expect("chip")
    assert refused(shop, "sense", Position(150.0, 100.0, -5.0), 50.0).code == "closed"


def test_a_sense_with_the_spindle_turning_is_refused(open_shop):
    """Source: NISTIR 6556, 4.3.6.6: a turning spindle is an error."""
    shop = open_shop()
    shop.expect("spindle starts")
    assert shop.look().spindle is Spindle.TURNING
    assert refused(shop, "sense", Position(150.0, 100.0, -5.0), 50.0).code == "spindle"


@pytest.mark.parametrize("call", ["traverse", "sense"])
def test_a_target_outside_the_envelope_is_refused_by_axis_and_amount(open_shop, call):
    found = refused(open_shop(), call, Position(150.0, 203.5, 0.0), 100.0)
    assert found.code == "limit"
    assert "3.500 mm beyond Y" in found.detail


@pytest.mark.parametrize("call", ["traverse", "sense"])
def test_no_motion_while_an_alarm_stands_and_it_stays_until_a_person_clears_it(open_shop, call):
    shop = open_shop()
    shop.expect("alarm", call="look")
    before = shop.look()
    with pytest.raises(AlarmActive):
        getattr(shop, call)(Position(150.0, 100.0, -5.0), 100.0)
    after = shop.stop()
    assert (before.alarm, after.alarm, after.position) == (True, True, before.position)


@pytest.mark.parametrize(
    ("call", "given"), [("traverse", (HERE, None)), ("sense", (HERE, 90.0)), ("write_offset", (1, {Axis.X: 1.0}))]
)
def test_commands_are_refused_while_a_motion_is_under_way(open_shop, call, given):
    shop = open_shop(position=[10.0, 10.0, 0.0])
    with pytest.raises(TimeoutError):
        shop.bounded(1.0, "traverse", Position(110.0, 10.0, 0.0), 600.0)
    with pytest.raises(ControllerRefused, match="under way"):
        getattr(shop, call)(*given)


@pytest.mark.parametrize("to", [Position(float("nan"), 0.0, 0.0), Position(0.0, float("inf"), 0.0)])
def test_a_target_that_is_no_place_is_a_callers_mistake(open_shop, to):
    shop = open_shop()
    for call in ("traverse", "sense"):
        with pytest.raises(ValueError, match="finite"):
            getattr(shop, call)(to, 100.0)


@pytest.mark.parametrize("feed", [0.0, -5.0, float("nan"), float("inf")])
def test_a_feed_that_is_none_is_a_callers_mistake(open_shop, feed):
    shop = open_shop()
    for call in ("traverse", "sense"):
        with pytest.raises(ValueError, match="feed"):
            getattr(shop, call)(Position(100.0, 100.0, 0.0), feed)


# ---- work offsets --------------------------------------------------------------------------------------------


def test_an_offset_keeps_the_axes_that_are_not_written_and_rounds_those_that_are(open_shop):
    shop = open_shop(offsets={"3": [1.0, 2.0, 3.0]}, offset_resolution=0.01)
    shop.write_offset(3, {Axis.Z: -12.3456, Axis.X: 7.0})
    assert shop.read_offset(3) == pytest.approx((7.0, 2.0, -12.35), abs=1e-12)
    assert shop.read_offset(4) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("number", [0, 10, -1, 1.0, True, "1"])
def test_there_are_offsets_one_to_nine_only(open_shop, number):
    shop = open_shop()
    with pytest.raises(ValueError, match="1 to 9"):
        shop.read_offset(number)
    with pytest.raises(ValueError, match="1 to 9"):
        shop.write_offset(number, {Axis.X: 0.0})


@pytest.mark.parametrize("axes", [{}, {Axis.X: float("nan")}])
def test_an_offset_is_not_written_without_axes_or_numbers(open_shop, axes):
    with pytest.raises(ValueError, match="offset"):
        open_shop().write_offset(1, axes)


# ---- what it cannot tell -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact", "field"),
    [
        ({"circuit_known": False}, "circuit"),
        ({"alarm_known": False}, "alarm"),
        ({"spindle": "by hand"}, "spindle"),
        ({"in_force_known": False}, "in_force"),
    ],
)
def test_what_the_facts_say_is_unknown_is_never_told(open_shop, fact, field):
    assert getattr(open_shop(**fact).look(), field) is None


def test_offsets_that_cannot_be_read_are_refused_and_still_written(open_shop):
    shop = open_shop(offsets_readable=False)
    shop.write_offset(1, {Axis.X: 5.0})
    assert refused(shop, "read_offset", 1).code == "unreadable"


def test_a_sense_works_where_the_circuit_cannot_be_told(open_shop, beside_lip):
    shop = open_shop(circuit_known=False)
    start, to = beside_lip
    shop.go(start.plus(Position(0.0, 0.0, 30.0)), start)
    assert shop.sense(to, 100.0).rest.circuit is None


def test_a_machine_that_alarms_on_a_miss_does_so(open_shop):
    shop = open_shop(alarm_on_miss=True)
    assert shop.sense(Position(150.0, 100.0, -5.0), 100.0).rest.alarm
    with pytest.raises(AlarmActive):
        shop.traverse(HERE, None)


# ---- the record ----------------------------------------------------------------------------------------------


def test_the_log_holds_every_call_its_answer_or_its_error(open_shop):
    shop = open_shop()
    answer = shop.traverse(Position(100.0, 100.0, 0.0), 500.0)
    with pytest.raises(ControllerRefused):
        shop.traverse(Position(900.0, 100.0, 0.0), 500.0)
    assert [(made.call, made.answer) for made in shop.log] == [
        ("open", None),
        ("traverse", answer),
        ("traverse", "ControllerRefused"),
    ]


def test_every_motion_is_on_record_with_its_circuit_before_and_after(open_shop, beside_lip):
    shop, (start, to) = open_shop(), beside_lip
    shop.go(start.plus(Position(0.0, 0.0, 30.0)), start)
    rest = shop.sense(to, 100.0).rest.position
    shop.go(start)
    sense, back = shop.motions[-2:]
    assert (sense.kind, sense.start, sense.target, sense.end, sense.feed) == ("sense", start, to, rest, 100.0)
    assert (sense.closed_at_start, sense.closed_at_end) == (False, True)
    assert (back.closed_at_start, back.closed_at_end, back.deepened) == (True, False, False)


def test_staging_is_refused_while_the_machine_moves(open_shop, make_scene):
    shop = open_shop(position=[10.0, 10.0, 0.0])
    with pytest.raises(TimeoutError):
        shop.bounded(1.0, "traverse", Position(110.0, 10.0, 0.0), 600.0)
    with pytest.raises(RuntimeError, match="under way"):
        shop.stage(make_scene(name="next"))


# ---- determinism ---------------------------------------------------------------------------------------------


def a_day(open_shop, make_scene, beside_lip, seed):
    shop, (start, to) = (
        open_shop(make_scene(within=1.0, skew=0.01), seed=seed, ideal=False, backlash=0.02),
        beside_lip,
    )
    for feed in (300.0, 25.0, 25.0):
        shop.go(start.plus(Position(0.0, 0.0, 30.0)), start)
        shop.sense(to, feed)
        shop.look()
        shop.go(start)
    return repr(shop.log) + repr(shop.motions) + repr(shop.deepest_penetration)


def test_the_same_seed_and_calls_give_the_same_bytes(open_shop, make_scene, beside_lip):
    assert a_day(open_shop, make_scene, beside_lip, 5) == a_day(open_shop, make_scene, beside_lip, 5)


def test_another_seed_gives_another_day(open_shop, make_scene, beside_lip):
    assert a_day(open_shop, make_scene, beside_lip, 5) != a_day(open_shop, make_scene, beside_lip, "5th")
