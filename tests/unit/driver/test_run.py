"""The driver: deadlines, translation of what adapters raise, events, and what outlives a run."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

import gingerly
from gingerly import (
    Axis,
    ControllerRefused,
    Declined,
    Fault,
    Interrupted,
    NoAnswer,
    OutsideEnvelope,
    Position,
    Question,
    Standstill,
    StartOutsideWindow,
    TooEarly,
)
from gingerly.cycle import Cycle, Setup, State
from gingerly.cycle.table import expanded
from gingerly.driver.carry import Carrier
from gingerly.driver.clock import WallClock
from gingerly.driver.events import Asked, Events, FaceFound, Ordered, Replied, RunEnded, RunStarted
from gingerly.driver.run import Run
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import Arrived
from gingerly.routines.course import Site
from gingerly_mock import MockAdapter
from support.bench import PIN, bench, corner_routine, probe_corner, scene, surface_routine
from support.turns import turn


@pytest.mark.asyncio
async def test_a_corner_is_found_set_and_released():
    """From the continuity check to the release, on a machine without imperfections."""
    result, truth = await probe_corner(bench())
    assert result.fault is None
    assert result.outcome.released
    assert result.outcome.offsets[0].new == pytest.approx(truth, abs=0.004)


@pytest.mark.asyncio
async def test_a_command_that_is_never_answered_ends_at_its_deadline_in_virtual_time():
    """Nobody waits for the deadline of a machine in virtual time, and the fault names what was not answered."""
    machine = bench({"what": "answer lost", "call": "traverse", "nth": 2})
    result, _ = await probe_corner(machine)
    assert isinstance(result.fault, NoAnswer)
    assert "Traverse" in result.fault.detail
    assert isinstance(result.fault.__cause__, TimeoutError)


@pytest.mark.asyncio
async def test_what_an_adapter_raises_stays_the_cause_of_the_fault():
    """The adapter's own exception hangs on the fault, with the controller's code."""
    result, _ = await probe_corner(bench({"what": "refused", "call": "sense", "nth": 1, "detail": "31"}))
    assert isinstance(result.fault, ControllerRefused)
    assert result.fault.code == "31"
    assert isinstance(result.fault.__cause__, ControllerRefused)


class Odd(MockAdapter):
    """An adapter that breaks its contract: it raises what is no fault of the library."""

    async def sense(self, to, feed):
        raise KeyError("a bug of the adapter")


@pytest.mark.asyncio
async def test_an_exception_outside_the_contract_stops_the_machine():
    """Whatever else an adapter raises is not believed to mean anything: the run stops and says so."""
    machine = gingerly.Machine(Odd(seed=1, ideal=True), name="odd")
    machine.operator = machine.adapter.operator
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(surface_routine())
    assert isinstance(result.fault, Interrupted)
    assert "KeyError" in result.fault.detail
    assert isinstance(result.fault.__cause__, KeyError)


class Broken:
    """A routine whose last step divides by zero once the face is found."""

    def plan(self, site):
        course = surface_routine().plan(site)
        return replace(course, steps=(course.steps[0], lambda faces: 1 / 0))


@pytest.mark.asyncio
async def test_a_routine_that_fails_in_mid_run_stops_the_machine_and_says_what_failed():
    """A bug of ours is no reason to leave a machine to itself."""
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(Broken())
    assert isinstance(result.fault, Interrupted)
    assert result.fault.detail == "the cycle failed: ZeroDivisionError: division by zero"
    assert result.fault.standstill is Standstill.CONFIRMED


@pytest.mark.asyncio
async def test_a_reply_that_no_rule_is_for_stops_the_machine_and_says_which():
    """A table without the rows for the end of a back-off; the whole one has a rule for everything that can come."""
    adapter = bench().adapter
    adapter.stage(scene())
    holed = Cycle(row for row in expanded() if (row.state, row.reply) != (State.BACKING_OFF, Arrived))
    await adapter.open()
    facts, here = adapter.facts, (await adapter.look()).position
    course = surface_routine().plan(Site(facts=facts, here=here))
    setup = Setup(facts=facts, course=course, proof=Proof(frozenset(course.places), restarts=0))
    carrier = Carrier(adapter, adapter.operator, adapter.clock, "bench")
    outcome = await Run(holed, setup, carrier, adapter.clock, Events()).go()
    assert outcome.fault.detail == "no rule for Arrived while backing off"
    assert outcome.fault.standstill is Standstill.CONFIRMED


@pytest.mark.asyncio
async def test_an_answer_that_comes_before_the_motion_can_have_ended_is_noticed_on_the_machines_clock():
    result, _ = await probe_corner(bench({"what": "answer early", "call": "traverse", "nth": 2}))
    assert isinstance(result.fault, TooEarly)


@pytest.mark.asyncio
async def test_probe_raises_the_fault_and_attempt_returns_it():
    """A script that ignores results still hears of faults; whoever wants the result can ask for it."""
    machine = bench({"what": "lead off"})
    async with machine:
        machine.adapter.stage(scene())
        with pytest.raises(Fault) as caught:
            await machine.probe(surface_routine())
    assert caught.value.result is machine.last


@pytest.mark.asyncio
async def test_what_preflight_refuses_moves_nothing():
    """A course that leaves the envelope is refused with the number that is wrong."""
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(surface_routine(place=Position(295.0, 90.0, -55.0)))
    assert isinstance(result.fault, OutsideEnvelope)
    assert result.fault.standstill is Standstill.UNMOVED
    assert machine.adapter.motions == ()


@pytest.mark.asyncio
async def test_events_tell_the_run_in_order():
    """Started, then orders and replies in turn, faces as they are found, and the end."""
    machine, told = bench(), []
    machine.events.subscribe(told.append)
    await probe_corner(machine)
    assert isinstance(told[0], RunStarted)
    assert isinstance(told[-1], RunEnded)
    assert sum(isinstance(event, FaceFound) for event in told) == 4
    assert [event.question for event in told if isinstance(event, Asked)][-1] is Question.RELEASE
    orders, replies = (sum(isinstance(event, kind) for event in told) for kind in (Ordered, Replied))
    assert orders == replies
    assert [event.at_s for event in told] == sorted(event.at_s for event in told)


@pytest.mark.asyncio
async def test_a_question_that_nobody_answers_is_not_told_as_asked_and_answered():
    """It ends as declined; who listens hears of the order and of the reply alone."""
    machine, told = bench(operator="nobody"), []
    machine.events.subscribe(told.append)
    result, _ = await probe_corner(machine)
    assert isinstance(result.fault, Declined)
    assert not [event for event in told if isinstance(event, Asked)]


@pytest.mark.asyncio
async def test_an_observer_that_fails_does_not_matter(caplog):
    """Mere observers can never fail a run; their error is logged."""
    machine = bench()
    machine.events.subscribe(lambda event: 1 / 0)
    result, _ = await probe_corner(machine)
    assert result.fault is None
    assert "an observer failed" in caplog.text


@pytest.mark.asyncio
async def test_events_can_be_read_as_a_stream():
    """A notebook can iterate over the events of the run that is under way."""
    machine = bench()

    async def listen():
        return [event async for event in machine.events.stream()]

    listener = asyncio.ensure_future(listen())
    await turn()
    await probe_corner(machine)
    assert isinstance((await listener)[-1], RunEnded)


@pytest.mark.asyncio
async def test_a_proof_serves_the_next_part_until_the_plate_moves():
    """One attachment, two runs: the second asks nothing until the proof is void."""
    machine, asked = bench(), []
    machine.events.subscribe(lambda event: asked.append(event.question) if isinstance(event, Asked) else None)
    async with machine:
        machine.adapter.stage(scene())
        await machine.probe(surface_routine())
        first = len(asked)
        await machine.probe(surface_routine())
        assert len(asked) == first
        machine.void_proof()
        await machine.probe(surface_routine())
        assert len(asked) == 2 * first


@pytest.mark.asyncio
async def test_the_look_at_zero_waits_for_the_release():
    """The tool goes above the new zero only once lead and plate are confirmed off."""
    machine = bench()
    async with machine:
        truth = machine.adapter.stage(scene())
        await machine.probe(corner_routine())
        with pytest.raises(Declined):
            await machine.look_at_zero(1, height=5.0, tool=PIN)
        assert await machine.release()
        result = await machine.look_at_zero(1, height=5.0, tool=PIN)
    assert result.outcome.position == pytest.approx(truth.plus(Position(0.0, 0.0, 5.0)), abs=0.005)


async def _looked_at(routine, *, height=5.0):
    """Set an offset with `routine`, release, and look at its zero; return the result and the true corner."""
    machine = bench()
    async with machine:
        truth = machine.adapter.stage(scene())
        await machine.probe(routine)
        assert await machine.release()
        return await machine.look_at_zero(1, height=height, tool=PIN), truth


@pytest.mark.asyncio
async def test_the_look_stays_above_the_stock_where_the_zero_lies_inside_it():
    """A top that reads 25 has its zero 25 mm below; nothing watches the way down, so it ends above the face."""
    result, truth = await _looked_at(replace(corner_routine(), reads=Position(0.0, 0.0, 25.0)))
    assert result.outcome.position.z == pytest.approx(truth.z + 5.0, abs=0.02)  # the single contacts count, too


@pytest.mark.asyncio
async def test_a_zero_that_was_not_set_in_this_connection_is_not_looked_at():
    """Nobody knows what an offset from yesterday has to do with the stock that lies there now."""
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())
        await machine.probe(corner_routine())
        assert await machine.release()
        with pytest.raises(StartOutsideWindow, match="nobody knows how far the stock reaches"):
            await machine.look_at_zero(2, height=5.0, tool=PIN)


@pytest.mark.asyncio
async def test_a_zero_whose_x_and_y_come_from_elsewhere_is_not_looked_at():
    """A surface sets Z alone: nobody knows what lies below the X and Y that the offset held before."""
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())
        await machine.probe(surface_routine())
        assert await machine.release()
        with pytest.raises(StartOutsideWindow, match="were not all found"):
            await machine.look_at_zero(1, height=5.0, tool=PIN)


@pytest.mark.asyncio
async def test_an_offset_that_somebody_changed_since_is_not_looked_at():
    """What was found above the zero holds for the zero that was set, and for no other."""
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())
        await machine.probe(corner_routine())
        assert await machine.release()
        await machine.adapter.write_offset(1, {Axis.Z: -70.0})
        with pytest.raises(StartOutsideWindow, match="changed since"):
            await machine.look_at_zero(1, height=5.0, tool=PIN)


@pytest.mark.asyncio
async def test_the_wall_clock_gives_up_what_does_not_heed_its_cancellation():
    """Work that swallows its cancellation is abandoned after a grace time."""
    heeded = asyncio.Event()

    async def deaf():
        while not heeded.is_set():
            try:
                await heeded.wait()
            except asyncio.CancelledError:
                continue

    with pytest.raises(TimeoutError):
        await WallClock().bounded(deaf(), 0.0)
    heeded.set()


@pytest.mark.asyncio
async def test_the_wall_clock_passes_results_and_errors_on():
    """What is in time comes back as it is."""

    async def result():
        return 7

    async def error():
        raise ValueError("as it is")

    assert await WallClock().bounded(result(), 1.0) == 7
    with pytest.raises(ValueError, match="as it is"):
        await WallClock().bounded(error(), 1.0)


def test_an_unknown_adapter_is_refused_with_the_nearest_name():
    """A slip of the pen in an adapter's name is answered with what is installed."""
    with pytest.raises(ValueError, match=r"'mok'.*did you mean 'mock'"):
        gingerly.connect("mok")


def test_an_unknown_option_of_an_adapter_is_refused():
    """Options that the adapter does not take are named."""
    with pytest.raises(ValueError, match="sede"):
        gingerly.connect("mock", sede=3)


@pytest.mark.asyncio
async def test_the_same_seed_gives_the_same_run():
    """Two runs with one seed agree to the last bit, two seeds do not."""
    first, _ = await probe_corner(bench(seed=3, ideal=False))
    again, _ = await probe_corner(bench(seed=3, ideal=False))
    other, _ = await probe_corner(bench(seed=4, ideal=False))
    assert repr(first) == repr(again)
    assert first.outcome.offsets != other.outcome.offsets


@pytest.mark.asyncio
async def test_wishes_of_one_run_are_not_those_of_the_next():
    """What is asked for at one run is its own; the machine's own wishes serve where none are given."""
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())
        own = await machine.probe(surface_routine(), wishes=gingerly.Wishes(retouches=4))
        plain = await machine.probe(surface_routine())
    assert [len(result.outcome.faces[0].contacts) for result in (own, plain)] == [5, 3]
