"""A batch accounts for every part, goes on only where that is safe, and asks for the release once, at the end."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from gingerly import Answer, Axis, Question, Standstill, batch
from gingerly import job as jobs
from gingerly.batch import Batch, Noted, PartEnded, PartStarted, StepAsked, Summary
from gingerly.budgets import CERTAIN
from gingerly.job import Job, JobError, OnFault
from support.jobs import SOUND, sound

OVERTRAVEL = 0.3
"""What a tool is allowed to run on after a contact, in mm: the default of `gingerly.Tool`."""


def job_with(*changes: tuple[str, str], **options: object) -> Job:
    """The sound job with passages of its text replaced, and options of the virtual machine added."""
    text = SOUND
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    job = jobs.loads(text).with_options(**options)
    return replace(job, doubts=CERTAIN) if options.get("ideal") else job


def statuses(summary: Summary) -> list[str]:
    return [entry.status.value for entry in summary.parts]


def questions(machine: object) -> list[Question]:
    return [question for _, question, _ in machine.adapter.operator.questions]  # type: ignore[attr-defined]


async def done(job: Job) -> tuple[Summary, list[Question]]:
    async with batch.connect(job) as machine:
        return await Batch(job, machine).run(), questions(machine)


def test_all_parts_are_done_and_found_near_the_truth() -> None:
    """On an ideal machine an origin is off by no more than a motor step and the latching at the slow feed."""
    summary = batch.run_blocking(job_with(ideal=True))
    assert statuses(summary) == ["done"] * 4
    errors = [abs(error) for entry in summary.parts for _, error in entry.errors]
    assert len(errors) == 6
    assert max(errors) < 0.006


def test_a_touched_face_reads_what_the_job_says() -> None:
    plain = batch.run_blocking(job_with(("reads = { z = 0.5 }", ""), ideal=True))
    allowed = batch.run_blocking(job_with(ideal=True))
    assert dict(plain.parts[1].found)[Axis.Z] - dict(allowed.parts[1].found)[Axis.Z] == pytest.approx(0.5, abs=1e-6)


def test_a_tool_change_shifts_every_offset_by_the_difference_of_lengths() -> None:
    summary = batch.run_blocking(sound())
    shift = dict(summary.parts[3].found)[Axis.Z]
    result = summary.parts[3].result
    assert result is not None
    moved = [state.read.z - state.old.z for state in result.outcome.offsets if state.read and state.old]
    assert moved == [pytest.approx(shift, abs=0.001)] * 2  # offsets are stored in steps of 0.001 mm


def test_a_part_after_a_tool_change_is_expected_where_the_new_tool_meets_it() -> None:
    """The new tool is about 1 mm longer: without the correction, a place known within 0.3 mm would be missed."""
    more = SOUND[SOUND.index('[[parts]]\nname = "lid 2"') :]
    late = more[: more.index('[[parts]]\nname = "cutter')].replace("lid 2", "lid 3").replace("x = 170", "x = 171")
    text = (
        SOUND.replace("tool_length_range = 0.5", "tool_length_range = 1.1")
        + "within = 1.2\n"
        + late.replace("offset = 2", 'offset = 3\ntool = "cutter"\nwithin = 0.3')
    )
    summary = batch.run_blocking(jobs.loads(text).with_options(seed=2))
    assert abs(dict(summary.parts[3].found)[Axis.Z]) > 0.5
    assert statuses(summary) == ["done"] * 5


def test_lead_and_plate_are_asked_for_once_at_the_very_end() -> None:
    summary, asked = asyncio.run(done(sound()))
    assert asked.count(Question.RELEASE) == 1
    assert asked[-1] is Question.RELEASE
    assert summary.released


def test_the_circuit_is_closed_again_after_each_move_of_the_plate_and_each_new_tool() -> None:
    _, asked = asyncio.run(done(sound()))
    closings = [asked.index(Question.CLOSE_AT_STOCK)]
    for step in [index for index, question in enumerate(asked) if question is Question.NEXT_PART]:
        following = asked[step + 1 :]
        closings.append(step + 1 + next(n for n, question in enumerate(following) if "close" in question.value))
    assert [asked[index] for index in closings] == [
        Question.CLOSE_AT_STOCK,
        Question.CLOSE_AT_TIP,
        Question.CLOSE_AT_TIP,
        Question.CLOSE_AT_STOCK,
    ]
    assert asked[closings[-1] - 1] is Question.CHANGE_TOOL


def test_parts_at_the_same_place_need_no_move_of_the_plate() -> None:
    text = SOUND[: SOUND.index('[[parts]]\nname = "lid 2"')]
    again = (
        text[text.index('[[parts]]\nname = "lid 1"') :]
        .replace("lid 1", "again")
        .replace("offset = 1", "offset = 4")
    )
    _, asked = asyncio.run(done(jobs.loads(text + again)))
    assert asked.count(Question.NEXT_PART) == 1
    assert asked.count(Question.CLOSE_AT_TIP) == 1


LEAD_OFF = ("offset = 1", 'offset = 1\non_fault = "skip"\nsimulated = { lead_off_after = 3, expect = "NoContact" }')


def test_a_part_whose_lead_fell_off_is_skipped_and_the_next_ones_are_done() -> None:
    summary, asked = asyncio.run(done(job_with(LEAD_OFF)))
    assert statuses(summary) == ["done", "skipped", "done", "done"]
    fault = summary.parts[1].fault
    assert fault is not None
    assert (fault.name, fault.standstill) == ("NoContact", Standstill.CONFIRMED)
    assert asked.count(Question.CLOSE_AT_TIP) == 2


def test_the_push_of_a_lead_that_fell_off_is_known_and_within_what_was_planned() -> None:
    """A sense ends at most twice the doubt about the place and 0.5 mm beyond where contact was possible."""
    summary = batch.run_blocking(job_with(LEAD_OFF))
    assert summary.parts[1].deepest is not None
    assert OVERTRAVEL < summary.parts[1].deepest <= 2 * 0.6 + 0.5
    assert all((entry.deepest or 0.0) <= OVERTRAVEL for entry in summary.parts if entry.fault is None)


def test_a_fault_that_is_part_of_the_show_leaves_the_batch_complete() -> None:
    assert batch.run_blocking(job_with(LEAD_OFF)).complete


def test_a_fault_that_is_expected_and_does_not_come_leaves_it_incomplete() -> None:
    summary = batch.run_blocking(job_with(("offset = 1", 'offset = 1\nsimulated = { expect = "NoContact" }')))
    assert statuses(summary) == ["done"] * 4
    assert not summary.complete


def test_without_leave_to_skip_nothing_is_begun_after_a_fault() -> None:
    summary = batch.run_blocking(job_with((LEAD_OFF[0], LEAD_OFF[1].replace("skip", "stop"))))
    assert statuses(summary) == ["done", "failed", "not begun", "not begun"]
    assert summary.released


@pytest.mark.parametrize("what", ["alarm", "restart", "position jump"])
def test_a_fault_after_which_the_machine_is_not_trusted_is_never_skipped(what: str) -> None:
    faults = [{"what": what, "call": "sense", "nth": 1, "scene": "lid 1", "after_mm": 1.0}]
    job = job_with(faults=faults)
    job = replace(job, parts=tuple(replace(part, on_fault=OnFault.SKIP) for part in job.parts))
    assert statuses(batch.run_blocking(job))[1:] == ["failed", "not begun", "not begun"]


def test_a_tool_change_without_its_reference_height_is_not_begun() -> None:
    off = ('place = { x = 220, y = 150, z = -45 }', 'place = { x = 220, y = 150, z = -45 }\non_fault = "skip"\n'
           "simulated = { lead_off_after = 0 }")  # fmt: skip
    summary = batch.run_blocking(job_with(off))
    assert statuses(summary) == ["skipped", "done", "done", "not begun"]
    assert "no height was found at 'pad'" in summary.parts[3].why


def test_one_part_that_cannot_be_planned_refuses_all_before_anything_moves() -> None:
    summary, asked = asyncio.run(done(job_with(("x = 170, y = 40", "x = 1170, y = 40"))))
    assert statuses(summary) == ["not begun", "not begun", "failed", "not begun"]
    assert not summary.moved
    assert asked == []


def test_a_part_that_cannot_be_planned_and_may_be_skipped_stops_nothing() -> None:
    summary = batch.run_blocking(
        job_with(("x = 170, y = 40, z = -45 }", 'x = 1170, y = 40, z = -45 }\non_fault = "skip"'))
    )
    assert statuses(summary) == ["done", "done", "skipped", "done"]


def test_an_operator_who_says_no_to_a_step_ends_the_batch() -> None:
    summary = batch.run_blocking(job_with(operator={"answers": {"next part": "no"}}))
    assert statuses(summary) == ["done", "failed", "not begun", "not begun"]
    assert summary.faults[0].name == "Declined"


def test_a_release_that_nobody_confirms_leaves_the_batch_unreleased() -> None:
    summary = batch.run_blocking(job_with(operator={"answers": {"release": "no"}}))
    assert summary.complete
    assert summary.set_offsets
    assert not summary.released


def test_nobody_is_sent_to_a_machine_that_may_still_be_moving() -> None:
    faults = [{"what": "link lost", "call": "sense", "nth": 2}]
    summary, asked = asyncio.run(done(job_with(faults=faults)))
    assert summary.faults[0].standstill is Standstill.UNCONFIRMED
    assert Question.RELEASE not in asked
    assert not summary.released


def test_another_operator_may_answer_for_a_virtual_machine() -> None:
    class Refuser:
        async def ask(self, question: Question, machine: str) -> Answer:
            assert machine == "cellar mill"
            return Answer.NO

    summary = batch.run_blocking(sound(), operator=Refuser())
    assert [fault.name for fault in summary.faults] == ["Declined"]


def test_events_tell_of_each_part_and_each_step() -> None:
    events: list[object] = []
    batch.run_blocking(sound(), observer=events.append)
    assert [event.part.name for event in events if isinstance(event, PartStarted)] == [
        "pad",
        "lid 1",
        "lid 2",
        "cutter in",
    ]
    assert [event.entry.status.value for event in events if isinstance(event, PartEnded)] == ["done"] * 4
    assert [event.question for event in events if isinstance(event, StepAsked)] == [
        Question.NEXT_PART,
        Question.NEXT_PART,
        Question.NEXT_PART,
        Question.CHANGE_TOOL,
    ]


def test_an_observer_that_fails_changes_nothing() -> None:
    def fail(event: object) -> None:
        raise RuntimeError("the terminal is gone")

    assert batch.run_blocking(sound(), observer=fail).complete


def test_a_real_machine_ignores_what_is_meant_for_a_simulated_one_and_says_so() -> None:
    class Plain:
        """A machine whose simulation is hidden."""

        def __init__(self, inner: object) -> None:
            self._inner = inner

        def __getattr__(self, name: str) -> object:
            if name in ("stage", "operator", "deepest_penetration"):
                raise AttributeError(name)
            return getattr(self._inner, name)

    async def go() -> tuple[Summary, list[object]]:
        job = job_with(LEAD_OFF)
        machine = batch.connect(job)
        machine.adapter = Plain(machine.adapter)  # type: ignore[assignment]
        heard: list[object] = []
        async with machine:
            return await Batch(job, machine, observer=heard.append).run(), heard

    summary, heard = asyncio.run(go())
    assert not summary.simulated
    assert "'simulated' is ignored (lid 1)" in summary.notes[0]
    assert isinstance(heard[0], Noted)


def test_a_cancelled_batch_stops_the_machine_and_still_accounts_for_every_part() -> None:
    async def go() -> Summary:
        job = job_with(faults=[{"what": "pause", "call": "sense", "nth": 2, "scene": "lid 1", "after_mm": 0.5}])
        async with batch.connect(job) as machine:
            going = Batch(job, machine)
            task = asyncio.ensure_future(going.run())
            while not machine.adapter.paused:  # type: ignore[attr-defined]  # noqa: ASYNC110
                await asyncio.sleep(0)
            task.cancel()
            await asyncio.wait({task})
            return going.summary

    summary = asyncio.run(go())
    assert summary.interrupted
    assert statuses(summary) == ["done", "failed", "not begun", "not begun"]
    fault = summary.parts[1].fault
    assert fault is not None
    assert (fault.name, fault.standstill) == ("Interrupted", Standstill.CONFIRMED)


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('adapter = "mock"', 'adapter = "mok"', "machine.adapter: no adapter is called 'mok'"),
        ("seed = 11", "sed = 11", "machine.options: adapter 'mock': the mock has no option 'sed'"),
    ],
)
def test_a_machine_that_cannot_be_had_is_a_fault_of_the_job(old: str, new: str, where: str) -> None:
    with pytest.raises(JobError) as caught:
        batch.connect(job_with((old, new)))
    assert where in str(caught.value)


def test_a_new_tool_at_the_same_place_must_close_the_circuit_again() -> None:
    text = SOUND[: SOUND.index('[[parts]]\nname = "lid 1"')] + SOUND[SOUND.index('[[parts]]\nname = "cutter in"') :]
    _, asked = asyncio.run(done(jobs.loads(text)))
    assert asked.count(Question.NEXT_PART) == 0
    assert asked.count(Question.CLOSE_AT_STOCK) == 2


def test_a_machine_is_held_until_lead_and_plate_are_confirmed_off() -> None:
    """A person who is not done yet is asked again; each asking is counted."""

    async def go(asks: int) -> tuple[Summary, list[Question]]:
        job = job_with(operator={"answers": {"release": ["no", "no", "yes"]}})
        async with batch.connect(job) as machine:
            held = Batch(job, machine)
            held.asks_for_release = asks
            return await held.run(), questions(machine)

    summary, asked = asyncio.run(go(3))
    assert (summary.released, asked.count(Question.RELEASE)) == (True, 3)
    assert "stays held" in summary.notes[-1]
    summary, asked = asyncio.run(go(2))
    assert (summary.released, asked.count(Question.RELEASE)) == (False, 2)


def test_a_batch_does_the_first_wave_alone() -> None:
    """The work offsets of a later wave are in use until the parts of this one are finished."""
    job = sound()
    parts = (*job.parts[:2], replace(job.parts[2], wave=2))
    summary = batch.run_blocking(replace(job, parts=parts))
    assert statuses(summary) == ["done", "done", "waits"]
    assert "waits until the parts of wave 1 are finished" in summary.parts[2].why


def test_each_part_is_touched_as_its_own_wishes_say() -> None:
    summary = batch.run_blocking(job_with(("offset = 2", "offset = 2\nwishes = { retouches = 5 }")))
    contacts = [len(entry.result.outcome.faces[0].contacts) for entry in summary.parts if entry.result]
    assert contacts == [3, 3, 6, 3]
