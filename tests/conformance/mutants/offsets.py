"""Adapters with one bug each: work offsets."""

from __future__ import annotations

from dataclasses import replace

from conformance.mutants.mutant import caught_by, with_facts
from conformance.plain_subjects import MemoryAdapter
from gingerly.geometry import Axis, Position
from tcp_adapter.adapter import place


@caught_by("an_offset_reads_as_written")
class OffsetsInInches(MemoryAdapter):
    """Writes work offsets in inches."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, {axis: value / 25.4 for axis, value in axes.items()})


@caught_by("every_number_is_its_own_offset")
class OneNumberOff(MemoryAdapter):
    """Reads the neighbour of the number it was asked for."""

    async def read_offset(self, number):
        return await super().read_offset(number % 9 + 1)


@caught_by("every_number_is_its_own_offset")
class SixOffsetsOnly(MemoryAdapter):
    """Puts numbers 7 to 9 on number 6."""

    async def read_offset(self, number):
        return await super().read_offset(min(number, 6) if number < 10 else number)

    async def write_offset(self, number, axes):
        await super().write_offset(min(number, 6) if number < 10 else number, axes)


@caught_by("axes_not_named_stay_as_they_were")
class ZerosTheRest(MemoryAdapter):
    """Writes zero to the axes that were not named."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, dict.fromkeys(Axis, 0.0) | dict(axes))


@caught_by("other_offsets_stay_as_they_were")
class WritesTheNextToo(MemoryAdapter):
    """Writes the next work offset as well."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, axes)
        if number < 9:
            await super().write_offset(number + 1, axes)


@caught_by("fractions_are_kept_to_the_stated_rounding")
class RoundsToTenths(MemoryAdapter):
    """Writes work offsets with one decimal."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, {axis: round(value, 1) for axis, value in axes.items()})


@caught_by("zero_and_negative_values_are_values")
class ZeroMeansNothing(MemoryAdapter):
    """Leaves an axis out whose value is zero."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, {axis: value for axis, value in axes.items() if value})


@caught_by("zero_and_negative_values_are_values")
class LosesTheSign(MemoryAdapter):
    """Writes the size of each value without its sign."""

    async def write_offset(self, number, axes):
        await super().write_offset(number, {axis: abs(value) for axis, value in axes.items()})


@caught_by("the_order_of_the_axes_does_not_matter")
class AxesByOrder(MemoryAdapter):
    """Takes the values in their order, as if the axes always came as X, Y, Z."""

    async def write_offset(self, number, axes):
        names = sorted(axes)
        await super().write_offset(number, dict(zip(names, axes.values(), strict=True)))


@caught_by("a_number_that_is_no_offset_is_refused")
class TakesTheNearestNumber(MemoryAdapter):
    """Takes the nearest number for one that does not exist."""

    async def read_offset(self, number):
        return await super().read_offset(min(9, max(1, number)))

    async def write_offset(self, number, axes):
        await super().write_offset(min(9, max(1, number)), axes)


@caught_by("writing_moves_nothing")
class ReportsWorkCoordinates(MemoryAdapter):
    """Reports work coordinates of offset 1 as if they were machine coordinates."""

    async def look(self):
        seen = await super().look()
        return replace(seen, position=seen.position.minus(self.controller.offsets[1]))


@caught_by("moves_ignore_work_offsets")
class OrdersWorkCoordinates(MemoryAdapter):
    """Sends targets as coordinates of work offset 1, and reports them back the same way."""

    async def _ask(self, order, **numbers):
        shift = self.controller.offsets[1]
        if order in ("go", "feel"):
            numbers |= {axis: numbers[axis] + getattr(shift, axis) for axis in "xyz"}
        found = await super()._ask(order, **numbers)
        at = place(found["at"]).minus(shift)
        return found | {"at": f"{at.x},{at.y},{at.z}"}


@caught_by("offsets_outlive_the_connection", "offsets_are_truly_written")
class RemembersOffsetsItself(MemoryAdapter):
    """Keeps written offsets to itself, and reads them from there."""

    def __init__(self):
        super().__init__()
        self._own = {}

    async def open(self):
        self._own = dict.fromkeys(range(1, 10), Position(0.0, 0.0, 0.0))
        await super().open()

    async def read_offset(self, number):
        await super().read_offset(number)
        return self._own[number]

    async def write_offset(self, number, axes):
        await super().read_offset(number)
        self._own[number] = self._own[number].with_axes(axes)


@caught_by("unreadable_offsets_are_not_made_up")
class MakesOffsetsUp(MemoryAdapter):
    """Answers zero where its facts say that work offsets cannot be read."""

    facts = with_facts(offsets_readable=False)


@caught_by("a_cancelled_write_is_whole_or_not_at_all")
class WritesAxisByAxis(MemoryAdapter):
    """Writes one axis after the other."""

    async def write_offset(self, number, axes):
        for axis, value in axes.items():
            await super().write_offset(number, {axis: value})
