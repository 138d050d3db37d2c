"""What the journal keeps of things, and what it concludes of writes whose outcome is known only in part."""

from __future__ import annotations

import asyncio
from enum import Enum
from pathlib import Path
from typing import Any

import pytest

from gingerly import Axis, Position, Tool
from gingerly.journal import Entry, Journal, Kind, open_journal, what_was_set
from gingerly.journal.entry import plain
from gingerly.journal.recorder import BatchRecorder, Heading
from gingerly.messages.commands import ReadOffset, WriteOffset
from gingerly.messages.replies import OffsetRead, OffsetWritten, TimedOut

OLD, NEW = Position(0.0, 0.0, 0.0), Position(1.0, 2.0, 3.0)
WRITE = WriteOffset(2, ((Axis.Z, 3.0),), OLD, NEW, 9.0)


class Colour(Enum):
    RED = "red"


@pytest.mark.parametrize(
    ("thing", "kept"),
    [
        (Axis.Z, "z"),
        (Colour.RED, "red"),
        (NEW, {"x": 1.0, "y": 2.0, "z": 3.0}),
        (float("nan"), None),
        (float("inf"), None),
        (True, True),
        (None, None),
        ((1, 2.5), [1, 2.5]),
        (Path("mill.toml"), "mill.toml"),
    ],
)
def test_everything_is_kept_as_plain_data(thing: object, kept: object) -> None:
    """What JSON has no word for is kept as its text, and what is no finite number as nothing."""
    assert plain(thing) == kept


def test_what_has_fields_is_kept_by_their_names() -> None:
    found = plain(Tool.pin(4, free_length=20))
    assert (found["diameter"], found["free_length"]) == (4.0, 20.0)


def outcomes(folder: Path, *, readable: bool, said: list[tuple[Any, Any]]) -> list[Entry]:
    """What a recorder keeps of these orders and their replies."""

    async def go(journal: Journal) -> None:
        recorder = BatchRecorder(
            journal, journal.whereabouts("mill"), Heading(machine="mill", job="lids"), offsets_readable=readable
        )
        for command, reply in said:
            await recorder.before(command)
            await recorder.after(command, reply)

    with open_journal(folder / "journal.db") as journal:
        asyncio.run(go(journal))
        return journal.entries(kind=Kind.OUTCOME)


def test_a_write_that_is_read_back_has_what_was_read_for_its_outcome(tmp_path: Path) -> None:
    read, another = OffsetRead(2, NEW), OffsetRead(3, OLD)
    said = [(WRITE, OffsetWritten(2)), (ReadOffset(2, 9.0), read), (ReadOffset(3, 9.0), another)]
    (kept,) = outcomes(tmp_path, readable=True, said=said)
    assert (kept.data["number"], kept.data["how"], kept.data["read"]) == (2, "read back", plain(NEW))


def test_a_write_that_cannot_be_read_back_says_so(tmp_path: Path) -> None:
    """It counts as set; one that nobody confirmed does not."""
    (kept,) = outcomes(tmp_path, readable=False, said=[(WRITE, OffsetWritten(2))])
    assert (kept.data["how"], kept.data["read"]) == ("written, and cannot be read back", None)
    with open_journal(tmp_path / "journal.db") as journal:
        assert [one.offset for one in what_was_set(journal)] == [2]


def test_a_write_that_nobody_confirmed_was_not_set(tmp_path: Path) -> None:
    (kept,) = outcomes(tmp_path, readable=False, said=[(WRITE, TimedOut("no answer"))])
    assert kept.data["how"] == "no confirmation: TimedOut"
    with open_journal(tmp_path / "journal.db") as journal:
        assert what_was_set(journal) == []


@pytest.mark.parametrize(("stands", "numbers"), [("new", [2]), ("old", [])])
def test_what_a_later_look_has_settled_counts(tmp_path: Path, stands: str, numbers: list[int]) -> None:
    data = {"number": 2, "old": plain(OLD), "new": plain(NEW), "read": plain(NEW), "stands": stands}
    with open_journal(tmp_path / "journal.db") as journal:
        journal.add(Entry(kind=Kind.SETTLED, machine="mill", part="lid 1", data=data))
        assert [one.offset for one in what_was_set(journal)] == numbers
