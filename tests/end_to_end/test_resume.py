"""A batch that was cut off goes on where it was, and believes nothing that it should not."""

from __future__ import annotations

import asyncio
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from gingerly import Axis, Position, Question
from gingerly import job as jobs
from gingerly.batch import Batch, Books, PartStarted, Summary
from gingerly.driver.events import Asked
from gingerly.driver.machine import Machine
from gingerly.job import Job
from gingerly.journal import Journal, Kind, open_journal, unreleased, what_was_set
from gingerly.routines import Verify
from support.command import within
from support.jobs import SOUND, sound
from support.surviving import SurvivingMachine, change, remembered

pytestmark = pytest.mark.thorough


class Bench:
    """A controller that remembers, a journal, and batches that come and go."""

    def __init__(self, folder: Path) -> None:
        self.memory = folder / "memory.json"
        self.path = folder / "journal.db"
        self.job = sound()
        self.begun: list[str] = []
        self.asked: list[Question] = []

    def batch(self, *, until: str | None = None, answers: object = None, **how: object) -> Summary:
        """Do the job, or go on with it; with `until` it is cancelled when that part begins."""
        self.begun, self.asked = [], []
        return asyncio.run(self._batch(until, answers, how))

    async def _batch(self, until: str | None, answers: object, how: dict[str, object]) -> Summary:
        machine = self.machine(answers)
        with open_journal(self.path) as journal:
            async with machine:
                books = Books(journal, self.job, machine, **how)  # type: ignore[arg-type]
                batch = Batch(self.job, machine, observer=lambda event: self._observe(event, until), books=books)
                self._task = asyncio.ensure_future(batch.run())
                await asyncio.wait({self._task})
                return batch.summary

    def _observe(self, event: object, until: str | None) -> None:
        if isinstance(event, PartStarted):
            self.begun.append(event.part.name)
            if event.part.name == until:
                self._task.cancel()
        elif isinstance(event, Asked):
            self.asked.append(event.question)

    def machine(self, answers: object = None) -> Machine:
        options = {} if answers is None else {"operator": {"answers": answers}}
        adapter = SurvivingMachine(self.memory, tool_length_range=0.5, **options)
        return Machine(adapter, name="cellar mill", operator=adapter.operator, keep_outs=self.job.keep_outs)

    def offset(self, number: int) -> list[float]:
        found: list[float] = remembered(self.memory)["offsets"][str(number)]
        return found

    def set_offset(self, number: int, place: list[float]) -> None:
        """Somebody else changes a work offset at the controller."""
        change(self.memory, offsets={**remembered(self.memory)["offsets"], str(number): place})

    def kinds(self) -> list[Kind]:
        with open_journal(self.path) as journal:
            return [entry.kind for entry in journal.entries()]


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def statuses(summary: Summary) -> list[str]:
    return [entry.status.value for entry in summary.parts]


def test_what_is_set_is_not_touched_again(bench: Bench) -> None:
    bench.batch(until="lid 2")
    summary = bench.batch(resume=True)
    assert bench.begun == ["lid 2", "cutter in"]
    assert statuses(summary) == ["set before", "set before", "done", "done"]
    assert (summary.complete, summary.released) == (True, True)


def test_a_resumed_batch_asks_for_plate_and_lead_at_its_first_part(bench: Bench) -> None:
    """Nobody knows what was done in the meantime."""
    bench.batch(until="lid 2")
    bench.batch(resume=True)
    assert bench.asked[0] is Question.NEXT_PART


def test_what_a_resumed_part_was_found_to_be_comes_from_the_journal(bench: Bench) -> None:
    first = bench.batch(until="lid 2")
    again = bench.batch(resume=True)
    assert dict(again.parts[1].found) == pytest.approx(dict(first.parts[1].found), abs=1e-5)


def test_a_resume_with_nothing_left_touches_nothing(bench: Bench) -> None:
    bench.batch()
    summary = bench.batch(resume=True)
    assert bench.begun == []
    assert summary.complete
    assert not summary.moved


def test_a_resume_without_an_earlier_run_does_all_and_says_so(bench: Bench) -> None:
    summary = bench.batch(resume=True)
    assert statuses(summary) == ["done"] * 4
    assert "knows no earlier run" in summary.notes[0]


def test_a_run_without_resume_does_all_again(bench: Bench) -> None:
    bench.batch(until="lid 2")
    assert statuses(bench.batch()) == ["done"] * 4


def test_an_offset_that_somebody_else_changed_is_reported_and_left(bench: Bench) -> None:
    bench.batch(until="lid 2")
    bench.set_offset(1, [1.0, 2.0, 3.0])
    summary = bench.batch(resume=True)
    assert bench.begun == []
    assert [fault.name for fault in summary.faults] == ["OffsetNotKept"]
    assert "work offset 1 (lid 1) reads X1.000 Y2.000 Z3.000" in summary.faults[0].detail
    assert bench.offset(1) == [1.0, 2.0, 3.0]
    assert Kind.CONFLICT in bench.kinds()


def test_an_offset_not_set_yet_that_somebody_else_changed_is_left_too(bench: Bench) -> None:
    bench.batch(until="lid 2")
    bench.set_offset(2, [0.0, 0.0, -3.0])
    summary = bench.batch(resume=True)
    assert "work offset 2 (lid 2)" in summary.faults[0].detail
    assert bench.offset(2) == [0.0, 0.0, -3.0]


def test_all_conflicts_are_reported_at_once(bench: Bench) -> None:
    bench.batch(until="lid 2")
    for number in (1, 2):
        bench.set_offset(number, [1.0, 2.0, 3.0])
    detail = bench.batch(resume=True).faults[0].detail
    assert "work offset 1" in detail
    assert "work offset 2" in detail


def test_told_to_the_part_whose_offset_was_changed_is_done_again(bench: Bench) -> None:
    bench.batch(until="lid 2")
    right = bench.offset(1)
    bench.set_offset(1, [1.0, 2.0, 3.0])
    summary = bench.batch(resume=True, overwrite=[1])
    assert bench.begun == ["lid 1", "lid 2", "cutter in"]
    assert summary.complete
    assert bench.offset(1)[:2] == pytest.approx(right[:2], abs=0.004)
    assert Kind.OVERRULED in bench.kinds()


def test_what_somebody_else_has_set_can_be_accepted_as_it_stands(bench: Bench) -> None:
    bench.batch(until="lid 2")
    bench.set_offset(1, [1.0, 2.0, 3.0])
    summary = bench.batch(resume=True, accept=["lid 1"])
    assert bench.begun == ["lid 2", "cutter in"]
    assert summary.parts[1].why == "accepted as it stands, not touched"
    assert bench.offset(1)[:2] == [1.0, 2.0]
    assert summary.complete


def test_what_a_person_has_accepted_is_on_record_as_that_and_not_as_touched(bench: Bench) -> None:
    bench.batch(until="lid 2")
    bench.set_offset(1, [1.0, 2.0, 3.0])
    bench.batch(resume=True, accept=["lid 1"])
    with open_journal(bench.path) as journal:
        (kept,) = journal.entries(kind=Kind.ACCEPTED)
        (shown,) = [one for one in what_was_set(journal) if one.accepted]
    assert (kept.part, kept.data["number"], kept.data["read"]["x"]) == ("lid 1", 1, 1.0)
    assert (shown.part, shown.read, shown.uncertainty) == ("lid 1", Position(1.0, 2.0, 3.0), None)


def test_what_was_accepted_once_is_no_conflict_any_more(bench: Bench) -> None:
    bench.batch(until="lid 2")
    bench.set_offset(1, [1.0, 2.0, 3.0])
    bench.batch(until="lid 2", resume=True, accept=["lid 1"])
    summary = bench.batch(resume=True)
    assert bench.begun == ["lid 2", "cutter in"]
    assert summary.complete


def test_the_offset_of_a_part_not_begun_can_be_accepted_too(bench: Bench) -> None:
    bench.batch(until="lid 2")
    bench.set_offset(2, [7.0, 8.0, -9.0])
    bench.batch(resume=True, accept=["lid 2"])
    assert bench.begun == ["cutter in"]
    assert bench.offset(2)[:2] == [7.0, 8.0]


def test_accepting_one_part_leaves_the_conflicts_of_others(bench: Bench) -> None:
    bench.batch(until="lid 2")
    for number in (1, 2):
        bench.set_offset(number, [1.0, 2.0, 3.0])
    summary = bench.batch(resume=True, accept=["lid 1"])
    assert bench.begun == []
    assert "work offset 1 " not in summary.faults[0].detail
    assert "work offset 2 (lid 2)" in summary.faults[0].detail


def test_what_a_tool_change_has_shifted_can_be_accepted_after_it_is_complete(bench: Bench) -> None:
    bench.batch()
    bench.set_offset(1, [1.0, 2.0, 3.0])
    summary = bench.batch(resume=True, accept=["cutter in"])
    assert bench.begun == []
    assert summary.complete
    assert bench.offset(1) == [1.0, 2.0, 3.0]


def test_where_there_is_no_conflict_accepting_changes_nothing_and_says_so(bench: Bench) -> None:
    bench.batch(until="lid 2")
    summary = bench.batch(resume=True, accept=["lid 1"])
    assert any("lid 1: there was nothing to accept" in note for note in summary.notes)
    assert bench.begun == ["lid 2", "cutter in"]


def test_the_journal_says_how_sure_each_axis_is(bench: Bench) -> None:
    first = bench.batch(until="lid 2")
    with open_journal(bench.path) as journal:
        (corner,) = what_was_set(journal, part="lid 1")
    result = first.parts[1].result
    assert result is not None
    stated = {name: one.half_width for name, one in result.statements.items()}
    assert corner.half_widths == pytest.approx(stated, abs=1e-9)
    assert set(corner.half_widths) == {"X", "Y", "Z"}


def test_an_offset_that_a_tool_change_has_shifted_cannot_be_set_again_alone(bench: Bench) -> None:
    """The shift of the other offsets would be done twice."""
    bench.batch()
    bench.set_offset(1, [1.0, 2.0, 3.0])
    second = bench.offset(2)
    summary = bench.batch(resume=True, overwrite=[1])
    assert bench.begun == []
    assert any("was shifted by 'cutter in'" in note for note in summary.notes)
    assert bench.offset(2) == second


def test_a_part_that_needs_the_tool_from_before_a_change_is_refused(bench: Bench) -> None:
    """The tool put back stands at another height, and nothing would tell."""
    bench.batch()
    bench.job = jobs.loads(SOUND.replace("reads = { z = 0.5 }", "reads = { z = 0.25 }"), source="lids.toml")
    summary = bench.batch(resume=True)
    assert bench.begun == []
    assert [fault.name for fault in summary.faults] == ["UnsuitableTool"]
    assert "the tool was changed since (cutter in)" in summary.faults[0].detail


@pytest.mark.parametrize(
    ("meanwhile", "said"),
    [
        ({"restarts": 1}, "restarted"),
        ({"homed": False}, "lost its home"),
        ({"position": [5.0, 5.0, -5.0]}, "something else has moved it"),
    ],
)
def test_where_trust_has_ended_nothing_set_before_is_believed(
    bench: Bench, meanwhile: dict[str, object], said: str
) -> None:
    bench.batch(until="lid 2")
    change(bench.memory, **meanwhile)
    summary = bench.batch(resume=True)
    assert bench.begun == []
    assert said in summary.faults[0].detail
    assert "gingerly verify" in summary.faults[0].detail


def test_trust_that_has_ended_does_not_come_back_by_trying_again(bench: Bench) -> None:
    bench.batch(until="lid 2")
    change(bench.memory, restarts=1)
    bench.batch(resume=True)
    assert [fault.name for fault in bench.batch(resume=True).faults] == ["PositionUnknown"]


def verified(bench: Bench, *, off: float = 0.0, axes: tuple[Axis, ...] = tuple(Axis)) -> None:
    """Touch the first lid's corner again, expected `off` mm beside its work offset, with the machine followed."""
    part = bench.job.parts[1]
    expected = tuple((axis, bench.offset(1)[axis] + off) for axis in axes)

    async def go(journal: Journal) -> None:
        machine = bench.machine()
        async with machine:
            plain: Any = replace(part.routine, offset=None)  # type: ignore[type-var]
            routine = Verify(routine=plain, expected=expected, tolerance=0.05)
            again = replace(bench.job, parts=(replace(part, routine=routine),))
            books = Books(journal, bench.job, machine, follow=True)
            await Batch(again, machine, books=books).run()

    with open_journal(bench.path) as journal:
        asyncio.run(go(journal))


def test_a_face_that_was_verified_restores_the_trust(bench: Bench) -> None:
    bench.batch(until="lid 2")
    change(bench.memory, restarts=1)
    verified(bench)
    summary = bench.batch(resume=True)
    assert bench.begun == ["lid 2", "cutter in"]
    assert summary.complete


def test_a_face_that_was_not_where_it_should_be_restores_nothing(bench: Bench) -> None:
    bench.batch(until="lid 2")
    change(bench.memory, restarts=1)
    verified(bench, off=0.1)
    assert [fault.name for fault in bench.batch(resume=True).faults] == ["PositionUnknown"]


def test_a_face_verified_in_one_axis_restores_no_trust_in_the_others(bench: Bench) -> None:
    """After a homing X and Y may be anywhere, however well Z was found again."""
    bench.batch(until="lid 2")
    change(bench.memory, restarts=1)
    verified(bench, axes=(Axis.Z,))
    assert [fault.name for fault in bench.batch(resume=True).faults] == ["PositionUnknown"]


def test_a_part_that_was_verified_and_is_not_where_it_was_set_is_done_again(bench: Bench) -> None:
    """A blank that has slipped is no longer set, whatever its work offset reads."""
    bench.batch(until="lid 2")
    verified(bench, off=0.1)
    assert [fault.name for fault in bench.batch(resume=True).faults] == ["PositionUnknown"]
    verified(bench)
    bench.batch(resume=True)
    assert bench.begun == ["lid 1", "lid 2", "cutter in"]


def test_a_part_that_says_something_else_now_is_done_again(bench: Bench) -> None:
    bench.batch(until="lid 2")
    bench.job = jobs.loads(SOUND.replace("reads = { z = 0.5 }", "reads = { z = 0.25 }"), source="lids.toml")
    summary = bench.batch(resume=True)
    assert bench.begun == ["lid 1", "lid 2", "cutter in"]
    assert any("lid 1: the job says something else" in note for note in summary.notes)


def test_lead_and_plate_that_were_never_confirmed_off_are_asked_for_at_last(bench: Bench) -> None:
    bench.batch(answers={"release": "no"})
    with open_journal(bench.path) as journal:
        assert unreleased(journal, "cellar mill (virtual)") == ("lid 1", "lid 2", "cutter in")
    summary = bench.batch(resume=True)
    assert bench.asked == [Question.RELEASE]
    assert summary.released
    with open_journal(bench.path) as journal:
        assert unreleased(journal, "cellar mill (virtual)") == ()


def test_a_release_is_kept_although_the_resume_was_refused(bench: Bench) -> None:
    """Lead and plate may still be on from the run before, and come off now."""
    bench.batch(answers={"release": "no"})
    change(bench.memory, restarts=1)
    summary = bench.batch(resume=True)
    assert [fault.name for fault in summary.faults] == ["PositionUnknown"]
    assert summary.released
    with open_journal(bench.path) as journal:
        assert unreleased(journal, "cellar mill (virtual)") == ()


# ---- waves ----------------------------------------------------------------------------------------------------


def in_waves() -> Job:
    """The two lids, one after the other on work offset 1."""
    first, second = sound().parts[1], sound().parts[2]
    later = replace(second, wave=2, routine=replace(second.routine, offset=1))  # type: ignore[type-var]
    return replace(sound(), parts=(first, later))


def test_a_later_wave_waits_until_the_parts_of_the_one_before_are_finished(bench: Bench) -> None:
    bench.job = in_waves()
    assert statuses(bench.batch()) == ["done", "waits"]
    assert statuses(bench.batch(resume=True)) == ["set before", "waits"]
    summary = bench.batch(resume=True, finished=["lid 1"])
    assert statuses(summary) == ["set before", "done"]
    assert bench.begun == ["lid 2"]


def test_the_offset_of_a_finished_part_is_no_longer_looked_at(bench: Bench) -> None:
    """Its new owner has written it; the part that had it before is not in conflict with that."""
    bench.job = in_waves()
    bench.batch()
    bench.batch(resume=True, finished=())
    summary = bench.batch(resume=True)
    assert statuses(summary) == ["set before", "set before"]
    assert summary.faults == ()


# ---- the command line -----------------------------------------------------------------------------------------


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "lids.toml"
    path.write_text(f'journal = "lids.db"\n{SOUND}', encoding="utf-8")
    return path


def test_the_command_keeps_its_journal_where_the_job_says_and_history_shows_it(job_file: Path) -> None:
    assert within("run", str(job_file)).returncode == 0
    shown = within("history", "--journal", str(job_file.parent / "lids.db"), "--json", "--part", "lid 1")
    found = json.loads(shown.stdout)["set"]
    assert [(one["offset"], one["released"]) for one in found] == [(1, True)]


def test_a_conflict_ends_the_command_before_anything_moves(job_file: Path) -> None:
    """The memory of a virtual machine is gone with its process: all that was set has been changed."""
    within("run", str(job_file))
    done = within("run", str(job_file), "--resume")
    assert done.returncode == 1
    assert "nothing was moved" in done.stderr
    assert "To write over it, say so by number: 1 2" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--overwrite", "1"), 2, "--resume: without it"),
        (("--journal", "lids.toml"), 3, "refused before anything moved"),
    ],
)
def test_what_makes_no_sense_is_refused_before_anything_moves(
    job_file: Path, words: tuple[str, ...], code: int, said: str
) -> None:
    given = [str(job_file.parent / word) if word.endswith(".toml") else word for word in words]
    done = within("run", str(job_file), *given)
    assert (done.returncode, said in " ".join(done.stderr.split())) == (code, True)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "--journal: there is no journal at"),
        (("--last", "0"), 2, "must be a whole number of 1 or more, not '0'"),
        (("--since", "yesterday"), 2, "2026-01-31"),
    ],
)
def test_history_says_what_is_wrong(tmp_path: Path, words: tuple[str, ...], code: int, said: str) -> None:
    done = within("history", "--journal", str(tmp_path / "none.db"), *words)
    assert (done.returncode, said in done.stderr) == (code, True)


@pytest.mark.parametrize(("words", "out"), [((), ""), (("--json",), '"set": []'), (("--csv",), "number,")])
def test_where_nobody_has_begun_a_journal_nothing_was_set_and_that_is_no_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], out: str
) -> None:
    monkeypatch.delenv("GINGERLY_JOURNAL", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    done = within("history", *words)
    assert (done.returncode, out in done.stdout) == (0, True)
    assert "there is no journal yet" in done.stderr


def test_a_variable_that_names_a_journal_which_is_not_there_is_bad_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GINGERLY_JOURNAL", str(tmp_path / "none.db"))
    done = within("history")
    assert (done.returncode, done.stderr.startswith("GINGERLY_JOURNAL: there is no journal at")) == (2, True)
