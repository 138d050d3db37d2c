"""Adapters with one bug each: what an adapter says of its machine, and how it opens and closes."""

from __future__ import annotations

import asyncio
from types import SimpleNamespace

import gingerly as g
from conformance.mutants.mutant import caught_by, with_facts
from conformance.plain_subjects import MemoryAdapter
from gingerly.geometry import Axis, Position
from tcp_adapter.adapter import place
from tcp_adapter.test_conformance import SAFE


@caught_by("facts_are_there_once_open")
class FactsAsTable(MemoryAdapter):
    """Gives its facts as an object of its own."""

    facts = SimpleNamespace(name="plain mill", answer_s=2.0, rapid_feed=3000.0)


@caught_by("facts_name_the_machine")
class Nameless(MemoryAdapter):
    """Gives the machine no name."""

    facts = with_facts(name=" ")


@caught_by("feeds_and_acceleration_are_in_the_right_units")
class AccelerationPerMinute(MemoryAdapter):
    """Gives the acceleration in mm/min²."""

    facts = with_facts(acceleration=500.0 * 3600.0)


@caught_by("times_in_the_facts_are_seconds")
class TimesInMilliseconds(MemoryAdapter):
    """Gives the reaction time in milliseconds."""

    facts = with_facts(stop_reaction_s=5.0)


@caught_by("envelope_is_a_machines_own")
class NoEnvelope(MemoryAdapter):
    """Left the envelope empty."""

    facts = with_facts(envelope=g.Box(Position(0, 0, 0), Position(0, 0, 0)))


@caught_by("facts_stay_as_they_are")
class FactsFollowTheFeed(MemoryAdapter):
    """Takes the last feed for the machine's top feed."""

    async def traverse(self, to, feed):
        rest = await super().traverse(to, feed)
        self.facts = with_facts(top_feed=feed or 2000.0)
        return rest


@caught_by("machine_stands_inside_its_envelope")
class UpsideDown(MemoryAdapter):
    """Counts Z downwards, in reports and in orders."""

    async def _ask(self, order, **numbers):
        if "z" in numbers and order in ("go", "feel"):
            numbers["z"] = -numbers["z"]
        found = await super()._ask(order, **numbers)
        at = place(found["at"])
        return found | {"at": f"{at.x},{at.y},{-at.z}"}


@caught_by("every_method_is_there")
class NoStop(MemoryAdapter):
    """Has no stop."""

    stop = None


@caught_by("opening_twice_is_refused")
class OpensTwice(MemoryAdapter):
    """Takes a second open for granted."""

    async def open(self):
        if self._writer is None:
            await super().open()


@caught_by("calls_before_open_are_refused")
class AnswersUnopened(MemoryAdapter):
    """Answers a look before it was opened, from imagination."""

    async def look(self):
        return g.Snapshot(SAFE, True) if self._writer is None else await super().look()


@caught_by("calls_before_open_are_refused", "calls_after_close_are_refused")
class StumblesWhenClosed(MemoryAdapter):
    """Does not look whether it is open."""

    async def stop(self):
        self._writer.is_closing()
        return await super().stop()


@caught_by("calls_after_close_are_refused")
class NeverHangsUp(MemoryAdapter):
    """Keeps its link when it is closed."""

    async def close(self):
        if self._writer is not None:
            await self.stop()


@caught_by("closing_what_was_never_opened_is_no_error")
class ClosesOnlyWhatIsOpen(MemoryAdapter):
    """Raises when it is closed without having been opened."""

    def __init__(self):
        super().__init__()
        self._was_open = False

    async def open(self):
        await super().open()
        self._was_open = True

    async def close(self):
        if not self._was_open:
            raise RuntimeError("not open")
        await super().close()


@caught_by("closing_twice_is_no_error")
class ClosesOnce(MemoryAdapter):
    """Raises when it is closed again."""

    _closes = 0

    async def close(self):
        self._closes += 1
        if self._closes == 2:
            raise RuntimeError("closed already")
        await super().close()


@caught_by("a_closed_adapter_opens_again")
class OpensOnce(MemoryAdapter):
    """Cannot be opened again."""

    _opened = False

    async def open(self):
        if self._opened:
            raise RuntimeError("open already")
        self._opened = True
        await super().open()


@caught_by("opening_moves_nothing")
class LiftsOnOpening(MemoryAdapter):
    """Lifts the tool when it opens."""

    async def open(self):
        await super().open()
        here = (await self.look()).position
        await self.traverse(here.with_axes({Axis.Z: min(0.0, here.z + 2.0)}), None)


@caught_by("an_opened_adapter_is_usable_after_a_refused_second_open")
class SecondOpenHangsUp(MemoryAdapter):
    """Drops the link when it is opened again."""

    async def open(self):
        if self._writer is not None:
            self._writer.close()
            await asyncio.sleep(0.01)
        await super().open()


@caught_by("closing_stops_a_motion")
class LeavesItMoving(MemoryAdapter):
    """Hangs up and lets the machine run."""

    async def close(self):
        if self._writer is not None:
            self._listener.cancel()
            self._writer.close()
            self._writer = None
