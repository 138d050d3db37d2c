"""Adapters with one bug each: cancelled and unanswered calls."""

from __future__ import annotations

import asyncio

import gingerly as g
from conformance.mutants.mutant import caught_by
from conformance.plain_subjects import MemoryAdapter
from tcp_adapter.test_conformance import SAFE


@caught_by("a_cancelled_look_lets_the_cancellation_out")
class LookSwallows(MemoryAdapter):
    """Answers a cancelled look with the snapshot it has."""

    async def look(self):
        try:
            return await super().look()
        except asyncio.CancelledError:
            return g.Snapshot(SAFE, True)


@caught_by("a_cancelled_look_lets_the_cancellation_out", "a_cancelled_stop_lets_the_cancellation_out")
class AnswersAnyway(MemoryAdapter):
    """Answers a call that is cancelled in the very moment in which its answer has come."""

    async def _ask(self, order, **numbers):
        job = asyncio.ensure_future(super()._ask(order, **numbers))
        try:
            return await asyncio.shield(job)
        except asyncio.CancelledError:
            if job.done():
                return job.result()
            job.cancel()
            raise


@caught_by("a_cancelled_traverse_lets_the_cancellation_out", "a_deadline_on_its_own_clock_comes_out")
class CancelledIsNoAnswer(MemoryAdapter):
    """Turns a cancelled traverse into a fault."""

    async def traverse(self, to, feed):
        try:
            return await super().traverse(to, feed)
        except asyncio.CancelledError:
            raise g.NoAnswer("cancelled") from None


@caught_by("a_cancelled_sense_lets_the_cancellation_out", "a_deadline_on_its_own_clock_comes_out")
class SenseSwallows(MemoryAdapter):
    """Takes a cancelled sense for a miss."""

    async def sense(self, to, feed):
        try:
            return await super().sense(to, feed)
        except asyncio.CancelledError:
            return g.Missed(await super().stop())


@caught_by("a_cancelled_stop_lets_the_cancellation_out")
class StopSwallows(MemoryAdapter):
    """Answers a cancelled stop as if it had been answered."""

    async def stop(self):
        try:
            return await super().stop()
        except asyncio.CancelledError:
            return await super().stop()


@caught_by("a_cancelled_read_lets_the_cancellation_out")
class ReadSwallows(MemoryAdapter):
    """Reads a work offset again when the read is cancelled."""

    async def read_offset(self, number):
        try:
            return await super().read_offset(number)
        except asyncio.CancelledError:
            return await super().read_offset(number)


@caught_by("a_cancelled_open_can_be_tried_again")
class HalfOpen(MemoryAdapter):
    """Cannot be opened again after an open that was cancelled."""

    _opening = False

    async def open(self):
        if self._opening:
            raise RuntimeError("open already")
        self._opening = True
        await super().open()
        self._opening = False


@caught_by(
    "a_look_after_a_cancelled_look_is_fresh",
    "a_read_after_a_cancelled_read_is_its_own",
    "a_motion_after_a_cancelled_motion_is_its_own",
    "a_sense_after_a_cancelled_sense_is_its_own",
)
class FirstComeFirstServed(MemoryAdapter):
    """Gives the next answer that comes to whoever waits, whatever it belongs to."""

    def __init__(self):
        super().__init__()
        self._answers = asyncio.Queue()

    async def _listen(self, reader):
        while line := await reader.readline():
            self._answers.put_nowait(line.decode().split()[2:])

    async def _ask(self, order, **numbers):
        fields = [f"{name}={value:.4f}" for name, value in numbers.items() if value is not None]
        self._writer.write(" ".join(["0", order, *fields]).encode() + b"\n")
        return dict(pair.split("=") for pair in await self._answers.get())


@caught_by("a_stop_after_a_cancelled_motion_tells_where_it_stands")
class LockStaysLocked(MemoryAdapter):
    """Never unlocks its link after a motion that was cancelled."""

    _locked = False

    async def traverse(self, to, feed):
        self._locked = True
        rest = await super().traverse(to, feed)
        self._locked = False
        return rest

    async def stop(self):
        while self._locked:  # noqa: ASYNC110
            await asyncio.sleep(0.5)
        return await super().stop()


@caught_by("a_call_that_is_never_answered_can_be_given_up")
class WaitsForLostAnswers(MemoryAdapter):
    """Sends nothing before everything sent earlier was answered."""

    def __init__(self):
        super().__init__()
        self._owed = []

    async def _ask(self, order, **numbers):
        for job in self._owed:
            await asyncio.shield(job)
        self._owed = [asyncio.ensure_future(super()._ask(order, **numbers))]
        return await asyncio.shield(self._owed[0])


@caught_by("a_motion_that_is_never_answered_can_be_stopped")
class UnansweredMeansArrived(MemoryAdapter):
    """Takes a move that is not answered in half a second for one that has arrived."""

    async def traverse(self, to, feed):
        try:
            return await asyncio.wait_for(super().traverse(to, feed), 0.5)
        except TimeoutError:
            return g.Snapshot(to, True)
