"""Between runs: looking, reading, writing back, asking; each on record where there is a record, and nothing moves."""

from __future__ import annotations

import asyncio

import pytest

from gingerly import Axis, LinkLost, NotRecorded, OffsetNotKept, Position, Question
from gingerly.driver.events import Asked
from gingerly.driver.station import Station
from gingerly.explore.scenarios import FACTS
from gingerly.messages.commands import Answer, Ask, ReadOffset, WriteOffset
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import Answered, OffsetRead, OffsetWritten
from gingerly.messages.snapshot import Snapshot
from gingerly.messages.touches import Place

OLD, NEW = Position(1.0, 2.0, 3.0), Position(float("1"), 0.5, 9.0)  # X equal, but not one object; Y less, Z more
STEP = FACTS.offset_resolution


class Desk:
    """An adapter that keeps offsets, an operator, a recorder and a clock in one; `off` is what it keeps wrong."""

    facts = FACTS

    def __init__(self, *, off=0.0, answer=Answer.YES, fails="", error=None):
        self.off, self.answer, self.fails, self.error = off, answer, fails, error
        self.offsets, self.restarts, self.told = {3: NEW}, 0, []

    async def open(self):
        self.told.append("open")

    async def close(self):
        self.told.append("close")

    async def look(self):
        if self.error is not None:
            raise self.error
        return Snapshot(OLD, True, restarts=self.restarts)

    async def read_offset(self, number):
        return self.offsets[number]

    async def write_offset(self, number, axes):
        self.told.append(dict(axes))
        kept = self.offsets[number].with_axes(axes)
        self.offsets[number] = kept.plus(Position(0.0, self.off, 0.0))

    async def ask(self, question, machine):
        self.told.append((question, machine))
        return self.answer

    async def before(self, command):
        self._keep("before", command)

    async def after(self, command, reply):
        self._keep("after", reply)

    def _keep(self, when, what):
        self.told.append((when, type(what)))
        if f"{when} {type(what).__name__}" == self.fails:
            raise OSError("disk full")

    def now(self):
        return 7.0

    async def sleep(self, seconds):
        raise AssertionError("nothing here waits")

    async def bounded(self, work, seconds):
        assert seconds in (FACTS.answer_s, 60.0)
        return await work


def _station(desk, *, recorded=True):
    recorder = desk if recorded else None
    station = Station(desk, name="bench", operator=desk, recorder=recorder, patience_s=60.0, floor=None)
    station.clock = desk
    return station


def _put_back(desk, old=OLD, new=NEW, **options):
    asyncio.run(_station(desk, **options).put_back(3, old, new))
    return desk


def test_only_the_axes_that_differ_are_written_back_and_read_again():
    """On record before and after each of the two orders."""
    desk = _put_back(Desk())
    assert desk.offsets[3] == OLD
    assert desk.told == [
        ("before", WriteOffset),
        {Axis.Y: 2.0, Axis.Z: 3.0},
        ("after", OffsetWritten),
        ("before", ReadOffset),
        ("after", OffsetRead),
    ]


def test_an_offset_that_stands_already_is_written_all_the_same_so_that_it_is_read_back():
    """One axis is enough for that."""
    desk = Desk()
    desk.offsets[3] = OLD
    assert {Axis.Z: 3.0} in _put_back(desk, new=OLD).told


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_an_offset_that_is_not_kept_on_being_written_back_is_told_with_both_values(side):
    """Further off than the step with which offsets are stored; to within it, it is kept."""
    _put_back(Desk(off=side * 0.9 * STEP))
    with pytest.raises(OffsetNotKept, match=r"offset 3 was written back to X1\.000.* and reads X1\.000"):
        _put_back(Desk(off=side * 1.1 * STEP))


@pytest.mark.parametrize(
    "fails", ["before WriteOffset", "after OffsetWritten", "before ReadOffset", "after OffsetRead"]
)
def test_what_cannot_be_kept_on_record_ends_the_writing_back_there(fails):
    """Before the write nothing is written; the cause stays on the fault."""
    desk = Desk(fails=fails)
    with pytest.raises(NotRecorded, match="disk full") as caught:
        _put_back(desk)
    assert isinstance(caught.value.__cause__, OSError)
    assert (desk.offsets[3] == NEW) is (fails == "before WriteOffset")


def test_without_a_record_nothing_is_recorded():
    assert _put_back(Desk(), recorded=False).told == [{Axis.Y: 2.0, Axis.Z: 3.0}]


def test_an_offset_is_read_as_it_stands():
    assert asyncio.run(_station(Desk()).read_offset(3)) == NEW


def test_a_look_in_trouble_raises_the_fault_with_its_cause():
    lost = LinkLost("unplugged")
    with pytest.raises(LinkLost, match="unplugged") as caught:
        asyncio.run(_station(Desk(error=lost)).look())
    assert caught.value.__cause__ is lost


def test_a_restart_between_two_looks_ends_what_was_proved():
    """The first look has nothing to compare with; the same count again changes nothing."""
    desk = Desk()
    station = _station(desk)

    async def looks():
        held = []
        for restarts in (4, 4, 5):
            desk.restarts = restarts
            station._attachment.proof = Proof(frozenset(Place), restarts=4)
            await station.look()
            held.append(station.proof is not None)
        return held

    assert asyncio.run(looks()) == [True, True, False]


@pytest.mark.parametrize(("answer", "yes"), [(Answer.YES, True), (Answer.NO, False), (Answer.WAIVE, False)])
def test_a_question_between_runs_is_answered_by_yes_alone(answer, yes):
    """It is told to whoever listens, and kept like one inside a run."""
    desk, told = Desk(answer=answer), []
    station = _station(desk)
    station.events.subscribe(told.append)
    assert asyncio.run(station.ask(Question.NEXT_PART)) is yes
    assert told == [Asked(Question.NEXT_PART, answer, 7.0)]
    assert desk.told == [("before", Ask), (Question.NEXT_PART, "bench"), ("after", Answered)]


def test_nobody_there_is_no_yes():
    station, told = _station(Desk()), []
    station.operator = None
    station.events.subscribe(told.append)
    assert not asyncio.run(station.ask(Question.NEXT_PART))
    assert told == []


@pytest.mark.parametrize("answer", [Answer.YES, Answer.NO])
def test_lead_and_plate_are_on_until_a_person_says_that_they_are_off(answer):
    """Asking for them ends the proof either way: hands were at the circuit."""
    station = _station(Desk(answer=answer))
    station.assume_attached()
    station._attachment.proof = Proof(frozenset(Place), restarts=0)
    assert asyncio.run(station.release()) is (answer is Answer.YES)
    assert station.attached is (answer is not Answer.YES)
    assert station.proof is None
