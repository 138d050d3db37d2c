"""What is told while a batch goes on: what the controller holds, and one live line that fits."""

from __future__ import annotations

import io
import re

import pytest
from rich.cells import cell_len

from gingerly import Axis, Position, batch
from gingerly.batch import BatchEvent, Noted
from gingerly.cli.progress import LiveProgress, Teller, fitting
from gingerly.cycle import State
from gingerly.driver.events import Asked, Event, Ordered, Replied, RunEnded
from gingerly.driver.result import refused
from gingerly.messages.commands import Answer, Ask, Question, ReadOffset, WriteOffset
from gingerly.messages.faults import Declined
from gingerly.messages.replies import OffsetRead, OffsetWritten
from support.jobs import sound

MEANT = ((Axis.X, 20.7474), (Axis.Z, -40.0))
WRITE = Ordered(State.COMMITTING, WriteOffset(1, MEANT, Position(0, 0, 0), Position(20.7474, 0, -40.0), 1.0), 1.0)
WRITTEN = Replied(OffsetWritten(1), 1.0)
READ = Ordered(State.CONFIRMING, ReadOffset(1, 1.0), 1.0)
HELD = Replied(OffsetRead(1, Position(20.748, 7.0, -40.0)), 1.0)
NEXT = Ordered(State.HANDING_OVER, Ask(Question.RELEASE, 1.0), 1.0)


def told(*events: Event) -> list[str]:
    teller = Teller()
    return [line for line in map(teller.line, events) if line]


def test_of_a_work_offset_is_told_what_was_read_back() -> None:
    assert told(WRITE, WRITTEN, READ, HELD, NEXT) == ["    work offset 1 reads X 20.748 Z -40.000"]


@pytest.mark.parametrize("after", [NEXT, WRITE, RunEnded(refused(Declined()), 2.0)])
def test_where_it_cannot_be_read_back_that_is_said(after: Event) -> None:
    assert told(WRITE, WRITTEN, after) == ["    work offset 1 was told X 20.747 Z -40.000, and not read back"]


def test_a_reading_that_follows_no_writing_is_not_worth_a_line() -> None:
    assert told(READ, HELD) == []


@pytest.mark.parametrize("last", [Question.CLEAR, Question.HANDS_AWAY, Question.STAND_CLEAR])
def test_what_was_asked_up_to_clear_hands_is_told_in_one_line(last: Question) -> None:
    asked = [Asked(one, Answer.YES, 1.0) for one in (Question.CLOSE_AT_TIP, Question.OPEN, last)]
    assert told(*asked) == [f"    operator: close at tip, open, {last.value}"]


def test_a_note_is_broken_between_words() -> None:
    (line,) = [Teller().line(Noted("a tool change found that the height of every part lies off by much more " * 2))]
    assert all(len(piece) <= 78 for piece in line.split("\n"))
    assert " ".join(line.split()).startswith("note: a tool change found that")


WORDS = (
    "3/6 engraving cutter",
    "awaiting opened",
    "touch 3",
    "contact 11",
    "2:09",
    "left 1:25, job 11:23",
    "━" * 12,
)


@pytest.mark.parametrize("width", range(1, 120))
def test_the_live_line_never_has_more_columns_than_there_are(width: int) -> None:
    assert cell_len(fitting(WORDS, width)) <= width


def test_the_bar_goes_first_then_the_state_and_the_part_stays() -> None:
    assert fitting(WORDS, 110) == " · ".join(WORDS)
    assert fitting(WORDS, 92) == " · ".join(WORDS[:-1])
    assert fitting(WORDS, 77) == " · ".join((WORDS[0], *WORDS[2:-1]))
    assert fitting(WORDS, 20) == WORDS[0]


def test_the_live_line_never_counts_more_touches_than_a_part_has() -> None:
    """On the way out of the last one no further touch is under way."""
    highest: dict[str, int] = {}
    with LiveProgress(io.StringIO()) as live:

        def observe(event: BatchEvent | Event) -> None:
            live.observe(event)
            found = re.search(r"(\S+ ?\S*) · .* touch (\d+) ", live.now())
            if found is not None:
                highest[found[1]] = max(int(found[2]), highest.get(found[1], 0))

        summary = batch.run_blocking(sound(), observer=observe)
    assert list(highest.values()) == [entry.account.touches for entry in summary.parts if entry.account]
