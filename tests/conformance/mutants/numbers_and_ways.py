"""Adapters with one bug each: numbers that are none, and the ways, feeds and offsets of a motion."""

from __future__ import annotations

import asyncio
import math
from dataclasses import replace

import gingerly as g
from conformance.mutants.mutant import caught_by, with_facts
from conformance.plain_subjects import MemoryAdapter
from gingerly.geometry import Axis, Position
from tcp_adapter.controller import FLOOR


@caught_by("lengths_in_the_facts_are_millimetres")
class StepsPerMillimetre(MemoryAdapter):
    """Gives how many steps make a millimetre as the length of a step: everything is within that."""

    facts = with_facts(resolution=1000.0)


@caught_by("lengths_in_the_facts_are_millimetres")
class BacklashInMicrometres(MemoryAdapter):
    """Gives the backlash in micrometres."""

    facts = with_facts(backlash=20.0)


@caught_by("a_feed_that_is_none_is_never_sent")
class ZeroFeedIsRapid(MemoryAdapter):
    """Takes a feed of zero for one that was not given."""

    async def traverse(self, to, feed):
        return await super().traverse(to, feed or None)


@caught_by("a_sense_to_no_number_is_never_sent")
class SensesAtAnyFeed(MemoryAdapter):
    """Puts a feed of its own in where one is none."""

    async def sense(self, to, feed):
        return await super().sense(to, feed if 0.0 < feed < math.inf else 60.0)


@caught_by("a_sense_to_no_number_is_never_sent")
class NowhereIsAMiss(MemoryAdapter):
    """Misses where a sense has no target."""

    async def sense(self, to, feed):
        return await super().sense(to, feed) if to.is_finite() else g.Missed(await self.look())


@caught_by("a_value_that_is_no_number_is_never_written")
class NoValueIsZero(MemoryAdapter):
    """Writes zero for a value that is no number."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, {axis: v if math.isfinite(v) else 0.0 for axis, v in axes.items()})


@caught_by("a_value_that_is_no_number_is_never_written")
class RefusesTooLate(MemoryAdapter):
    """Writes the good values before it sees a bad one."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, {axis: value for axis, value in axes.items() if math.isfinite(value)})
        if not all(map(math.isfinite, axes.values())):
            raise ValueError("a value is no number")


@caught_by("a_sense_outside_the_envelope_is_not_reported_as_made")
class SensesToItsEnd(MemoryAdapter):
    """Senses to the axis limit and reports the target as reached."""

    async def sense(self, to, feed):
        low, high = self.facts.envelope.low, self.facts.envelope.high
        inside = Position(*(min(max(value, a), b) for value, a, b in zip(to, low, high, strict=True)))
        found = await super().sense(inside, feed)
        return g.Missed(replace(found.rest, position=to)) if isinstance(found, g.Missed) else found


@caught_by("free_air_is_a_miss")
class SensesYTheOtherWay(MemoryAdapter):
    """Turns Y round, in senses alone."""

    async def sense(self, to, feed):
        here = (await self.look()).position
        return await super().sense(to.with_axes({Axis.Y: 2.0 * here.y - to.y}), feed)


@caught_by("contacts_ignore_work_offsets")
class ContactInWorkCoordinates(MemoryAdapter):
    """Gives the contact as a coordinate of work offset 1."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            return replace(found, contact=found.contact.minus(self.controller.offsets[1]))
        return found


@caught_by("contacts_ignore_work_offsets")
class SensesInWorkCoordinates(MemoryAdapter):
    """Takes the target of a sense for a coordinate of work offset 1."""

    async def sense(self, to, feed):
        return await super().sense(to.plus(self.controller.offsets[1]), feed)


@caught_by("only_a_write_changes_a_work_offset")
class SetsTheOffsetItself(MemoryAdapter):
    """Sets Z of work offset 1 at each touch, as a courtesy."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            await self.write_offset(1, {Axis.Z: found.contact.z})
        return found


@caught_by("only_a_write_changes_a_work_offset")
class StopForgetsOffsets(MemoryAdapter):
    """Stops by a reset that forgets the work offsets."""

    async def stop(self):
        self.controller.offsets = dict.fromkeys(range(1, 10), Position(0.0, 0.0, 0.0))
        return await super().stop()


@caught_by("a_slanting_sense_keeps_its_feed")
class SenseFeedPerAxis(MemoryAdapter):
    """Gives each axis the whole feed of a sense."""

    async def sense(self, to, feed):
        here = (await self.look()).position
        axes = sum(a != b for a, b in zip(here, to, strict=True))
        return await super().sense(to, feed * max(1, axes) ** 0.5)


@caught_by("a_traverse_goes_straight")
class ZFirst(MemoryAdapter):
    """Moves Z before the other axes."""

    async def traverse(self, to, feed):
        here = (await self.look()).position
        if to.is_finite() and to.z != here.z and to != here.with_axes({Axis.Z: to.z}):
            await super().traverse(here.with_axes({Axis.Z: to.z}), feed)
        return await super().traverse(to, feed)


@caught_by("a_traverse_goes_straight")
class ZFirstInRapids(ZFirst):
    """Moves Z before the other axes where no feed is given."""

    async def traverse(self, to, feed):
        parent = ZFirst if feed is None else MemoryAdapter
        return await parent.traverse(self, to, feed)


@caught_by("a_sense_goes_straight")
class SensesAxisByAxis(MemoryAdapter):
    """Moves X before it senses along the other axes."""

    async def sense(self, to, feed):
        here = (await self.look()).position
        if to.is_finite() and to.x != here.x and to.z != here.z:
            await super().traverse(here.with_axes({Axis.X: to.x}), feed)
        return await super().sense(to, feed)


@caught_by("a_back_off_keeps_its_feed")
class BacksOffInHaste(MemoryAdapter):
    """Backs off from a contact three times as fast as it was told."""

    async def traverse(self, to, feed):
        closed = (await self.look()).circuit is g.Circuit.CLOSED
        return await super().traverse(to, 3.0 * feed if closed and feed else feed)


@caught_by("a_motion_may_last_longer_than_an_answer")
class OneTimeoutForAll(MemoryAdapter):
    """Gives motions no longer than any other answer."""

    async def _ask(self, order, **numbers):
        try:
            async with asyncio.timeout(self.facts.answer_s):
                return await super()._ask(order, **numbers)
        except TimeoutError:
            raise g.NoAnswer("no answer in time") from None


@caught_by("a_guarded_traverse_stops_at_metal")
class SleepyGuard(MemoryAdapter):
    """Has a guard that takes far longer than its facts say."""

    facts = with_facts(guard=g.Guard.SENSED, stop_reaction_s=0.02)

    async def traverse(self, to, feed):
        if to.z >= FLOOR or feed is None:
            return await super().traverse(to, feed)
        here = self.controller.true_position
        through = here.with_axes({Axis.Z: FLOOR - 4.0 * self.facts.stop_reaction_s * feed / 60.0})
        return await super().traverse(through, feed)
