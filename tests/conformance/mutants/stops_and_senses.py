"""Adapters with one bug each: stops, and moves that stop at contact."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import gingerly as g
from conformance.mutants.mutant import caught_by, with_facts
from conformance.plain_subjects import MemoryAdapter
from gingerly.geometry import Position
from tcp_adapter.test_conformance import SAFE


@caught_by("a_stop_at_rest_is_no_error")
class StopsOnlyWhatMoves(MemoryAdapter):
    """Refuses to stop a machine at rest."""

    async def stop(self):
        if (await self.look()).idle:
            raise g.ControllerRefused("nothing moves", code="idle")
        return await super().stop()


@caught_by("a_stop_ends_a_traverse")
class StopIsALook(MemoryAdapter):
    """Takes a snapshot instead of stopping, and calls it idle."""

    async def stop(self):
        while not (seen := await self.look()).idle:  # noqa: ASYNC110
            await asyncio.sleep(0.02)
        return seen


@caught_by("a_stop_returns_after_standstill", "a_stop_from_speed_returns_after_standstill")
class StopDoesNotWait(MemoryAdapter):
    """Answers a stop while the machine still brakes."""

    async def stop(self):
        seen = await self.look()
        self._job = asyncio.ensure_future(super().stop())
        return replace(seen, idle=True)


@caught_by("a_stop_may_be_repeated_while_it_moves")
class SecondStopRefused(MemoryAdapter):
    """Refuses a stop that follows another."""

    _stopped = False

    async def traverse(self, to, feed):
        self._stopped = False
        return await super().traverse(to, feed)

    async def stop(self):
        if self._stopped and self.controller.true_position != SAFE:
            raise g.ControllerRefused("stopped already", code="stopped")
        self._stopped = True
        return await super().stop()


@caught_by("a_stop_ends_a_sense")
class StopsTraversesOnly(MemoryAdapter):
    """Lets a sense run to its end when it is stopped."""

    _sensing = False

    async def sense(self, to, feed):
        self._sensing = True
        found = await super().sense(to, feed)
        self._sensing = False
        return found

    async def stop(self):
        while self._sensing and not (await self.look()).idle:  # noqa: ASYNC110
            await asyncio.sleep(0.02)
        return await super().stop()


@caught_by("it_moves_again_after_a_stop")
class HoldsAfterAStop(MemoryAdapter):
    """Stays on hold after a stop, and refuses whatever comes next."""

    _held = False

    async def stop(self):
        self._held = True
        return await super().stop()

    async def traverse(self, to, feed):
        if self._held:
            raise g.ControllerRefused("on hold", code="hold")
        return await super().traverse(to, feed)


@caught_by("the_contact_is_latched_not_where_it_came_to_rest")
class ContactAfterOvershoot(MemoryAdapter):
    """Takes the place of rest for the contact."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        return replace(found, contact=found.rest.position) if isinstance(found, g.Touched) else found


@caught_by("a_contact_is_found_in_every_wall")
class ContactIsTheTarget(MemoryAdapter):
    """Takes the target for the contact."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        return replace(found, contact=to) if isinstance(found, g.Touched) else found


@caught_by("a_contact_is_found_in_every_wall")
class SensesInZOnly(MemoryAdapter):
    """Finds contacts in Z alone, and calls every other sense a miss."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        return g.Missed(found.rest) if found.rest.position.z > -39.0 else found


@caught_by("the_contact_lies_on_the_line_and_before_the_rest")
class ContactInOneAxis(MemoryAdapter):
    """Fills in the axis that moved, and leaves the others zero."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            return replace(found, contact=Position(0.0, 0.0, found.contact.z))
        return found


@caught_by("a_contact_soon_after_the_start_is_found")
class BlindAtFirst(MemoryAdapter):
    """Makes the first half millimetre of a sense as a traverse, and senses only then."""

    async def sense(self, to, feed):
        here = (await self.look()).position
        if to.is_finite() and here.distance(to) > 1.0:
            await super().traverse(here.towards(to, 0.5), feed)
        return await super().sense(to, feed)


@caught_by("free_air_is_a_miss")
class MissIsATouch(MemoryAdapter):
    """Takes the end of a sense for a contact."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        return g.Touched(found.rest.position, found.rest) if isinstance(found, g.Missed) else found


@caught_by("free_air_is_a_miss")
class MissIsAnError(MemoryAdapter):
    """Raises a fault where nothing was touched."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Missed):
            raise g.ControllerRefused("no contact", code="miss")
        return found


@caught_by("a_touch_returns_after_standstill")
class RestIsTheContact(MemoryAdapter):
    """Gives the contact as the place of rest."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            return replace(found, rest=replace(found.rest, position=found.contact))
        return found


@caught_by("the_circuit_opens_after_the_back_off")
class ClosedForEver(MemoryAdapter):
    """Calls the circuit closed ever after the first contact."""

    _touched = False

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        self._touched = isinstance(found, g.Touched)
        return found

    async def look(self):
        seen = await super().look()
        return replace(seen, circuit=g.Circuit.CLOSED) if self._touched else seen


@caught_by("a_sense_never_exceeds_its_feed")
class SensesAtRapid(MemoryAdapter):
    """Senses at the rapid feed."""

    async def sense(self, to, feed):
        return await super().sense(to, self.facts.rapid_feed)


@caught_by("a_sense_with_the_circuit_closed_is_refused")
class ClosedIsATouch(MemoryAdapter):
    """Takes a circuit that is closed already for a contact."""

    async def sense(self, to, feed):
        seen = await self.look()
        if seen.circuit is g.Circuit.CLOSED:
            return g.Touched(seen.position, seen)
        return await super().sense(to, feed)


@caught_by("a_sense_after_a_miss_finds_its_own_contact")
class RemembersTheContact(MemoryAdapter):
    """Answers a miss with the contact of the last touch."""

    _contact = None

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            self._contact = found.contact
        elif self._contact is not None:
            return g.Touched(self._contact, found.rest)
        return found


@caught_by("it_stops_within_what_the_facts_promise")
class BrakesWorseThanItSays(MemoryAdapter):
    """Has an acceleration a quarter of what its facts say."""

    facts = with_facts(acceleration=2000.0)


@caught_by("it_truly_stops_at_the_contact")
class DrivesOn(MemoryAdapter):
    """Reports the contact, and drives on behind its own report."""

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            way = to.minus(found.contact)
            await super().traverse(found.contact.plus(way.times(0.9)), 600.0)
        return found


@caught_by("an_alarm_after_a_miss_is_as_the_facts_say")
class AnnouncesAnAlarm(MemoryAdapter):
    """Announces an alarm after each miss, and has none."""

    facts = with_facts(alarm_on_miss=True)


@caught_by("repeated_touches_agree")
class Scatters(MemoryAdapter):
    """Gives contacts that scatter by a tenth."""

    _touches = 0

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        if isinstance(found, g.Touched):
            self._touches += 1
            return replace(found, contact=found.contact.plus(Position(0, 0, 0.1 * (self._touches % 2))))
        return found


@caught_by("a_turning_spindle_is_reported")
class SpindleAlwaysStill(MemoryAdapter):
    """Calls the spindle still without looking."""

    async def look(self):
        return replace(await super().look(), spindle=g.Spindle.STILL)


@caught_by("a_bridged_circuit_is_seen_and_refused")
class CircuitFromMemory(MemoryAdapter):
    """Knows the circuit from its own touches alone."""

    async def look(self):
        seen = await super().look()
        low = seen.position.z <= -40.0
        return replace(seen, circuit=g.Circuit.CLOSED if low else g.Circuit.OPEN)
