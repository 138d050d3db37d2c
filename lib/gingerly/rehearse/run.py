"""One rehearsed run: the whole job on a virtual machine of its own, and how far off every axis truly was."""

from __future__ import annotations

import random
from collections.abc import Coroutine, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

from gingerly.batch import PartResult, Summary
from gingerly.driver.adapter import Adapter
from gingerly.driver.registry import installed
from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.job import Job
from gingerly.rehearse.quick import Plans, QuickBatch, QuickMachine
from gingerly.rehearse.script import Script
from gingerly.routines import ToolChange
from gingerly.uncertainty.dice import drawn

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class AxisRecord:
    """One axis that one part found: its `error` in mm, and the half width (mm) that was stated, where one was."""

    part: str
    axis: str
    error: float
    half_width: float | None

    @property
    def inside(self) -> bool:
        """Whether the error lies within what was stated; False where nothing was."""
        return self.half_width is not None and abs(self.error) <= self.half_width

    @property
    def badness(self) -> float:
        """The error in units of what was stated."""
        return abs(self.error) / self.half_width if self.half_width else 0.0


@dataclass(frozen=True, slots=True)
class RunRecord:
    """How run `number` went: whether the whole job came out as it should, and what there is to know of it.

    `faults` names every fault that was no part of the show; `machine_s` is on the machine's clock; `deepest` is the
    most that the tool was pushed past a surface (mm).
    """

    number: int
    done: bool
    faults: tuple[str, ...]
    axes: tuple[AxisRecord, ...]
    machine_s: float
    deepest: float

    @property
    def badness(self) -> float:
        """The largest error of the run, in units of what was stated."""
        return max((axis.badness for axis in self.axes), default=0.0)


def rehearsed(script: Script, number: int) -> RunRecord:
    """Move a virtual machine through run `number` of a script, and return how it went."""
    summary, adapter = played(script, number)
    dice = random.Random(f"{script.world(number)}/afterwards")
    shift = _afterwards(script.job, adapter, dice)
    return RunRecord(
        number=number,
        done=summary.complete and not summary.faults,
        faults=tuple(fault.name for fault in summary.faults),
        axes=tuple(record for entry in summary.parts for record in _axes(entry, shift)),
        machine_s=summary.duration_s,
        deepest=max((entry.deepest for entry in summary.parts if entry.deepest is not None), default=0.0),
    )


def played(script: Script, number: int) -> tuple[Summary, Adapter]:
    """Move a virtual machine through run `number`, and return the whole account and the machine it was made on."""
    job, plans = script.job, _plans(script)
    adapter = _mock()(**plans.with_facts(script.options(number)))
    plans.facts = adapter.facts

    async def work() -> Summary:
        machine = QuickMachine(
            adapter, name=job.machine.name, operator=adapter.operator, keep_outs=job.keep_outs, doubts=job.doubts
        )
        machine.plans = plans
        async with machine:
            return await QuickBatch(job, machine).run()

    return at_once(work()), adapter


_last: list[tuple[Script, Plans]] = []


def _plans(script: Script) -> Plans:
    """Return what was planned for this very script in this process."""
    if not _last or _last[0][0] is not script:
        _last[:] = [(script, Plans())]
    return _last[0][1]


@cache
def _mock() -> Any:
    return installed()["mock"].load()


def at_once(work: Coroutine[Any, Any, T]) -> T:
    """Run a coroutine to its end without an event loop: on a machine in virtual time nothing ever waits.

    Raises `RuntimeError` where something waits all the same.
    """
    try:
        while True:
            if work.send(None) is not None:
                work.close()
                raise RuntimeError("a rehearsal waits for nothing, and something in it did")
    except StopIteration as done:
        result: T = done.value
        return result


def _afterwards(job: Job, adapter: Any, dice: random.Random) -> Position:
    """Return how far the work's zero lies from the true corner by the time of the cut, in mm.

    By then the spindle has grown and the machine was homed anew; and work approached along s meets the face where
    the position says s times half the backlash more: where that is not settled, it is approached either way.
    """
    doubts, play = job.doubts, adapter.true_backlash
    shift = ORIGIN
    for axis in Axis:
        side = doubts.approach[axis] or dice.choice((-1, 1))
        shift = shift.with_axes({axis: side * play[axis] / 2.0 + drawn(dice, doubts.rehoming)})
    return shift.plus(Position(0.0, 0.0, drawn(dice, doubts.spindle_growth)))


def _axes(entry: PartResult, shift: Position) -> Iterator[AxisRecord]:
    """Yield what one part found; a difference between two touches is not shifted by what comes afterwards."""
    result = entry.result
    if result is None or result.fault is not None:
        return
    stated, truth = result.statements, dict(entry.truth)
    offsets = result.outcome.offsets
    kept = offsets[0].read if len(offsets) == 1 else None
    for axis, found in entry.found:
        if axis not in truth:
            continue
        # What stands in the controller counts, rounded as it keeps it.
        error = (found if kept is None or isinstance(entry.part.routine, ToolChange) else kept[axis]) - truth[axis]
        later = 0.0 if isinstance(entry.part.routine, ToolChange) else shift[axis]
        statement = stated.get(axis.name)
        half_width = statement.half_width if statement is not None else None
        yield AxisRecord(entry.part.name, axis.name, error - later, half_width)
