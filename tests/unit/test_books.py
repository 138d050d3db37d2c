"""The books of a batch: what they learn from the journal, what they refuse, and what they put back."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from gingerly import Axis, NotRecorded, Position, UnsuitableTool
from gingerly import job as jobs
from gingerly.batch import Batch, Books, PartStarted, Summary
from gingerly.batch.books import unfinished
from gingerly.batch.standing import read
from gingerly.driver.machine import Machine
from gingerly.job import Job
from gingerly.journal import Entry, Journal, Kind, open_journal
from gingerly.journal.recorder import kept_as
from gingerly.messages.faults import OffsetNotKept, PositionUnknown
from support.jobs import SOUND, sound
from support.surviving import SurvivingMachine, change, remembered


class Shop:
    """A controller that remembers, a journal, and books that are opened on them."""

    def __init__(self, folder: Path, **options: Any) -> None:
        self.memory = folder / "memory.json"
        self.path = folder / "journal.db"
        self.job: Job = sound()
        self.options = options

    def machine(self) -> Machine:
        adapter = SurvivingMachine(self.memory, **{"tool_length_range": 0.5, **self.options})
        return Machine(adapter, name="cellar mill", operator=adapter.operator, keep_outs=self.job.keep_outs)

    def with_books(self, work: Callable[[Books, Machine], Coroutine[Any, Any, Any]], **how: Any) -> Any:
        """Do something with books on a connected machine."""

        async def go() -> Any:
            machine = self.machine()
            with open_journal(self.path) as journal:
                async with machine:
                    return await work(Books(journal, self.job, machine, **how), machine)

        return asyncio.run(go())

    def batch(self, *, until: str = "", **how: Any) -> Summary:
        """Do the job, or go on with it; with `until` it is cancelled when that part begins."""

        async def work(books: Books, machine: Machine) -> Summary:
            def observe(event: object) -> None:
                if isinstance(event, PartStarted) and event.part.name == until:
                    task.cancel()

            one = Batch(self.job, machine, observer=observe, books=books)
            task = asyncio.ensure_future(one.run())
            await asyncio.wait({task})
            return one.summary

        return self.with_books(work, **how)  # type: ignore[no-any-return]

    def opened(self, **how: Any) -> Books:
        """Books that were opened, and nothing else done."""

        async def work(books: Books, machine: Machine) -> Books:
            await books.open()
            return books

        return self.with_books(work, **how)  # type: ignore[no-any-return]

    def entries(self, kind: Kind | None = None) -> list[Entry]:
        with open_journal(self.path) as journal:
            return journal.entries(kind=kind)

    def cut_off_write(self, number: int, old: Position, new: Position, *, part: str) -> None:
        """The process dies after an intent: the journal holds it, and no outcome."""
        spot = [{"x": p.x, "y": p.y, "z": p.z} for p in (old, new)]
        begun = self.entries(Kind.BATCH_BEGUN)[-1]
        data = {
            "number": number,
            "old": spot[0],
            "new": spot[1],
            "axes": {"z": 1.0},
            "faces": [],
            "restores": False,
        }
        with open_journal(self.path) as journal:
            journal.add(replace(begun, kind=Kind.INTENT, part=part, data=data))


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


def test_opening_open_books_keeps_no_second_beginning(shop: Shop) -> None:
    async def work(books: Books, machine: Machine) -> None:
        await books.open()
        await books.open()

    shop.with_books(work)
    assert [entry.kind for entry in shop.entries()] == [Kind.BATCH_BEGUN]


def test_books_that_were_never_opened_close_and_end_no_trust(shop: Shop) -> None:
    async def work(books: Books, machine: Machine) -> None:
        await books.end_trust("the machine was homed")
        await books.close(released=True, interrupted=False, entries=())

    shop.with_books(work)
    assert shop.entries() == []


def test_trust_that_is_ended_is_on_record_with_why_and_begins_another_life(shop: Shop) -> None:
    async def work(books: Books, machine: Machine) -> None:
        await books.open()
        await books.end_trust("the machine was homed")

    shop.with_books(work)
    begun, ended = shop.entries()
    assert (ended.kind, ended.data["why"]) == (Kind.TRUST_ENDED, "the machine was homed")
    shop.opened()
    assert shop.entries()[-1].life == ended.number != begun.life


def test_where_the_place_of_the_machine_cannot_be_kept_nothing_begins(shop: Shop) -> None:
    """A folder lies where the file with its whereabouts should be."""
    with open_journal(shop.path) as journal:
        places = journal.whereabouts(kept_as(shop.machine())).path
    places.mkdir()
    with pytest.raises(NotRecorded):
        shop.opened()


def test_a_resume_without_an_earlier_run_says_so(shop: Shop) -> None:
    books = shop.opened(resume=True)
    assert not books.resumed
    assert "knows no earlier run of this job" in books.left.notes[0]


@pytest.mark.thorough
def test_a_controller_that_tells_no_offsets_has_its_parts_done_again(tmp_path: Path) -> None:
    """But for those that somebody has called finished: their offsets are done with."""
    blind = Shop(tmp_path, offsets_readable=False)
    blind.batch(until="cutter in")
    books = blind.opened(resume=True)
    assert set(books.left.kept) == {"pad"}
    assert "does not tell its work offsets" in books.left.notes[0]
    again = blind.opened(resume=True, finished=["lid 1"])
    assert {"pad", "lid 1"} <= {entry.part for entry in blind.entries(Kind.FINISHED)} | set(again.left.kept)
    assert "lid 2" not in again.left.kept


@pytest.mark.thorough
def test_a_set_of_offsets_that_was_cut_off_half_written_is_put_back(shop: Shop) -> None:
    """The tool change shifts offsets 1 and 2; only the first had been written when the process died."""
    shop.batch(until="cutter in")
    old = Position(*remembered(shop.memory)["offsets"]["1"])
    new = old.plus(Position(0.0, 0.0, -1.0))
    shop.cut_off_write(1, old, new, part="cutter in")
    change(shop.memory, offsets={**remembered(shop.memory)["offsets"], "1": list(new)})
    books = shop.opened(resume=True)
    assert remembered(shop.memory)["offsets"]["1"] == pytest.approx(list(old), abs=1e-6)
    assert any("only some of its work offsets were written; 1 was put back" in note for note in books.left.notes)


@pytest.mark.thorough
def test_a_write_that_the_controller_has_settled_is_on_record(shop: Shop) -> None:
    shop.batch(until="lid 2")
    offsets = remembered(shop.memory)["offsets"]
    old, new = Position(0.0, 0.0, 0.0), Position(0.0, 0.0, -45.0)
    shop.cut_off_write(2, old, new, part="lid 2")
    change(shop.memory, offsets={**offsets, "2": list(new)})
    shop.opened(resume=True)
    (settled,) = shop.entries(Kind.SETTLED)
    assert (settled.part, settled.data["number"], settled.data["stands"]) == ("lid 2", 2, "new")


@pytest.mark.thorough
def test_what_somebody_else_has_changed_is_refused_by_number_and_by_part(shop: Shop) -> None:
    shop.batch(until="lid 2")
    change(shop.memory, offsets={**remembered(shop.memory)["offsets"], "1": [1.0, 2.0, 3.0]})
    with pytest.raises(OffsetNotKept, match=r"1 \(--overwrite\)") as caught:
        shop.opened(resume=True)
    assert "'lid 1' (--accept)" in caught.value.detail
    (conflict,) = shop.entries(Kind.CONFLICT)
    assert conflict.data["read"] == {"x": 1.0, "y": 2.0, "z": 3.0}


@pytest.mark.thorough
def test_told_to_write_over_it_that_is_on_record_too(shop: Shop) -> None:
    shop.batch(until="lid 2")
    change(shop.memory, offsets={**remembered(shop.memory)["offsets"], "1": [1.0, 2.0, 3.0]})
    books = shop.opened(resume=True, overwrite=[1])
    assert "lid 1" not in books.left.kept
    assert [entry.data["number"] for entry in shop.entries(Kind.OVERRULED)] == [1]


def test_an_accepted_offset_is_on_record_with_what_was_expected(shop: Shop) -> None:
    shop.batch(until="lid 2")
    change(shop.memory, offsets={**remembered(shop.memory)["offsets"], "1": [1.0, 2.0, 3.0]})
    books = shop.opened(resume=True, accept=["lid 1"])
    assert "lid 1" in books.left.kept
    (accepted,) = shop.entries(Kind.ACCEPTED)
    assert accepted.data["read"] == {"x": 1.0, "y": 2.0, "z": 3.0}


@pytest.mark.thorough
def test_after_a_restart_what_was_set_is_doubted_by_name(shop: Shop) -> None:
    shop.batch(until="lid 2")
    change(shop.memory, restarts=1)
    with pytest.raises(PositionUnknown, match=r"gingerly verify.*lid 1"):
        shop.opened(resume=True)


@pytest.mark.thorough
def test_a_part_that_needs_the_tool_from_before_a_change_that_is_done_is_refused(shop: Shop) -> None:
    shop.batch()
    shop.job = jobs.loads(SOUND.replace("reads = { z = 0.5 }", "reads = { z = 0.25 }"), source="lids.toml")
    with pytest.raises(UnsuitableTool, match="lid 1 needs 'pin', and the tool was changed since"):
        shop.opened(resume=True)


@pytest.mark.thorough
@pytest.mark.parametrize("names", [[], ["lid 1"]])
def test_finished_parts_are_on_record_once(shop: Shop, names: list[str]) -> None:
    """No name stands for all that are set; a part that is finished already is not finished again."""
    shop.batch(until="cutter in")
    for _ in range(2):
        shop.opened(resume=True, finished=names)
    told = [entry.part for entry in shop.entries(Kind.FINISHED)]
    assert told == (names or ["pad", "lid 1", "lid 2"])


@pytest.mark.thorough
def test_a_part_that_was_never_set_cannot_be_finished(shop: Shop) -> None:
    shop.batch(until="lid 2")
    books = shop.opened(resume=True, finished=["cutter in"])
    assert "'cutter in' was never set, so it cannot be finished" in books.left.notes


@pytest.mark.thorough
def test_a_run_that_was_cut_off_is_unfinished_until_another_comes_to_its_end(shop: Shop) -> None:
    def told() -> str:
        with open_journal(shop.path) as journal:
            return unfinished(journal, shop.job, kept_as(shop.machine()))

    assert told() == ""
    shop.batch(until="lid 2")
    assert told().endswith(" UTC")
    shop.batch(resume=True)
    assert told() == ""


def test_after_a_write_that_failed_no_part_begins(shop: Shop) -> None:
    async def work(books: Books, machine: Machine) -> None:
        await books.open()
        with pytest.raises(NotRecorded):
            books.journal.add(Entry(kind=Kind.ASKED, machine="x", part=object()))  # type: ignore[arg-type]
        with pytest.raises(NotRecorded):
            books.begin(shop.job.parts[0])
        await books.close(released=True, interrupted=False, entries=())

    shop.with_books(work)
    assert [entry.kind for entry in shop.entries()] == [Kind.BATCH_BEGUN]


def account(journal: Journal, *entries: tuple[Kind, dict[str, Any]], part: str = "lid 1") -> Any:
    """What a journal with a beginning and these entries says of the job."""
    begun = journal.add(Entry(kind=Kind.BATCH_BEGUN, machine="mill", job="lids.toml", data={"offsets": {}}))
    for kind, data in entries:
        journal.add(replace(begun, kind=kind, part=part, data=data))
    return read(journal, sound(), "mill")


def intent(**changes: Any) -> dict[str, Any]:
    place = {"x": 0.0, "y": 0.0, "z": 0.0}
    plain = {"number": 1, "old": place, "new": {**place, "z": 1.0}, "axes": {"z": 1.0}, "faces": []}
    return {**plain, "restores": False, **changes}


def test_what_is_written_back_says_nothing_about_where_a_part_lies(tmp_path: Path) -> None:
    """It does say what the controller should hold."""
    with open_journal(tmp_path / "journal.db") as journal:
        found = account(journal, (Kind.INTENT, intent(restores=True)))
    assert found.parts["lid 1"].writes == {}
    assert found.expected[1] == (Position(0.0, 0.0, 0.0), Position(0.0, 0.0, 1.0))


def test_a_run_outside_any_part_leaves_no_part_behind(tmp_path: Path) -> None:
    ended = {"fault": None, "found": {}, "faces": []}
    with open_journal(tmp_path / "journal.db") as journal:
        assert account(journal, (Kind.ENDED, ended), part="").parts == {}


def test_an_outcome_without_its_intent_says_what_stands_and_nothing_of_a_part(tmp_path: Path) -> None:
    """One that could not be read back says nothing at all."""
    place = {"x": 4.0, "y": 5.0, "z": 6.0}
    with open_journal(tmp_path / "journal.db") as journal:
        found = account(
            journal,
            (Kind.OUTCOME, {"number": 3, "old": None, "new": place, "read": place}),
            (Kind.OUTCOME, {"number": 4, "old": None, "new": place, "read": None}),
        )
    assert found.expected == {3: (Position(4.0, 5.0, 6.0),)}
    assert found.parts["lid 1"].writes == {}


def test_an_intent_without_faces_gives_its_axes_and_no_height(tmp_path: Path) -> None:
    with open_journal(tmp_path / "journal.db") as journal:
        found = account(journal, (Kind.INTENT, intent()))
    assert found.parts["lid 1"].found == ((Axis.Z, 1.0),)
    assert found.parts["lid 1"].height is None


@pytest.mark.parametrize("how", [{"overwrite": [2]}, {"accept": ["lid"]}, {"finished": []}])
def test_what_says_how_to_resume_means_nothing_without_it(shop: Shop, how: dict[str, Any]) -> None:
    """Taken in silence, it would be believed to have been heeded."""
    with pytest.raises(ValueError, match="without resume they mean nothing"):
        shop.opened(**how)
