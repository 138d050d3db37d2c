"""Adapters with one bug each: moves that expect no contact."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import gingerly as g
from conformance.mutants.mutant import caught_by, with_facts
from conformance.plain_subjects import MemoryAdapter
from gingerly.geometry import Axis, Position
from tcp_adapter.adapter import place
from tcp_adapter.test_conformance import SAFE


@caught_by("each_axis_goes_where_it_is_sent")
class SendsInches(MemoryAdapter):
    """Sends Y in inches."""

    async def traverse(self, to, feed):
        return await super().traverse(to.with_axes({Axis.Y: to.y / 25.4}), feed)


@caught_by("each_axis_truly_goes_where_it_is_sent")
class MirrorsX(MemoryAdapter):
    """Turns X round, in orders and in reports."""

    async def _ask(self, order, **numbers):
        if order in ("go", "feel"):
            numbers["x"] = 2.0 * SAFE.x - numbers["x"]
        found = await super()._ask(order, **numbers)
        at = place(found["at"])
        return found | {"at": f"{2.0 * SAFE.x - at.x},{at.y},{at.z}"}


@caught_by("a_slanting_move_ends_at_its_target")
class TwoAxesAtMost(MemoryAdapter):
    """Leaves Z out where X and Y move too."""

    async def traverse(self, to, feed):
        here = (await self.look()).position
        if to.x != here.x and to.y != here.y:
            to = to.with_axes({Axis.Z: here.z})
        return await super().traverse(to, feed)


@caught_by("a_traverse_returns_after_standstill")
class ReturnsWhenAccepted(MemoryAdapter):
    """Takes the acceptance of a move for its end."""

    async def traverse(self, to, feed):
        self._job = asyncio.ensure_future(super().traverse(to, feed))
        await asyncio.sleep(0.3)
        return replace(await self.look(), position=to, idle=True)


@caught_by("small_and_odd_moves_are_made")
class TargetsInTenths(MemoryAdapter):
    """Sends targets with one decimal."""

    async def traverse(self, to, feed):
        return await super().traverse(Position(*(round(value, 1) for value in to)), feed)


@caught_by("small_moves_add_up")
class RoundedDistances(MemoryAdapter):
    """Moves by distances, each rounded to a hundredth."""

    async def traverse(self, to, feed):
        here = (await self.look()).position
        way = to.minus(here)
        if way.length() < 0.2:
            to = here.plus(Position(*(round(value, 2) for value in way)))
        return await super().traverse(to, feed)


@caught_by("a_move_to_where_it_stands_is_no_error")
class RefusesToStay(MemoryAdapter):
    """Refuses a move of no length."""

    async def traverse(self, to, feed):
        if (await self.look()).position == to:
            raise g.ControllerRefused("nothing to do", code="length")
        return await super().traverse(to, feed)


@caught_by("a_feed_is_never_exceeded")
class FeedPerSecond(MemoryAdapter):
    """Sends a feed in mm/min to a controller that takes mm/s."""

    async def traverse(self, to, feed):
        return await super().traverse(to, feed and feed * 60.0)


@caught_by("a_feed_is_never_exceeded")
class FeedFarTooLow(MemoryAdapter):
    """Sends a feed in mm/s to a controller that takes mm/min."""

    async def traverse(self, to, feed):
        return await super().traverse(to, feed and feed / 60.0)


@caught_by("a_feed_holds_along_the_path")
class FeedPerAxis(MemoryAdapter):
    """Gives each axis the whole feed."""

    async def traverse(self, to, feed):
        here = (await self.look()).position
        axes = sum(a != b for a, b in zip(here, to, strict=True))
        return await super().traverse(to, feed and feed * max(1, axes) ** 0.5)


@caught_by("without_a_feed_it_goes_as_fast_as_the_facts_say")
class FasterThanItSays(MemoryAdapter):
    """Has a rapid feed twice as high as its facts say."""

    facts = with_facts(rapid_feed=1200.0)

    async def traverse(self, to, feed):
        return await super().traverse(to, feed or 2400.0)


@caught_by("without_a_feed_it_goes_as_fast_as_the_facts_say")
class FeedStaysInForce(MemoryAdapter):
    """Keeps the last feed in force where none is given."""

    _feed = 3000.0

    async def traverse(self, to, feed):
        self._feed = feed or self._feed
        return await super().traverse(to, 0.2 * self._feed if feed is None else feed)


@caught_by("a_target_that_is_no_number_is_never_sent")
class NoNumberIsZero(MemoryAdapter):
    """Takes a coordinate that is no number for the one where it stands."""

    async def traverse(self, to, feed):
        here = (await self.look()).position
        return await super().traverse(to if to.is_finite() else here, feed)


@caught_by("a_target_outside_the_envelope_is_not_reported_as_reached")
class BelievesInTargets(MemoryAdapter):
    """Stops at the axis limit and reports the target as reached."""

    async def traverse(self, to, feed):
        inside = Position(*(min(max(v, low), high) for v, low, high in zip(to, *_ends(self), strict=True)))
        return replace(await super().traverse(inside, feed), position=to)


def _ends(adapter: MemoryAdapter) -> tuple[Position, Position]:
    return adapter.facts.envelope.low, adapter.facts.envelope.high


@caught_by("a_target_not_reached_is_told_by_the_snapshot")
class RaisesWhenShort(MemoryAdapter):
    """Raises a fault where a target was not reached."""

    async def traverse(self, to, feed):
        rest = await super().traverse(to, feed)
        if rest.position.distance(to) > 0.1:
            raise g.ControllerRefused("the target was not reached", code="short")
        return rest


@caught_by("a_traverse_may_begin_with_the_circuit_closed")
class StaysWhenClosed(MemoryAdapter):
    """Refuses every motion while the circuit is closed."""

    async def traverse(self, to, feed):
        if (await self.look()).circuit is g.Circuit.CLOSED:
            raise g.ControllerRefused("the circuit is closed", code="circuit")
        return await super().traverse(to, feed)


@caught_by("a_guarded_traverse_stops_at_metal")
class GuardInNameOnly(MemoryAdapter):
    """Says that traverses are guarded, and is mistaken."""

    facts = with_facts(guard=g.Guard.SENSED)


@caught_by("a_machine_moves_on_after_a_touch")
class StaysInTheModeOfASense(MemoryAdapter):
    """Has the second move after a touch made as a sense, and half-way."""

    _since = 9

    async def sense(self, to, feed):
        found = await super().sense(to, feed)
        self._since = 0 if isinstance(found, g.Touched) else self._since
        return found

    async def traverse(self, to, feed):
        self._since += 1
        here = (await self.look()).position
        return await super().traverse(here.plus(to.minus(here).times(0.5)) if self._since == 2 else to, feed)
