"""Both halves of the stop test as one result: what each showed, and how long both took."""

from __future__ import annotations

import asyncio

import pytest

from gingerly import Answer, Interrupted, Position, Question, Standstill
from gingerly.driver.events import RunEnded, RunStarted
from gingerly.driver.first_day import attempt
from gingerly.routines.stop_test import StopTest
from support.bench import PIN, bench
from support.turns import until


@pytest.mark.asyncio
async def test_both_rises_are_told_as_one_result_with_the_time_that_both_took() -> None:
    machine, events = bench(position=LOW), []
    machine.events.subscribe(events.append)
    async with machine:
        result = await attempt(machine, StopTest(tool=PIN))
    times = [event.at_s for event in events if isinstance(event, RunStarted | RunEnded)]
    _, first, own = zip(times[::2], times[1::2], strict=True)
    assert result.duration_s == pytest.approx(first[1] - first[0] + own[1] - own[0])
    assert (result.routine, result.outcome.touches) == ("stop test", 1)
    assert [name for name, _ in result.outcome.measures] == ["ran on", "alarm after"]


LOW = Position(150.0, 100.0, -60.0)


class Hesitates:
    """Does all that is asked but for pressing the machine's own stop: there it never answers."""

    def __init__(self, machine):
        self.does, self.asked = machine.operator, []

    async def ask(self, question: Question, machine: str) -> Answer:
        self.asked.append(question)
        if question is Question.PRESS_STOP:
            await asyncio.Event().wait()
        return await self.does.ask(question, machine)


@pytest.mark.asyncio
async def test_ctrl_c_between_both_rises_says_that_the_machine_stands_where_the_first_has_left_it() -> None:
    machine = bench(position=LOW)
    machine.operator = person = Hesitates(machine)
    async with machine:
        testing = asyncio.ensure_future(attempt(machine, StopTest(tool=PIN)))
        await until(lambda: Question.PRESS_STOP in person.asked)
        first = machine.last
        testing.cancel()
        await asyncio.wait({testing})
    fault = machine.last.fault
    assert isinstance(fault, Interrupted)
    assert (fault.standstill, fault.stands_at) == (Standstill.CONFIRMED, first.outcome.position)
    assert (fault.state, fault.done) == ("stop test", "nothing was moved since the first rise")


@pytest.mark.asyncio
async def test_ctrl_c_in_the_second_rise_keeps_what_its_own_run_has_seen() -> None:
    machine = bench({"what": "pause", "call": "sense", "nth": 2, "after_mm": 0.3}, position=LOW)
    async with machine:
        testing = asyncio.ensure_future(attempt(machine, StopTest(tool=PIN)))
        await until(lambda: machine.adapter.paused)
        testing.cancel()
        await asyncio.wait({testing})
    assert isinstance(machine.last.fault, Interrupted)
    assert machine.last.fault.state == "approaching"
    assert machine.last.outcome.standstill is Standstill.CONFIRMED
