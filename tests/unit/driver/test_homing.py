"""Homing that does not end well stops the machine, and never says that nothing was moved."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from gingerly import Jogger, Position
from gingerly.driver.floor import Floor
from gingerly.driver.homing import HOMING_S
from gingerly.messages.commands import Ask, Question
from gingerly.messages.faults import (
    AlarmActive,
    ControllerRefused,
    Fault,
    Interrupted,
    LinkLost,
    NoAnswer,
    Standstill,
)
from gingerly_mock import MockAdapter
from support.bench import PIN, bench
from support.turns import turn

BEGUN = [100.0, 100.0, -60.0]
HALF_WAY = Position(100.0, 100.0, -18.96)


class Homes(MockAdapter):
    """Rises half-way to its switch, and then does what a test asks for."""

    ends_with: Exception | None = None
    unheard = False

    async def home(self):
        await self.traverse(HALF_WAY, None)
        if isinstance(self.ends_with, TimeoutError):
            await self.clock.sleep(2.0 * HOMING_S)
        if self.ends_with is None:
            await asyncio.Event().wait()
        raise self.ends_with

    async def stop(self):
        if self.unheard:
            raise LinkLost
        await turn()  # a second press comes now
        return await super().stop()


def homes(ends_with=None, *, unheard=False):
    machine = bench()
    machine.adapter = Homes(ideal=True, position=BEGUN)
    machine.adapter.ends_with, machine.adapter.unheard = ends_with, unheard
    machine.clock = machine.adapter.clock
    return machine


async def cancelled(machine, presses=1):
    homing = asyncio.ensure_future(Jogger(machine, tool=PIN).home())
    for _ in range(presses):
        await asyncio.wait({homing}, timeout=0)
        homing.cancel()
    await asyncio.wait({homing})
    assert homing.cancelled()
    return machine.last


@pytest.mark.asyncio
@pytest.mark.parametrize("presses", [1, 2])
async def test_homing_that_is_cancelled_half_way_leaves_where_the_machine_was_seen_to_stand(presses):
    async with homes() as machine:
        last = await cancelled(machine, presses)
    assert isinstance(last.fault, Interrupted)
    assert last.outcome.standstill is last.fault.standstill is Standstill.CONFIRMED
    assert last.outcome.position == HALF_WAY
    assert (last.fault.state, last.fault.done) == ("homing", "told the machine to stop")


@pytest.mark.asyncio
async def test_a_stop_that_is_not_heard_leaves_a_machine_that_may_still_be_moving():
    async with homes(unheard=True) as machine:
        last = await cancelled(machine)
    assert last.outcome.standstill is Standstill.UNCONFIRMED
    assert last.fault.done == "tried to stop the machine, and was not heard"


@pytest.mark.asyncio
async def test_homing_that_takes_too_long_is_stopped_and_told_so():
    async with homes(TimeoutError()) as machine:
        with pytest.raises(NoAnswer, match=r"not over within 180 s; the machine stands still \(confirmed\)"):
            await Jogger(machine, tool=PIN).home()
    assert [call.call for call in machine.adapter.log[-2:]] == ["stop", "close"]


@pytest.mark.asyncio
@pytest.mark.parametrize("trouble", [AlarmActive("limit"), LinkLost("gone"), OSError("no contract has this")])
@pytest.mark.parametrize("unheard", [False, True])
async def test_whatever_ends_homing_half_way_has_moved_the_machine(trouble, unheard):
    async with homes(trouble, unheard=unheard) as machine:
        with pytest.raises((AlarmActive, LinkLost, Interrupted)) as found:
            await Jogger(machine, tool=PIN).home()
    seen = Standstill.UNCONFIRMED if unheard else Standstill.CONFIRMED
    assert found.value.standstill is machine.last.outcome.standstill is seen
    assert found.value.result is machine.last
    assert found.value.__cause__ is (None if isinstance(trouble, Fault) else trouble)


@pytest.mark.asyncio
@pytest.mark.parametrize("trouble", [AlarmActive("limit"), OSError("no contract has this")])
async def test_a_cancellation_that_comes_while_the_machine_is_being_stopped_goes_on_once_it_stands(trouble):
    async with homes(trouble) as machine:
        last = await cancelled(machine)
    assert isinstance(last.fault, AlarmActive | Interrupted)
    assert last.outcome.standstill is Standstill.CONFIRMED


class ReturnsEarly(Homes):
    """Says that it is at home while it still moves."""

    async def home(self):
        await self.traverse(HALF_WAY, None)

    async def look(self):
        moving = [call.call for call in self.log][-1:] == ["traverse"]
        return replace(await super().look(), idle=not moving)


@pytest.mark.asyncio
async def test_a_machine_that_still_moves_though_it_says_to_be_at_home_is_stopped():
    async with homes() as machine:
        machine.adapter = ReturnsEarly(ideal=True, position=BEGUN)
        machine.clock = machine.adapter.clock
        await machine.adapter.open()
        with pytest.raises(NoAnswer, match="the machine still moves"):
            await Jogger(machine, tool=PIN).home()
    assert "stop" in [call.call for call in machine.adapter.log]
    assert machine.last.outcome.standstill is Standstill.CONFIRMED


@pytest.mark.asyncio
async def test_homing_waits_while_hands_are_at_another_machine_of_the_floor():
    floor = Floor()
    async with bench(position=BEGUN, machine={"floor": floor}) as machine:
        async with floor.during(Ask(Question.NEXT_PART, 1.0), "another machine"):
            pass
        homing = asyncio.ensure_future(Jogger(machine, tool=PIN).home())
        for _ in range(5):
            await turn()
        assert machine.adapter.motions == ()
        floor.leave("another machine")
        await homing
        assert machine.adapter.motions


class Noting:
    """A clock that notes how long each wait may last."""

    def __init__(self, clock):
        self.now, self.sleep, self._clock, self.bounds = clock.now, clock.sleep, clock, []

    async def bounded(self, work, seconds):
        self.bounds.append(seconds)
        return await self._clock.bounded(work, seconds)


@pytest.mark.asyncio
async def test_a_stop_may_last_as_long_as_an_answer_and_the_way_to_rest_from_full_speed():
    async with homes(AlarmActive("limit")) as machine:
        machine.clock = clock = Noting(machine.clock)
        with pytest.raises(AlarmActive):
            await Jogger(machine, tool=PIN).home()
    facts = machine.facts
    assert clock.bounds == [HOMING_S, pytest.approx(facts.answer_s + facts.rapid_feed / 60.0 / facts.acceleration)]


@pytest.mark.asyncio
async def test_a_controller_that_refuses_to_home_is_looked_at_and_not_stopped():
    """On some controllers a stop is a reset."""
    async with homes(ControllerRefused("busy")) as machine:
        with pytest.raises(ControllerRefused):
            await Jogger(machine, tool=PIN).home()
    assert [call.call for call in machine.adapter.log[-3:]] == ["traverse", "look", "close"]
    assert machine.last.outcome.standstill is Standstill.CONFIRMED


@pytest.mark.asyncio
async def test_after_homing_the_machine_is_known_to_have_moved_and_to_stand():
    async with bench(position=BEGUN) as machine:
        await machine.clock.sleep(5.0)
        at = (await Jogger(machine, tool=PIN).home()).position
    assert machine.last.duration_s == pytest.approx(machine.clock.now() - 5.0)
    assert (machine.last.outcome.touches, machine.last.outcome.released) == (0, False)
    assert (machine.last.routine, machine.last.fault) == ("home", None)
    assert (machine.last.outcome.standstill, machine.last.outcome.position) == (Standstill.CONFIRMED, at)
