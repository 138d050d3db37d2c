"""Adapters with one bug each: trouble during a sense, and what is told while something is wrong."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import gingerly as g
from conformance.mutants.mutant import caught_by
from conformance.plain_subjects import MemoryAdapter
from gingerly.geometry import Position


@caught_by("an_alarm_during_a_sense_is_raised")
class AlarmIsAMiss(MemoryAdapter):
    """Takes a sense that ended in an alarm for a miss."""

    async def sense(self, to, feed):
        try:
            return await super().sense(to, feed)
        except g.AlarmActive:
            return g.Missed(replace(await self.look(), alarm=False))


@caught_by("an_alarm_during_a_sense_is_raised")
class AlarmIsATouch(MemoryAdapter):
    """Takes a sense that ended in an alarm for a touch."""

    async def sense(self, to, feed):
        try:
            return await super().sense(to, feed)
        except g.AlarmActive:
            rest = await self.look()
            return g.Touched(rest.position, rest)


@caught_by("a_restart_during_a_sense_is_told")
class RestartIsAMiss(MemoryAdapter):
    """Takes a sense that a restart ended for a miss."""

    async def sense(self, to, feed):
        before = (await self.look()).restarts
        try:
            return await super().sense(to, feed)
        except g.ControllerRestarted:
            return g.Missed(replace(await self.look(), restarts=before))


@caught_by("a_link_lost_during_a_sense_is_raised")
class LostWhileSensingIsNoAnswer(MemoryAdapter):
    """Calls a link that broke during a sense an answer that did not come."""

    async def sense(self, to, feed):
        try:
            return await super().sense(to, feed)
        except g.LinkLost:
            raise g.NoAnswer("nothing came") from None


@caught_by("a_refused_sense_is_raised")
class RefusedIsAMiss(MemoryAdapter):
    """Takes a refused sense for a miss, but for a circuit closed at its start."""

    async def sense(self, to, feed):
        try:
            return await super().sense(to, feed)
        except g.ControllerRefused as refusal:
            if refusal.code == "told-to":
                return g.Missed(await self.look())
            raise


@caught_by("a_refused_read_is_raised")
class RefusedReadIsZero(MemoryAdapter):
    """Reads zeros where the controller refuses to tell."""

    async def read_offset(self, number):
        try:
            return await super().read_offset(number)
        except g.ControllerRefused as refusal:
            if refusal.code == "told-to":
                return Position(0.0, 0.0, 0.0)
            raise


@caught_by("a_sense_that_is_never_answered_is_no_miss")
class SilenceIsAMiss(MemoryAdapter):
    """Takes a sense that is not answered in time for a miss."""

    async def sense(self, to, feed):
        try:
            async with asyncio.timeout(1.5):
                return await super().sense(to, feed)
        except TimeoutError:
            return g.Missed(await self.look())


@caught_by("a_write_that_is_never_answered_does_not_count_as_done")
class SilenceIsConsent(MemoryAdapter):
    """Takes a write that is not answered in time for done."""

    async def write_offset(self, number, axes):
        try:
            async with asyncio.timeout(1.0):
                await super().write_offset(number, axes)
        except TimeoutError:
            return


@caught_by("a_cancelled_touch_lets_the_cancellation_out")
class AsksForTheContactAfterwards(MemoryAdapter):
    """Asks for the contact after a touch, and swallows a cancellation there."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            try:
                await self._ask("tell")
            except asyncio.CancelledError:
                return g.Missed(found.rest)
        return found


@caught_by("a_cancelled_close_can_be_tried_again")
class CloseSwallows(MemoryAdapter):
    """Finishes a close that is cancelled as if nothing had been."""

    async def close(self):
        try:
            await super().close()
        except asyncio.CancelledError:
            await super().close()


@caught_by("a_cancelled_close_can_be_tried_again")
class HalfClosed(MemoryAdapter):
    """Calls itself closed before it is, so that a second close does nothing."""

    _closed = True

    async def open(self):
        await super().open()
        self._closed = False

    async def close(self):
        if not self._closed:
            self._closed = True
            await super().close()


@caught_by("a_stop_is_served_while_an_alarm_stands")
class StopRaisesTheAlarm(MemoryAdapter):
    """Raises a standing alarm when it is to stop."""

    async def stop(self):
        rest = await super().stop()
        if rest.alarm:
            raise g.AlarmActive("an alarm stands")
        return rest


@caught_by("a_stop_is_served_while_an_alarm_stands")
class StopHidesTheAlarm(MemoryAdapter):
    """Leaves the alarm out of the snapshot of a stop."""

    async def stop(self):
        return replace(await super().stop(), alarm=False)


@caught_by("a_restart_is_counted")
class StopHidesARestart(MemoryAdapter):
    """Counts no restart in the snapshot of a stop."""

    async def stop(self):
        return replace(await super().stop(), restarts=0)


@caught_by("a_restart_before_a_motion_is_told")
class CountsRestartsInLooksAlone(MemoryAdapter):
    """Knows of restarts what the last look said."""

    _restarts = 0

    async def look(self):
        seen = await super().look()
        self._restarts = seen.restarts
        return seen

    async def traverse(self, to, feed):
        return replace(await super().traverse(to, feed), restarts=self._restarts)


@caught_by("a_machine_that_still_moves_is_stopped_after_reconnecting")
class StopsItsOwnMotionsAlone(MemoryAdapter):
    """Takes the machine for still unless it has ordered a motion itself since it was opened."""

    _ordered = False

    async def open(self):
        await super().open()
        self._ordered = False

    async def _ask(self, order, **numbers):
        self._ordered = self._ordered or order in ("go", "feel")
        return await super()._ask(order, **numbers)

    async def stop(self):
        return await super().stop() if self._ordered else replace(await self.look(), idle=True)


@caught_by("every_snapshot_tells_the_circuit")
class GuessesAtTheEndOfAMove(MemoryAdapter):
    """Leaves the circuit as it is by default in the snapshot of a traverse."""

    async def traverse(self, to, feed):
        rest = await super().traverse(to, feed)
        return g.Snapshot(rest.position, rest.idle, rest.restarts, rest.alarm, spindle=rest.spindle)


@caught_by("a_turning_spindle_is_reported")
class SpindleByDefault(MemoryAdapter):
    """Calls the spindle still in the snapshot of a stop."""

    async def stop(self):
        return replace(await super().stop(), spindle=g.Spindle.STILL)


@caught_by("lost_homing_is_told")
class HomedForEver(MemoryAdapter):
    """Calls the machine homed whatever has happened."""

    async def look(self):
        return replace(await super().look(), homed=True)


@caught_by("what_is_in_force_is_told")
class OverlooksTheKnob(MemoryAdapter):
    """Says that feeds are as programmed without having looked."""

    async def look(self):
        return replace(await super().look(), in_force=g.InForce())


@caught_by("opening_without_a_controller_is_a_lost_link")
class NobodyThereIsAnOSError(MemoryAdapter):
    """Lets the link's own exception out where nobody answers."""

    async def open(self):
        if not self.plugged_in:
            raise ConnectionRefusedError("nobody is there")
        await super().open()


@caught_by("two_motions_at_once_do_not_mix")
class TheLatestMotionCounts(MemoryAdapter):
    """Calls a motion arrived when another is ordered."""

    async def traverse(self, to, feed):
        if self._waiting:
            seen = dict(pair.split("=") for pair in self.controller._state().split()) | {"moves": "no"}
            for answer in self._waiting.values():
                if not answer.done():
                    answer.set_result(("done", seen))
        return await super().traverse(to, feed)


@caught_by("two_stops_at_once_end_the_motion")
class RoomForOneStop(MemoryAdapter):
    """Forgets a stop under way when another is ordered."""

    _latest = None

    async def stop(self):
        mine = self._latest = asyncio.get_running_loop().create_future()
        rest = await super().stop()
        if self._latest is mine:
            mine.set_result(rest)
        return await mine


@caught_by("closing_during_a_call_stops_the_motion")
class ClosesInTurn(MemoryAdapter):
    """Lets a close wait until the call under way has ended."""

    async def close(self):
        while self._waiting:  # noqa: ASYNC110
            await asyncio.sleep(0.02)
        await super().close()
