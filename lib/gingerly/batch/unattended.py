"""What a run without a person may do: nothing that would need one, on a circuit that the machine has checked.

It checks it before the first part, and again after every fault that a part was skipped for: a slow touch of the
job's first part, a fixed, wired reference.
"""

from __future__ import annotations

from collections.abc import Iterator

from gingerly.batch.stage import Stage
from gingerly.driver.machine import Machine
from gingerly.geometry import Position
from gingerly.job import Job, Part
from gingerly.messages.facts import MachineFacts, SpindleKnowledge
from gingerly.routines import StopTest
from gingerly.routines.self_check import SelfCheck


def objections(job: Job, facts: MachineFacts) -> list[str]:
    """Return everything in a job, and about its machine, that needs a person; a sentence each."""
    return [*_of_the_machine(facts), *_of_the_reference(job.parts[0]), *_of_the_parts(job)]


def _of_the_machine(facts: MachineFacts) -> Iterator[str]:
    if not facts.circuit_known:
        yield "the machine cannot tell its circuit, and only a person can waive that"
    if facts.spindle is not SpindleKnowledge.MEASURED:
        yield f"the spindle is {facts.spindle.value}, not measured: only a person can tell that it is still"
    if not facts.alarm_known:
        yield "the machine cannot tell its alarms"
    if not facts.in_force_known:
        yield "the machine cannot tell what is in force, and only a person can see that nothing is"


def _of_the_reference(part: Part) -> Iterator[str]:
    fixed = part.kind == "reference" and part.wired and part.spot.plate is None
    if not fixed or not isinstance(part.spot.place, Position):
        yield (
            f'the first part, {part.name!r}, is no known, fixed reference: begin with routine = "reference",'
            ' plate = "none", wired = true and a place, for the machine\'s own check of the circuit'
        )


def _of_the_parts(job: Job) -> Iterator[str]:
    before: Part | None = None
    for part in job.parts:
        name = f"part {part.name!r}"
        if isinstance(part.routine, StopTest):
            yield f"{name} needs somebody to touch lead and plate together, and to press the machine's own stop"
        if part.here:
            yield f'{name} lies "here": somebody would have to bring the tool'
        if part.spot.plate is not None:
            yield f"{name} needs the plate {part.spot.plate.name!r} to be laid on it"
        if getattr(part.routine, "flute_faced", False):
            yield f"{name} needs a flute to be turned to each wall"
        if before is not None and part.tool != before.tool:
            yield f"{name} needs another tool, {part.tool.name!r}"
        if before is not None and part.spot.plate is None and not part.same_setting(before):
            yield f"{name} needs hands before it: say wired = true where the lead reaches it"
        before = part


async def check_circuit(machine: Machine, job: Job, stage: Stage | None = None) -> None:
    """Move the tool slowly onto the job's first part, the reference, and prove the circuit so.

    `stage` sets the reference up on a simulated machine. Raises the fault where the circuit cannot be proved.
    """
    reference = job.parts[0]
    if stage is not None:
        stage.set_up(reference, (await machine.look()).position)
    await machine.self_check(SelfCheck(spot=reference.spot))
