"""Every fault happens when it was asked for, does what it says, and nothing else."""

import asyncio
import itertools
import math

import pytest

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.kinematics import move_time
from gingerly.messages.faults import (
    AlarmActive,
    ControllerRefused,
    ControllerRestarted,
    LinkLost,
    NoAnswer,
)
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Circuit, Spindle
from gingerly_mock import Happening, MockAdapter, What

LIP = 87.4125
SAFE = Position(84.0, 110.0, -10.0)
START = Position(84.0, 110.0, -40.0)
END = Position(92.0, 110.0, -40.0)


@pytest.fixture
def ready(open_shop, make_scene):
    """Return a function that opens a shop with faults, the pin standing beside the lip."""

    def make(*faults, **options):
        scene = options.pop("scene", None) or make_scene()
        return open_shop(scene, **({"position": list(START), "faults": list(faults)} | options))

    return make


def back(shop):
    return shop.traverse(START, 500.0)


# ---- when ----------------------------------------------------------------------------------------------------


def test_a_happening_comes_at_the_nth_call_and_for_so_many_calls(ready):
    shop = ready({"what": "refused", "call": "look", "nth": 2, "times": 2})
    outcome = []
    for _ in range(4):
        try:
            shop.look()
            outcome.append("answered")
        except ControllerRefused:
            outcome.append("refused")
    assert outcome == ["answered", "refused", "refused", "answered"]


def test_no_number_of_times_means_from_then_on(ready):
    shop = ready({"what": "refused", "call": "any", "nth": 3, "times": 0})
    shop.look()
    for call in ("look", "stop"):
        with pytest.raises(ControllerRefused):
            getattr(shop, call)()


def test_motion_counts_traverses_and_senses_together(ready):
    shop = ready({"what": "refused", "call": "motion", "nth": 2})
    shop.traverse(SAFE, None)
    with pytest.raises(ControllerRefused):
        shop.sense(START, 100.0)


def test_a_happening_of_one_blank_counts_that_blanks_calls_alone(ready, make_scene):
    shop = ready({"what": "refused", "call": "look", "nth": 2, "scene": "second"})
    shop.look()
    shop.look()
    shop.stage(make_scene(name="second"))
    shop.look()
    with pytest.raises(ControllerRefused):
        shop.look()


def test_a_happening_comes_with_the_kth_contact(ready):
    shop = ready({"what": "lead off", "contact": 2})
    shop.sense(END, 100.0)
    back(shop)
    assert shop.sense(END, 100.0).rest.circuit is Circuit.OPEN
    back(shop)
    assert isinstance(shop.sense(END, 100.0), Missed)


def test_a_happening_comes_at_its_time_even_between_calls(ready):
    shop = ready({"what": "spindle starts", "time_s": 10.0})
    assert shop.look().spindle is Spindle.STILL
    shop.clock.elapse(10.0)
    assert shop.look().spindle is Spindle.TURNING


def test_a_happening_comes_at_its_time_in_the_middle_of_a_motion(ready):
    shop = ready({"what": "alarm", "time_s": 1.0})
    with pytest.raises(AlarmActive):
        shop.sense(END, 60.0)
    expected = START.x + 1.0 - 1.0 / 2.0 / 300.0 + 1.0 / 2.0 / 300.0
    assert shop.look().position.x == pytest.approx(expected, abs=0.0026)


def test_a_happening_after_the_end_of_a_motion_does_not_come_in_it(ready):
    shop = ready({"what": "alarm", "call": "traverse", "after_mm": 50.0})
    assert shop.traverse(SAFE, None).alarm is False


@pytest.mark.parametrize(
    ("fault", "error", "named"),
    [
        ({"what": "led off"}, ValueError, "lead off"),
        ({"whatt": "chip"}, TypeError, "what"),
        ({}, ValueError, "what"),
        ({"what": "refused"}, ValueError, "say which"),
        ({"what": "restart"}, ValueError, "moment"),
        ({"what": "chip", "call": "hum"}, ValueError, "hum"),
        ({"what": "chip", "call": "look", "contact": 1}, ValueError, "more than one"),
        ({"what": "chip", "after_mm": 1.0}, ValueError, "which call"),
        ({"what": "chip", "call": "look", "nth": 0}, ValueError, "nth"),
        ({"what": "chip", "call": "look", "nth": 1.5}, ValueError, "nth"),
        ({"what": "chip", "amount": math.inf}, ValueError, "finite"),
        ({"what": "chip", "amount": True}, ValueError, "amount"),
        ({"what": "lost steps", "contact": 1, "axis": "a"}, ValueError, "axis"),
        ({"what": "foreign state", "detail": "mood"}, ValueError, "mood"),
        ("chip", ValueError, "table"),
    ],
)
def test_an_unusable_happening_is_refused(fault, error, named):
    with pytest.raises(error, match=named):
        Happening.from_plain(fault)


def test_every_happening_has_a_name_of_its_own_and_can_be_written_as_data():
    assert len({what.value for what in What}) == len(What)
    for what in What:
        plain = {"what": what.value, "call": "sense", "detail": "shift"}
        assert Happening.from_plain(plain) == Happening(what=what, call="sense", detail="shift")


# ---- circuit and metal ---------------------------------------------------------------------------------------


def test_with_the_lead_off_the_tool_pushes_to_the_end_and_nobody_sees_it(ready):
    shop = ready({"what": "lead off"})
    found = shop.sense(END, 100.0)
    assert isinstance(found, Missed)
    assert shop.deepest_penetration == pytest.approx(END.x - LIP)


def test_the_lead_falls_off_in_the_middle_of_a_sense(ready):
    shop = ready({"what": "lead off", "call": "sense", "after_mm": 2.0})
    assert isinstance(shop.sense(END, 100.0), Missed)


def test_a_lead_that_falls_off_after_the_contact_changes_nothing_in_that_sense(ready):
    shop = ready({"what": "lead off", "call": "sense", "after_mm": 3.6})
    assert isinstance(shop.sense(END, 100.0), Touched)


@pytest.mark.parametrize("contacts", [0, 1, 2])
def test_a_scene_lets_the_lead_fall_off_once_so_many_contacts_were_made(ready, make_scene, contacts):
    shop = ready(scene=make_scene(lead_off_after=contacts))
    for _ in range(contacts):
        assert shop.sense(END, 100.0).rest.circuit is Circuit.CLOSED
        back(shop)
    assert isinstance(shop.sense(END, 100.0), Missed)


def test_a_chip_keeps_the_circuit_closed_after_the_back_off(ready):
    shop = ready({"what": "chip", "contact": 1})
    shop.sense(END, 100.0)
    assert back(shop).circuit is Circuit.CLOSED


def test_a_small_chip_falls_off_a_little_farther_away(ready):
    shop = ready({"what": "chip", "contact": 1, "amount": 2.0})
    rest = shop.sense(END, 100.0).rest.position
    near = shop.traverse(Position(rest.x - 1.5, 110.0, -40.0), 100.0)
    far = shop.traverse(Position(rest.x - 2.5, 110.0, -40.0), 100.0)
    again = shop.traverse(Position(rest.x - 1.5, 110.0, -40.0), 100.0)
    assert [one.circuit for one in (near, far, again)] == [Circuit.CLOSED, Circuit.OPEN, Circuit.OPEN]


def test_noise_in_a_sense_is_latched_where_the_tool_then_was_and_does_not_last(ready):
    shop = ready({"what": "noise", "call": "sense", "after_mm": 1.0, "amount": 0.004}, sample_s=0.001)
    found = shop.sense(END, 300.0)
    assert found.contact.x - START.x == pytest.approx(1.0, abs=5.0 * 0.001 + 0.0026)
    assert found.rest.circuit is Circuit.OPEN


def test_noise_shorter_than_the_controllers_samples_may_be_overlooked(ready):
    found = [
        ready({"what": "noise", "call": "sense", "after_mm": 1.0, "amount": 0.002}, sample_s=0.01, seed=seed).sense(
            END, 300.0
        )
        for seed in range(60)
    ]
    latched = sum(one.contact.x < 86.0 for one in found)
    assert 2 < latched < 30
    assert all(one.contact.x < 86.0 or one.contact.x == pytest.approx(LIP, abs=0.06) for one in found)


def test_a_bounce_leaves_the_circuit_open_until_the_next_motion(ready):
    shop = ready({"what": "bounce", "call": "sense"})
    found = shop.sense(END, 100.0)
    assert found.contact.x == pytest.approx(LIP, abs=0.002)
    shop.clock.elapse(5.0)
    assert shop.look().circuit is Circuit.OPEN
    onward = Position(found.rest.position.x + 0.01, 110.0, -40.0)
    assert shop.traverse(onward, 100.0).circuit is Circuit.CLOSED


def test_a_bounce_by_contact_is_the_same_for_that_contact_alone(ready):
    shop = ready({"what": "bounce", "contact": 2})
    seen = []
    for _ in range(3):
        seen.append(shop.sense(END, 100.0).rest.circuit)
        back(shop)
    assert seen == [Circuit.CLOSED, Circuit.OPEN, Circuit.CLOSED]


def test_an_anodised_face_is_pushed_and_not_felt(ready):
    shop = ready({"what": "anodised"})
    assert isinstance(shop.sense(END, 100.0), Missed)
    assert shop.deepest_penetration > 4.0


def test_a_sliding_plate_makes_the_contacts_march_along_the_approach(ready):
    shop = ready({"what": "plate slides", "amount": 0.2})
    places = []
    for _ in range(3):
        found = shop.sense(END, 60.0)
        assert found.rest.circuit is Circuit.CLOSED
        places.append(found.contact.x)
        back(shop)
    assert [later - earlier for earlier, later in itertools.pairwise(places)] == pytest.approx(
        [0.2, 0.2], abs=0.003
    )


def test_staging_the_next_blank_begins_with_a_clean_gap_and_a_plate_that_stays(ready, make_scene):
    shop = ready({"what": "chip", "contact": 1}, {"what": "plate slides", "contact": 1})
    shop.sense(END, 60.0)
    back(shop)
    shop.stage(make_scene(name="next"))
    assert shop.look().circuit is Circuit.OPEN
    places = []
    for _ in range(2):
        places.append(shop.sense(END, 60.0).contact.x)
        back(shop)
    assert places == pytest.approx([LIP, LIP], abs=0.003)


def test_a_lifted_plate_is_met_higher(ready):
    shop = ready({"what": "plate lifts", "amount": 0.7})
    over = Position(120.0, 100.0, -10.0), Position(120.0, 100.0, -45.0)
    assert shop.true_contact(*over).z == pytest.approx(-34.0 + 0.7)


def test_an_unknown_circuit_is_none_from_then_on(ready):
    shop = ready({"what": "circuit unknown", "call": "look", "nth": 2})
    assert [shop.look().circuit for _ in range(3)] == [Circuit.OPEN, None, None]


# ---- the controller ------------------------------------------------------------------------------------------


def test_an_alarm_in_a_sense_brakes_and_raises_and_stays(ready):
    shop = ready({"what": "alarm", "call": "sense", "after_mm": 1.0, "detail": "drive overheated"})
    with pytest.raises(AlarmActive, match="drive overheated"):
        shop.sense(END, 300.0)
    found = shop.look()
    assert (found.idle, found.alarm, found.alarm_detail) == (True, True, "drive overheated")
    assert found.position.x - START.x == pytest.approx(1.0 + 25.0 / 600.0, abs=0.0026)


def test_an_alarm_on_a_miss_on_request(ready):
    shop = ready({"what": "alarm on miss"}, {"what": "lead off"})
    assert shop.sense(END, 300.0).rest.alarm


def test_a_sense_that_touches_leaves_no_alarm_on_a_miss(ready):
    shop = ready({"what": "alarm on miss"})
    assert shop.sense(END, 300.0).rest.alarm is False


@pytest.mark.parametrize(("what", "kept"), [("restart", Position(1.0, 2.0, 3.0)), ("restart forgetting", ORIGIN)])
def test_a_restart_stops_dead_keeps_the_position_and_loses_the_homing(ready, what, kept):
    shop = ready({"what": what, "call": "traverse", "after_mm": 5.0}, offsets={"1": [1.0, 2.0, 3.0]})
    with pytest.raises(ControllerRestarted):
        shop.traverse(SAFE, 600.0)
    found = shop.look()
    assert (found.idle, found.restarts, found.homed, shop.read_offset(1)) == (True, 1, False, kept)
    assert found.position == pytest.approx((84.0, 110.0, -35.0), abs=0.0026)


def test_a_restart_between_calls_shows_in_the_next_look(ready):
    shop = ready({"what": "restart", "time_s": 1.0})
    shop.clock.elapse(2.0)
    found = shop.look()
    assert (found.restarts, found.homed, found.idle) == (1, False, True)


@pytest.mark.parametrize("call", ["read_offset", "traverse"])
def test_a_restart_before_a_command_loses_the_command(ready, call):
    shop = ready({"what": "restart", "call": call})
    with pytest.raises(ControllerRestarted):
        getattr(shop, call)(*((1,) if call == "read_offset" else (SAFE, None)))
    assert shop.look().position == START


def test_a_position_jump_is_told_and_true(ready):
    shop = ready({"what": "position jump", "call": "look", "amount": 0.75, "axis": "y"})
    assert shop.look().position == pytest.approx((84.0, 110.75, -40.0))
    assert shop.true_position == pytest.approx((84.0, 110.75, -40.0))


def test_lost_steps_are_true_and_not_told(ready):
    shop = ready({"what": "lost steps", "call": "sense", "nth": 2, "amount": -0.5})
    first = shop.sense(END, 60.0).contact.x
    back(shop)
    second = shop.sense(END, 60.0).contact.x
    assert second - first == pytest.approx(0.5, abs=0.003)


def test_a_lost_homing_shows(ready):
    shop = ready({"what": "homing lost", "call": "look", "nth": 2})
    assert [shop.look().homed, shop.look().homed] == [True, False]


@pytest.mark.parametrize("detail", ["shift", "tool length", "override", "rotation", "inch"])
def test_a_foreign_state_shows_as_an_oddity(ready, detail):
    shop = ready({"what": "foreign state", "detail": detail})
    assert len(shop.look().in_force.oddities()) == 1


def test_an_override_truly_changes_the_feed(ready):
    shop = ready({"what": "foreign state", "detail": "override", "amount": 0.5})
    shop.traverse(SAFE, 600.0)
    assert shop.clock.now() == pytest.approx(move_time(30.0, feed=300.0, acceleration=300.0))


def test_a_motion_that_stops_short_says_where_it_is(ready):
    shop = ready({"what": "stops short", "call": "traverse", "amount": 2.0})
    found = shop.traverse(SAFE, None)
    assert (found.idle, found.position) == (True, (84.0, 110.0, -12.0))


def test_a_refusal_carries_its_code_and_does_nothing(ready):
    shop = ready({"what": "refused", "call": "traverse", "detail": "17"})
    with pytest.raises(ControllerRefused) as found:
        shop.traverse(SAFE, None)
    assert (found.value.code, shop.look().position) == ("17", START)


# ---- answers and link ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("what", "moved"), [("request lost", False), ("answer lost", True)])
def test_an_answer_that_never_comes_is_struck_by_the_deadline(ready, what, moved):
    shop = ready({"what": what, "call": "traverse"})
    with pytest.raises(TimeoutError):
        shop.bounded(50.0, "traverse", SAFE, None)
    assert shop.clock.now() == 50.0
    assert (shop.look().position == SAFE) is moved


@pytest.mark.parametrize(("what", "written"), [("request lost", 0.0), ("answer lost", 5.0)])
def test_an_unanswered_write_may_or_may_not_be_done(ready, what, written):
    shop = ready({"what": what, "call": "write_offset"})
    with pytest.raises(TimeoutError):
        shop.bounded(3.0, "write_offset", 1, {Axis.X: 5.0})
    assert shop.read_offset(1).x == written


def test_an_answer_that_never_comes_without_a_deadline_is_an_error(ready):
    with pytest.raises(RuntimeError, match="no deadline"):
        ready({"what": "answer lost", "call": "look"}).look()


def test_an_adapter_that_gives_up_says_so_in_time(ready):
    shop = ready({"what": "gives up", "call": "look"}, answer_s=1.5)
    with pytest.raises(NoAnswer):
        shop.look()
    assert shop.clock.now() == 1.5


def test_a_late_answer_is_late_by_so_many_seconds(ready):
    shop = ready({"what": "answer late", "call": "look", "amount": 0.7})
    shop.look()
    assert shop.clock.now() == pytest.approx(0.7)


def test_an_early_answer_claims_the_target_while_the_machine_still_moves(ready):
    shop = ready({"what": "answer early", "call": "traverse"})
    claimed = shop.traverse(SAFE, 600.0)
    assert shop.clock.now() == pytest.approx(0.1 * move_time(30.0, feed=600.0, acceleration=300.0))
    seen = shop.look()
    assert (claimed.idle, claimed.position) == (True, SAFE)
    assert not seen.idle
    assert seen.position.z < -30.0


def test_an_early_contact_is_told_before_the_feed_allows(ready):
    shop = ready({"what": "answer early", "call": "sense"})
    assert isinstance(shop.sense(END, 60.0), Touched)
    assert shop.clock.now() < move_time(LIP - START.x, feed=60.0, acceleration=300.0)


@pytest.mark.parametrize(
    ("fault", "moved"),
    [
        ({"what": "link lost", "call": "traverse"}, True),
        ({"what": "link lost", "call": "traverse", "after_mm": 3.0}, True),
        ({"what": "link lost unsent", "call": "traverse"}, False),
    ],
)
def test_a_lost_link_ends_every_call_and_the_motion_may_go_on(ready, fault, moved):
    shop = ready(fault)
    with pytest.raises(LinkLost):
        shop.traverse(SAFE, 600.0)
    for call, given in (("look", ()), ("stop", ()), ("write_offset", (1, {Axis.X: 1.0}))):
        with pytest.raises(LinkLost):
            getattr(shop, call)(*given)
    shop.clock.elapse(60.0)
    assert (shop.true_position == SAFE) is moved


def test_a_link_lost_in_a_sense_leaves_a_sense_that_still_stops_at_contact(ready):
    shop = ready({"what": "link lost", "call": "sense"})
    with pytest.raises(LinkLost):
        shop.sense(END, 60.0)
    shop.clock.elapse(60.0)
    assert shop.true_position.x == pytest.approx(LIP, abs=0.01)


def test_closing_and_opening_again_restores_a_lost_link(ready):
    shop = ready({"what": "link lost", "call": "look"})
    with pytest.raises(LinkLost):
        shop.look()
    shop.close()
    shop.open()
    assert shop.look().idle


def test_a_link_that_is_never_there_fails_at_opening(drive):
    adapter = MockAdapter(faults=[{"what": "link lost"}])
    with pytest.raises(LinkLost):
        drive(adapter.open())


# ---- writing and stopping ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "kept"),
    [
        ({"what": "write ignored"}, (0.0, 0.0, 0.0)),
        ({"what": "write wrong", "amount": 0.5}, (1.5, 2.0, 0.0)),
        ({"what": "write partial"}, (1.0, 0.0, 0.0)),
    ],
)
def test_a_spoiled_write_is_accepted_and_reads_back_as_it_stands(ready, fault, kept):
    shop = ready(fault | {"call": "write_offset"})
    shop.write_offset(2, {Axis.X: 1.0, Axis.Y: 2.0})
    assert shop.read_offset(2) == kept
    shop.write_offset(2, {Axis.X: 1.0, Axis.Y: 2.0})
    assert shop.read_offset(2) == (1.0, 2.0, 0.0)


def test_an_ignored_stop_is_answered_and_the_machine_goes_on(ready):
    shop = ready({"what": "stop ignored", "call": "stop"})
    with pytest.raises(TimeoutError):
        shop.bounded(0.5, "traverse", SAFE, 600.0)
    assert not shop.stop().idle
    assert shop.stop().idle
    assert shop.true_position != SAFE


def test_a_stop_that_never_answers_has_stopped_or_has_not(ready):
    for what, stopped in (("answer lost", True), ("request lost", False)):
        shop = ready({"what": what, "call": "stop"})
        with pytest.raises(TimeoutError):
            shop.bounded(0.5, "traverse", SAFE, 600.0)
        with pytest.raises(TimeoutError):
            shop.bounded(1.0, "stop")
        assert shop.look().idle is stopped


# ---- pausing -------------------------------------------------------------------------------------------------


async def paused_traverse():
    adapter = MockAdapter(ideal=True, position=list(START))
    await adapter.open()
    adapter.expect("pause", call="traverse", after_mm=10.0)
    task = asyncio.ensure_future(adapter.traverse(SAFE, 600.0))
    await asyncio.sleep(0)
    assert adapter.paused
    return adapter, task


@pytest.mark.asyncio
async def test_a_paused_call_goes_on_when_it_is_told_to():
    adapter, task = await paused_traverse()
    adapter.go_on()
    assert (await task).position == SAFE
    with pytest.raises(RuntimeError, match="nothing is paused"):
        adapter.go_on()


@pytest.mark.asyncio
async def test_a_task_cancelled_in_mid_move_leaves_the_machine_moving_and_the_adapter_usable():
    adapter, task = await paused_traverse()
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    moving = await adapter.look()
    assert not moving.idle
    assert moving.position.z == pytest.approx(-30.0, abs=0.0026)
    assert (await adapter.stop()).idle


def test_nothing_ever_suspends_but_a_pause(ready):
    shop = ready({"what": "pause", "call": "look"})
    with pytest.raises(RuntimeError, match="no running event loop"):
        shop.look()
