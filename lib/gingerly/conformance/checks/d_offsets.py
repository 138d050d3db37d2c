"""Work offsets: written whole, read back, in machine coordinates; nothing moves. All are restored afterwards."""

from __future__ import annotations

from collections.abc import Coroutine
from types import MappingProxyType
from typing import Any

from gingerly.conformance.case import OPENING_S, Case, describe
from gingerly.conformance.catalogue import NotExercised, check
from gingerly.geometry import Axis, Position
from gingerly.messages.faults import ControllerRefused


def _value(case: Case, number: int, axis: Axis) -> float:
    """Return a value that is different for every number and axis, and lies on the offsets' own steps."""
    step = max(case.facts.offset_resolution, 1e-4)
    rough = (-1.0) ** number * (10.0 * number + 3.0 * axis + 0.5)
    return round(rough / step) * step


def _origin(case: Case, number: int) -> Position:
    return Position(*(_value(case, number, axis) for axis in Axis))


def _rounding(case: Case) -> float:
    return 0.75 * case.facts.offset_resolution + 1e-6


def _same(case: Case, one: Position, other: Position) -> bool:
    return all(abs(a - b) <= _rounding(case) for a, b in zip(one, other, strict=True))


async def _two(case: Case) -> tuple[int, int]:
    numbers = await case.keep_offsets()
    if len(numbers) < 2:
        raise NotExercised("the subject allows fewer than two work offsets to be written (`offsets`)")
    return numbers[0], numbers[1]


async def _write_all(case: Case, number: int) -> Position:
    origin = _origin(case, number)
    await case.write(number, dict(zip(Axis, origin, strict=True)))
    return origin


@check("offsets", moves=False)
async def an_offset_reads_as_written(case: Case) -> None:
    """A work offset reads back as it was written, in machine coordinates and millimetres.

    Does: writes all three axes of one offset and reads them.
    Why: the offset is the product of the whole job; a part is cut where it says.
    """
    number, _ = await _two(case)
    origin = await _write_all(case, number)
    found = await case.read(number)
    case.hold(_same(case, found, origin), f"work offset {number} was written as {origin} and reads {found}")


@check("offsets", moves=False)
async def every_number_is_its_own_offset(case: Case) -> None:
    """Each number from 1 to 9 names a work offset of its own.

    Does: writes different values to all of them, and reads them in reverse order.
    Why: an offset stored under a neighbour's number cuts the neighbour's part.
    """
    numbers = await case.keep_offsets()
    for number in numbers:
        await _write_all(case, number)
    for number in reversed(numbers):
        found, meant = await case.read(number), _origin(case, number)
        case.hold(_same(case, found, meant), f"work offset {number} was written as {meant} and reads {found}")


@check("offsets", moves=False)
async def axes_not_named_stay_as_they_were(case: Case) -> None:
    """Writing some axes of a work offset leaves the others as they were.

    Does: writes all axes, then each axis alone, and reads after each.
    Why: after a tool change Z alone is set; an X or Y lost with it puts the cutter beside the part.
    """
    number, other = await _two(case)
    expected = await _write_all(case, number)
    for axis in Axis:
        value = _value(case, other, axis) + 1.0
        await case.write(number, {axis: value})
        expected = expected.with_axes({axis: value})
        found = await case.read(number)
        case.hold(
            _same(case, found, expected),
            f"after {axis.name} alone was written, work offset {number} reads {found}; expected {expected}",
        )


@check("offsets", moves=False)
async def other_offsets_stay_as_they_were(case: Case) -> None:
    """Writing one work offset leaves every other as it was.

    Does: notes all, writes one, and reads all.
    Why: eleven other blanks in the fixture rely on theirs.
    """
    numbers = await case.keep_offsets()
    written = numbers[0]
    await _write_all(case, written)
    for number in numbers[1:]:
        found, before = await case.read(number), case.kept[number]
        case.hold(
            _same(case, found, before),
            f"writing work offset {written} changed number {number} from {before} to {found}",
        )


@check("offsets", moves=False)
async def fractions_are_kept_to_the_stated_rounding(case: Case) -> None:
    """A value between the steps of storage reads back within the facts' `offset_resolution`.

    Does: writes thirds and sevenths of a millimetre and reads them.
    Why: a result that claims hundredths must not be rounded to tenths on its way into the controller.
    """
    number, _ = await _two(case)
    meant = Position(10.0 / 3.0, -20.0 / 7.0, -1.0 / 3.0)
    await case.write(number, dict(zip(Axis, meant, strict=True)))
    found = await case.read(number)
    case.hold(
        _same(case, found, meant),
        f"{tuple(meant)} was written and reads {tuple(found)}; the facts allow a rounding of"
        f" {case.facts.offset_resolution:g} mm",
    )


@check("offsets", moves=False)
async def zero_and_negative_values_are_values(case: Case) -> None:
    """Zero and negative numbers are written like any other value.

    Does: writes an offset away from zero, then zeros and negative numbers, and reads.
    Why: a zero taken for "not given", or a lost sign, sets the origin somewhere else without a word.
    """
    number, _ = await _two(case)
    await _write_all(case, number)
    meant = Position(0.0, -12.5, 0.0)
    await case.write(number, dict(zip(Axis, meant, strict=True)))
    found = await case.read(number)
    case.hold(_same(case, found, meant), f"{meant} was written and reads {found}")


@check("offsets", moves=False)
async def the_order_of_the_axes_does_not_matter(case: Case) -> None:
    """Axes may come in any mapping and any order.

    Does: writes Z before X from a read-only mapping, and reads.
    Why: values that follow the order instead of the names end up on the wrong axes.
    """
    number, _ = await _two(case)
    before = await _write_all(case, number)
    await case.write(number, MappingProxyType({Axis.Z: -4.0, Axis.X: 7.0}))
    found, meant = await case.read(number), before.with_axes({Axis.X: 7.0, Axis.Z: -4.0})
    case.hold(_same(case, found, meant), f"Z -4 and X 7 were written over {before}; it reads {found}")


@check("offsets", moves=False)
async def a_number_that_is_no_offset_is_refused(case: Case) -> None:
    """A number outside 1 to 9 is refused, and nothing is written.

    Does: reads and writes number 0 and 10, then reads all others.
    Why: in many controllers number 0 or 10 means "the one in use": something is overwritten, and nobody knows what.
    """
    numbers = await case.keep_offsets()
    for wrong in (0, 10):
        await _refused(case, f"read_offset({wrong})", case.adapter.read_offset(wrong))
        await _refused(case, f"write_offset({wrong}, …)", case.adapter.write_offset(wrong, {Axis.X: 1.0}))
    for number in numbers:
        found = await case.read(number)
        case.hold(
            _same(case, found, case.kept[number]), f"a refused number changed work offset {number} to {found}"
        )


async def _refused(case: Case, what: str, work: Coroutine[Any, Any, Any]) -> None:
    error = await case.misuse(what, work)
    if error is None:
        case.fail(f"{what} was accepted")
    case.hold(isinstance(error, ValueError | ControllerRefused), f"{what} raised {describe(error)}")


@check("offsets", moves=False)
async def writing_moves_nothing(case: Case) -> None:
    """Writing a work offset moves nothing, and leaves the reported position as it was.

    Does: looks, writes, and looks again.
    Why: positions are machine coordinates; one that follows a work offset is off by that offset ever after.
    """
    before = await case.look()
    for number in await case.keep_offsets():
        await _write_all(case, number)
    after = await case.look()
    case.hold(
        case.same_place(before.position, after.position),
        f"the position was {before.position} before work offsets were written and is {after.position} after",
    )


@check("traverse")
async def moves_ignore_work_offsets(case: Case) -> None:
    """Targets are machine coordinates, whatever work offsets hold.

    Does: writes all work offsets, then moves within the free box.
    Why: a target taken as a work coordinate sends the tool to another place altogether.
    """
    case.only_if(
        case.subject.simulated, "on a real machine a wrong answer would be a crash; run it on a simulated one"
    )
    for number in await case.keep_offsets():
        await case.write(number, {Axis.X: 0.25, Axis.Y: -0.25, Axis.Z: 0.25})
    to = case.near(Axis.X)
    rest = await case.traverse(to)
    case.hold(case.same_place(rest.position, to), f"with work offsets set, a move to {to} ended at {rest.position}")
    if case.subject.truth is not None:
        true = (await case.truth()).position
        allowed = case.slack + case.facts.backlash
        case.hold(true.distance(to) <= allowed, f"with work offsets set, a move to {to} truly ended at {true}")


@check("offsets", moves=False)
async def offsets_outlive_the_connection(case: Case) -> None:
    """A work offset stays as written when the adapter is closed and opened again.

    Does: writes, closes, opens, and reads.
    Why: the program that cuts the part connects later, and cuts where the controller says.
    """
    number, _ = await _two(case)
    origin = await _write_all(case, number)
    await case.close()
    await case.answered("open()", case.adapter.open(), OPENING_S)
    found = await case.read(number)
    case.hold(
        _same(case, found, origin), f"work offset {number} was {origin}; after close() and open() it is {found}"
    )


@check("offsets", moves=False)
async def offsets_are_truly_written(case: Case) -> None:
    """What is read back is what the controller truly holds.

    Does: writes, and looks at the truth by a second way.
    Why: an adapter that reads back its own memory confirms every write that never got there.
    """
    number, _ = await _two(case)
    origin = await _write_all(case, number)
    offsets = (await case.truth()).offsets
    if offsets is None:
        raise NotExercised("the subject's `truth` does not tell work offsets")
    case.hold(_same(case, offsets[number], origin), f"{origin} was written, and truly {offsets[number]} stands")


@check("offsets", moves=False)
async def unreadable_offsets_are_not_made_up(case: Case) -> None:
    """Where the facts say that work offsets cannot be read, reading one is refused.

    Does: reads one.
    Why: an invented origin would be restored after trouble, over the one that stood there.
    """
    case.only_if(not case.facts.offsets_readable, "the facts say that work offsets can be read")
    got = await case.attempt("read_offset(1)", case.adapter.read_offset(1))
    case.hold(isinstance(got, ControllerRefused), f"read_offset(1) answered {got!r}")
