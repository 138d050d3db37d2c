"""The record comes before the step (I9): without it a run stops, and the end of a run is always on record."""

from __future__ import annotations

import pytest

from gingerly import NotRecorded, Stands, Standstill
from gingerly.messages.commands import WriteOffset
from support.bench import bench, corner_routine, scene


class Pages:
    """A recorder that keeps everything in a list, and fails where it is told to."""

    def __init__(self, fail_before=None, fail_after=None):
        self.pages, self._fail_before, self._fail_after = [], fail_before, fail_after

    async def before(self, command):
        if self._fail_before and isinstance(command, self._fail_before):
            raise OSError("the disk is full")
        self.pages.append(("before", command))

    async def after(self, command, reply):
        if self._fail_after and isinstance(command, self._fail_after):
            raise OSError("the disk is full")
        self.pages.append(("after", command))

    async def ended(self, outcome):
        self.pages.append(("ended", outcome))


async def _run(recorder):
    machine = bench(machine={"recorder": recorder})
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(corner_routine(), hand_over=True)
        return machine, result, await machine.adapter.read_offset(1)


@pytest.mark.asyncio
async def test_every_order_is_on_record_before_it_is_carried_out():
    """Before and after stand on record for each order, in turn, and the end comes last."""
    recorder = Pages()
    _, result, _ = await _run(recorder)
    kinds = [kind for kind, _ in recorder.pages]
    assert kinds == ["before", "after"] * ((len(kinds) - 1) // 2) + ["ended"]
    assert recorder.pages[-1][1] is result.outcome


@pytest.mark.asyncio
async def test_without_the_record_nothing_is_written():
    """A recorder that fails before the write leaves the offset as it was."""
    _, result, origin = await _run(Pages(fail_before=WriteOffset))
    assert isinstance(result.fault, NotRecorded)
    assert result.fault.offsets[0].stands is Stands.OLD
    assert result.fault.detail == "the disk is full"
    assert origin == (0.0, 0.0, 0.0)


@pytest.mark.asyncio
async def test_once_a_record_failed_nothing_but_the_end_is_recorded():
    """What comes between would tell a story with a hole in it."""
    recorder = Pages(fail_before=WriteOffset)
    await _run(recorder)
    kinds = [kind for kind, _ in recorder.pages]
    assert kinds == ["before", "after"] * (len(kinds) // 2) + ["ended"]


@pytest.mark.asyncio
async def test_a_write_whose_outcome_cannot_be_recorded_is_told_all_the_same():
    """When the record fails after the write, the run ends, and says that the new values stand."""
    _, result, origin = await _run(Pages(fail_after=WriteOffset))
    assert isinstance(result.fault, NotRecorded)
    assert result.fault.offsets[0].stands is Stands.NEW
    assert origin != (0.0, 0.0, 0.0)


@pytest.mark.asyncio
async def test_a_recorder_that_fails_at_once_lets_nothing_move():
    """A full disk is found before any motion."""
    machine, result, _ = await _run(Pages(fail_before=object))
    assert isinstance(result.fault, NotRecorded)
    assert result.fault.standstill is Standstill.UNMOVED
    assert machine.adapter.motions == ()


class LastPageTorn(Pages):
    """A recorder that cannot keep how a run ended."""

    async def ended(self, outcome):
        raise OSError("the disk is full")


@pytest.mark.asyncio
async def test_an_end_that_cannot_be_recorded_is_logged_and_changes_nothing(caplog):
    """By then everything is written and read back; the result is the caller's all the same."""
    _, result, _ = await _run(LastPageTorn())
    assert result.fault is None
    assert "the end of the run could not be recorded" in caplog.text
