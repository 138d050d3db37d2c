"""What stands against a run with nobody there is told whole, a sentence for each thing that would need a person."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from gingerly import LinkLost, OutsideEnvelope, Question, Standstill, batch, report
from gingerly import job as jobs
from gingerly.batch.unattended import objections
from gingerly.driver.result import Result, refused
from gingerly.job import Part
from gingerly.messages.facts import MachineFacts, SpindleKnowledge
from gingerly.routines import StopTest
from gingerly_mock import MockAdapter
from support.jobs import SOUND

KNOWING: MachineFacts = MockAdapter(seed=1).facts
WIRED = SOUND[: SOUND.index('[[parts]]\nname = "lid 1"')].replace(
    'routine = "reference"\n', 'routine = "reference"\nwired = true\n'
)
FLUTED = """
[[parts]]
name = "edge"
routine = "outside corner"
tool = "cutter"
flute_faced = true
plate = "none"
wired = true
stock = { size_x = 80, size_y = 60, thickness = 18, conductive = true }
place = { x = 40, y = 40, z = -45 }
offset = 1
"""


def told(text: str, facts: MachineFacts = KNOWING) -> list[str]:
    return objections(jobs.loads(text), facts)


def test_nothing_stands_against_a_wired_reference_alone() -> None:
    assert told(WIRED) == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"circuit_known": False}, "the machine cannot tell its circuit"),
        ({"spindle": SpindleKnowledge.BY_HAND}, "not measured: only a person can tell that it is still"),
        ({"alarm_known": False}, "the machine cannot tell its alarms"),
        ({"in_force_known": False}, "the machine cannot tell what is in force"),
    ],
)
def test_what_a_machine_cannot_tell_only_a_person_can(changes: dict[str, object], said: str) -> None:
    (only,) = told(WIRED, replace(KNOWING, **changes))  # type: ignore[arg-type]
    assert said in only


def test_another_tool_a_flute_to_turn_and_a_plate_to_lay_need_hands() -> None:
    plate = SOUND[SOUND.index('[[parts]]\nname = "lid 1"') : SOUND.index('[[parts]]\nname = "lid 2"')]
    found = told(WIRED + FLUTED + plate.replace("offset = 1", "offset = 2"))
    assert [line.split(" needs ")[0] for line in found] == ["part 'edge'"] * 2 + ["part 'lid 1'"] * 2
    assert "a flute to be turned" in found[0]
    assert "another tool, 'cutter'" in found[1]
    assert "the plate 'corner' to be laid on it" in found[2]


def test_a_part_that_the_lead_does_not_reach_needs_hands_before_it() -> None:
    unwired = FLUTED.replace("wired = true\n", "").replace('tool = "cutter"\nflute_faced = true\n', "")
    assert told(WIRED + unwired) == [
        "part 'edge' needs hands before it: say wired = true where the lead reaches it"
    ]


def test_a_part_that_lies_here_needs_somebody_who_brings_the_tool() -> None:
    here = FLUTED.replace("{ x = 40, y = 40, z = -45 }", '"here"\nheight = 6').replace(
        'tool = "cutter"\nflute_faced = true\n', ""
    )
    assert "part 'edge' lies \"here\": somebody would have to bring the tool" in told(WIRED + here)


def test_a_stop_test_needs_somebody_at_the_machine() -> None:
    job = jobs.loads(WIRED)
    part: Part = replace(job.parts[0], routine=StopTest(tool=job.parts[0].tool))
    found = objections(replace(job, parts=(*job.parts, part)), KNOWING)
    assert any("to press the machine's own stop" in line for line in found)


def test_a_first_part_that_is_no_fixed_reference_checks_nothing() -> None:
    (only,) = told(WIRED.replace("wired = true\n", ""))
    assert "'pad', is no known, fixed reference" in only


def test_a_machine_that_checked_its_circuit_was_moved_though_no_part_was_begun() -> None:
    summary = batch.run_blocking(jobs.loads(WIRED).with_options(faults=[{"what": "lead off"}]), unattended=True)
    assert [fault.name for fault in summary.faults] == ["NoContact"]
    assert (summary.moved, summary.moved_in_parts) == (True, False)
    refused = replace(summary.parts[0], fault=OutsideEnvelope())
    assert report.exit_code(replace(summary, parts=(refused, *summary.parts[1:]))) == report.FAULT


def test_nobody_is_sent_to_a_machine_that_may_still_move_from_being_brought() -> None:
    """A jog or a homing that nobody saw end, and then the person leaves."""
    here = FLUTED.replace("{ x = 40, y = 40, z = -45 }", '"here"\nheight = 6')
    job = jobs.loads(WIRED[: WIRED.index("[[parts]]")] + here)
    machine = batch.connect(job)

    async def brought(part: Part) -> bool:
        machine.assume_attached()
        ended = refused(LinkLost(standstill=Standstill.UNCONFIRMED))
        machine.last = Result(machine.name, "home", 1.0, replace(ended, standstill=Standstill.UNCONFIRMED))
        return False

    async def go() -> None:
        async with machine:
            doing = batch.Batch(job, machine)
            doing.bring = brought
            await doing.run()

    asyncio.run(go())
    assert Question.RELEASE not in [asked[1] for asked in machine.adapter.operator.questions]  # type: ignore[attr-defined]
    assert machine.attached
