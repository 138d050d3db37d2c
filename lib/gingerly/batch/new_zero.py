"""The last step of a batch, where somebody wants it: the tool goes above each zero that was set, for the eye to check.

Test lead and plate are off by then and nobody cuts yet; each motion waits for an answer of its own.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Iterable

from gingerly.batch.summary import PartResult, Status, StepAsked
from gingerly.driver.machine import Machine
from gingerly.job import Part
from gingerly.messages.commands import Question
from gingerly.messages.faults import PlanFault, Stands


async def look_at_zeros(
    machine: Machine,
    entries: Iterable[PartResult],
    *,
    height: float,
    asked: Callable[[StepAsked], None],
    note: Callable[[str], None],
) -> AsyncIterator[int]:
    """Move the tool to `height` mm above every zero that these parts have set, as often as a person says that it may.

    Yields the number of each work offset that was looked at. Moves nothing while test lead and plate are not
    confirmed off. A zero above which the tool must not go is noted and left out; any other fault is raised.
    """
    if machine.attached:
        note("nobody looked at the new zeros: test lead and plate are not confirmed off")
        return
    done = [entry for entry in entries if entry.status is Status.DONE]
    for number, part in _set_by(done).items():
        asked(StepAsked(part, Question.LOOK_AT_ZERO))
        if not await machine.ask(Question.LOOK_AT_ZERO):
            note(f"nobody looked at the zero of work offset {number}")
            return
        try:
            result = await machine.look_at_zero(number, height=height, tool=done[-1].part.tool)
        except PlanFault as fault:
            note(f"the tool did not go above the zero of work offset {number}: {fault.detail}")
            continue
        stands, zero = result.outcome.position, await machine.read_offset(number)
        assert stands is not None
        note(
            f"the tool stands {stands.z - zero.z:.3f} mm above the zero of work offset {number} ({part.name}):"
            " does the eye agree?"
        )
        yield number


def _set_by(entries: Iterable[PartResult]) -> dict[int, Part]:
    """Return the part that each work offset was first set for; a tool change after it only shifts the offset."""
    first: dict[int, Part] = {}
    for entry in entries:
        for offset in entry.account.offsets if entry.account is not None else ():
            if offset.stands is Stands.NEW:
                first.setdefault(offset.number, entry.part)
    return first
