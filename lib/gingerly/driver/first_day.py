"""The stop test of the first day, both halves of it, with the person who makes it: told, asked, and only then moved.

First the circuit is checked on the bench, standing still. Then the tool rises until lead and plate are touched
together, and once more until the machine's own stop is pressed. Each rise is announced by a question of its own.
"""

from __future__ import annotations

import asyncio
from dataclasses import replace

from gingerly.cycle.explain import asked_in_vain
from gingerly.driver.machine import Machine
from gingerly.driver.result import Result
from gingerly.messages.commands import Question
from gingerly.messages.faults import Declined, Fault, Interrupted, LinkLost, NoAnswer, Standstill
from gingerly.messages.touches import Place
from gingerly.planner import Wishes
from gingerly.routines import Routine
from gingerly.routines.stop_test import StopTest, in_words

CUT_OFF = (
    "Look at the machine. If its own stop takes the controller's power, or its cable's, this is how it shows: noticed,"
    " with nobody left to say that the machine stands."
)
"""What to check first where the controller fell silent while the machine's own stop was tried."""

SINCE_THE_FIRST_RISE = "nothing was moved since the first rise"


async def stop_test(machine: Machine, test: StopTest, *, wishes: Wishes | None = None) -> Result:
    """Move the tool up twice in free air, as the person agrees to it, and return what both rises have shown.

    Raises a `PlanFault` before anything is asked where there is no room above, `Declined` where the person says no,
    `NotStopped` where a rise went to its end, and any other fault of the runs.
    """
    test.plan(machine.site((await machine.look()).position, wishes=wishes))
    await machine.continuity((Place.BENCH,))
    await _agreed(machine, Question.RISE)
    first = await machine.stop_test(test, wishes=wishes)
    try:
        await _agreed(machine, Question.PRESS_STOP)
        second = await machine.own_stop_test(test, wishes=wishes)
    except asyncio.CancelledError:
        last = machine.last or first
        machine.last = _moved_before(last, last.fault or Interrupted("at a question", state="stop test"))
        raise
    except Fault as fault:
        fault.result = _moved_before(fault.result if isinstance(fault.result, Result) else first, fault)
        fault.done += f"; before that, {'; '.join(in_words(first.outcome.measures))}"
        if isinstance(fault, LinkLost | NoAnswer):
            fault.advice = CUT_OFF
        raise
    outcome = replace(
        second.outcome,
        touches=first.outcome.touches,  # a touch in the second half would have ended it in a fault
        measures=first.outcome.measures + second.outcome.measures,
    )
    return replace(second, routine="stop test", duration_s=first.duration_s + second.duration_s, outcome=outcome)


def _moved_before(result: Result, fault: Fault) -> Result:
    """Return the result of a second half that ended in `fault`: where it moved nothing itself, the first half did."""
    if fault.standstill is Standstill.UNMOVED:
        fault.standstill = Standstill.CONFIRMED  # the first rise ended so, and nothing has moved since
        fault.done = SINCE_THE_FIRST_RISE
    fault.stands_at = fault.stands_at or result.outcome.position
    outcome = replace(result.outcome, fault=fault, standstill=fault.standstill)
    return replace(result, outcome=outcome)


async def attempt(machine: Machine, routine: Routine, *, wishes: Wishes | None = None) -> Result:
    """Move through a routine, the stop test among them, and return its result, whether or not it ends in a fault.

    Raises a fault of the stop test that came outside any run.
    """
    if not isinstance(routine, StopTest):
        return await machine.attempt(routine, wishes=wishes)
    try:
        return await stop_test(machine, routine, wishes=wishes)
    except Fault as fault:
        if isinstance(fault.result, Result):
            return fault.result
        raise


async def _agreed(machine: Machine, question: Question) -> None:
    if not await machine.ask(question):
        raise Declined(asked_in_vain(question), state="stop test", done="no further motion was ordered")
