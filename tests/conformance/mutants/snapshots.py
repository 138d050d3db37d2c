"""Adapters with one bug each: snapshots."""

from __future__ import annotations

from dataclasses import replace

import gingerly as g
from conformance.mutants.mutant import caught_by, with_facts
from conformance.plain_subjects import MemoryAdapter
from tcp_adapter.test_conformance import SAFE


@caught_by("what_the_facts_call_unknown_is_left_open")
class GuessesTheCircuit(MemoryAdapter):
    """Calls the circuit open where its facts say that it cannot know."""

    facts = with_facts(circuit_known=False)


@caught_by("what_the_facts_call_known_is_told")
class ForgetsTheSpindle(MemoryAdapter):
    """Leaves the spindle out of its snapshots."""

    async def look(self):
        return replace(await super().look(), spindle=None)


@caught_by("a_look_after_a_move_sees_its_end", "looks_during_a_motion_are_fresh")
class OneLookBehind(MemoryAdapter):
    """Answers each look with the snapshot of the look before."""

    _last = None

    async def look(self):
        last, self._last = self._last, await super().look()
        return last or self._last


@caught_by("looks_during_a_motion_are_fresh")
class FrozenWhileMoving(MemoryAdapter):
    """Tells the last place of rest while the machine moves."""

    _rest = SAFE

    async def look(self):
        seen = await super().look()
        if seen.idle:
            self._rest = seen.position
        return replace(seen, position=self._rest)


@caught_by("idle_is_not_claimed_while_it_moves")
class AlwaysIdle(MemoryAdapter):
    """Calls the machine idle whenever it answers."""

    async def look(self):
        return replace(await super().look(), idle=True)


@caught_by("circuit_is_open_in_free_air")
class InputUpsideDown(MemoryAdapter):
    """Takes the input the wrong way round."""

    async def look(self):
        seen = await super().look()
        other = {g.Circuit.OPEN: g.Circuit.CLOSED, g.Circuit.CLOSED: g.Circuit.OPEN}
        return replace(seen, circuit=other[seen.circuit])


@caught_by("reported_position_is_the_true_one")
class TellsWhatItOrdered(MemoryAdapter):
    """Reports the last target as the position."""

    _target = SAFE

    async def traverse(self, to, feed):
        self._target = to
        return replace(await super().traverse(to, feed), position=to)

    async def look(self):
        return replace(await super().look(), position=self._target)


@caught_by("looking_changes_nothing")
class CountsLooks(MemoryAdapter):
    """Counts a restart with each look."""

    _looks = 0

    async def look(self):
        self._looks += 1
        return replace(await super().look(), restarts=self._looks)


@caught_by("looking_changes_nothing")
class PositionAsTuple(MemoryAdapter):
    """Gives the position as a bare tuple."""

    async def look(self):
        seen = await super().look()
        return replace(seen, position=tuple(seen.position))


@caught_by("nothing_odd_is_in_force_at_the_start")
class LeavesInchesOn(MemoryAdapter):
    """Finds the controller in inches, says so, and leaves it at that."""

    async def look(self):
        return replace(await super().look(), in_force=g.InForce(inch=True))


@caught_by("no_alarm_stands_at_the_start")
class CriesWolf(MemoryAdapter):
    """Reports an alarm that does not stand."""

    async def look(self):
        return replace(await super().look(), alarm=True)
