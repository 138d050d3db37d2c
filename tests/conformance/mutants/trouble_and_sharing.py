"""Adapters with one bug each: alarms, refusals, restarts, lost links, and two calls at once."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import gingerly as g
from conformance.mutants.mutant import caught_by
from conformance.plain_subjects import MemoryAdapter
from tcp_adapter.adapter import snapshot


@caught_by("an_alarm_is_reported")
class LookRaisesTheAlarm(MemoryAdapter):
    """Raises a standing alarm instead of telling it in a snapshot."""

    async def look(self):
        seen = await super().look()
        if seen.alarm:
            raise g.AlarmActive("alarm")
        return seen


@caught_by("nothing_moves_while_an_alarm_stands", "an_alarm_is_never_cleared")
class ClearsBeforeMoving(MemoryAdapter):
    """Clears an alarm before each move, to be helpful."""

    async def traverse(self, to, feed):
        self.controller.alarm = False
        return await super().traverse(to, feed)


@caught_by("an_alarm_is_never_cleared")
class ClearsOnStop(MemoryAdapter):
    """Clears an alarm when it stops."""

    async def stop(self):
        self.controller.alarm = False
        return await super().stop()


@caught_by("an_alarm_is_never_cleared")
class ClearsOnOpening(MemoryAdapter):
    """Clears an alarm when it opens."""

    async def open(self):
        self.controller.alarm = False
        await super().open()


@caught_by("an_alarm_during_a_motion_is_raised")
class AlarmIsAnEndLikeAnother(MemoryAdapter):
    """Answers a move that ended in an alarm with a snapshot."""

    async def traverse(self, to, feed):
        try:
            return await super().traverse(to, feed)
        except g.AlarmActive:
            return replace(await self.look(), alarm=False)


@caught_by("a_refusal_is_raised_as_one")
class OverlooksRefusals(MemoryAdapter):
    """Takes a refused command for one that was carried out."""

    async def _ask(self, order, **numbers):
        try:
            return await super()._ask(order, **numbers)
        except g.ControllerRefused:
            return await super()._ask("tell")


@caught_by("a_refusal_is_raised_as_one", "a_refused_write_is_raised")
class RefusalsOfItsOwn(MemoryAdapter):
    """Raises an exception of its own where the controller refuses."""

    async def _ask(self, order, **numbers):
        try:
            return await super()._ask(order, **numbers)
        except g.ControllerRefused as refusal:
            raise OSError(str(refusal)) from refusal


@caught_by("a_refused_write_is_raised")
class WritesWithoutListening(MemoryAdapter):
    """Does not listen to the answer to a write."""

    async def write_offset(self, number, axes):
        try:
            await super().write_offset(number, axes)
        except g.ControllerRefused:
            return


@caught_by("a_restart_is_counted")
class NeverCountsRestarts(MemoryAdapter):
    """Always counts no restart."""

    async def look(self):
        return replace(await super().look(), restarts=0)


@caught_by("a_restart_is_counted")
class CountsSinceTheLastStop(MemoryAdapter):
    """Begins to count restarts anew after each stop."""

    _forgotten = 0

    async def stop(self):
        seen = await super().stop()
        self._forgotten = seen.restarts
        return replace(seen, restarts=0)

    async def look(self):
        seen = await super().look()
        return replace(seen, restarts=seen.restarts - self._forgotten)


@caught_by("a_restart_during_a_motion_is_told")
class TriesAgainAfterARestart(MemoryAdapter):
    """Makes a move once more when a restart ended it."""

    async def traverse(self, to, feed):
        try:
            return await super().traverse(to, feed)
        except g.ControllerRestarted:
            return replace(await super().traverse(to, feed), restarts=0)


@caught_by("a_lost_link_is_raised_by_every_call", "a_link_lost_during_a_motion_is_raised")
class LinkFaultsOfItsOwn(MemoryAdapter):
    """Lets the link's own exceptions out."""

    async def _ask(self, order, **numbers):
        try:
            return await super()._ask(order, **numbers)
        except g.LinkLost as lost:
            raise ConnectionResetError(str(lost)) from lost


@caught_by("a_lost_link_is_raised_by_every_call")
class WaitsOnALostLink(MemoryAdapter):
    """Waits for ever on a link that is gone."""

    async def read_offset(self, number):
        try:
            return await super().read_offset(number)
        except g.LinkLost:
            return await asyncio.get_running_loop().create_future()


@caught_by("a_link_lost_during_a_motion_is_raised")
class LostOnTheWayIsNoAnswer(MemoryAdapter):
    """Calls a link that broke during a move an answer that did not come."""

    async def traverse(self, to, feed):
        try:
            return await super().traverse(to, feed)
        except g.LinkLost:
            raise g.NoAnswer("nothing came") from None


@caught_by("closing_after_a_lost_link_is_no_error")
class ClosingNeedsALink(MemoryAdapter):
    """Cannot be closed when the link is gone."""

    async def close(self):
        if self._writer is not None:
            await self._ask("halt")
        await super().close()


@caught_by("a_second_call_does_not_spoil_the_first")
class LatestCallOnly(MemoryAdapter):
    """Remembers the latest call alone, and forgets the one before."""

    async def look(self):
        for answer in self._waiting.values():
            if not answer.done():
                answer.set_result(("done", _state(self)))
        return await super().look()


def _state(adapter: MemoryAdapter) -> dict[str, str]:
    return dict(pair.split("=") for pair in adapter.controller._state().split())


@caught_by("a_stop_overtakes_a_call_under_way")
class StopsInTurn(MemoryAdapter):
    """Lets a stop wait until the call under way has ended."""

    _turn = None

    async def _ask(self, order, **numbers):
        self._turn = self._turn or asyncio.Lock()
        async with self._turn:
            return await super()._ask(order, **numbers)


@caught_by("two_looks_at_once_are_both_true")
class OneSlot(MemoryAdapter):
    """Has room for one answer, and raises a KeyError when two are due."""

    async def look(self):
        if self._waiting:
            raise KeyError("slot")
        return await super().look()


def snapshot_now(adapter: MemoryAdapter) -> g.Snapshot:
    """Return a snapshot that did not pass through the link."""
    return snapshot(_state(adapter))


@caught_by("other_tasks_get_their_turns_during_a_motion")
class HoldsTheEventLoop(MemoryAdapter):
    """Gives no other task a turn while the machine moves."""

    lives_in_world_time = True

    async def traverse(self, to, feed):
        return replace(snapshot_now(self), position=to)
