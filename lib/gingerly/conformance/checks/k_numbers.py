"""Numbers that are none, feeds that are none, and targets that nobody can reach: refused before anything happens."""

from __future__ import annotations

import math
from collections.abc import Coroutine
from typing import Any

from gingerly.conformance.case import Case, describe, feed_text
from gingerly.conformance.catalogue import check
from gingerly.conformance.checks.d_offsets import _same
from gingerly.geometry import Axis
from gingerly.messages.faults import AlarmActive, ControllerRefused, Fault
from gingerly.messages.replies import Touched

NO_FEEDS = (0.0, -60.0, math.nan, math.inf)


async def _refused(case: Case, what: str, work: Coroutine[Any, Any, Any]) -> None:
    error = await case.misuse(what, work)
    if error is None:
        case.fail(f"{what} was accepted")
    case.hold(
        isinstance(error, ValueError | ControllerRefused),
        f"{what} raised {describe(error)}; it must be ValueError or ControllerRefused",
    )


async def _hold_unmoved(case: Case) -> None:
    seen = await case.look()
    case.hold(
        seen.idle and case.same_place(seen.position, case.subject.safe),
        f"it was refused, and moved to {seen.position} nevertheless",
    )


@check("traverse")
async def a_feed_that_is_none_is_never_sent(case: Case) -> None:
    """A traverse at a feed that is zero, negative or no finite number is refused, and nothing moves.

    Does: orders traverses at such feeds.
    Why: only None means "as fast as it goes"; a zero taken for "not given" turns the slowest move into the fastest.
    """
    for feed in NO_FEEDS:
        await _refused(case, f"a traverse at {feed_text(feed)}", case.adapter.traverse(case.near(Axis.X), feed))
    await _hold_unmoved(case)


@check("sense")
async def a_sense_to_no_number_is_never_sent(case: Case) -> None:
    """A sense to no finite place, or at a feed that is none, is refused, and nothing moves.

    Does: orders senses to coordinates that are no numbers, and at feeds that are zero, negative or no number.
    Why: controllers read such text each in its own way; a sense at no feed creeps for ever, or crashes.
    """
    for wrong in (math.nan, math.inf):
        to = case.subject.safe.with_axes({Axis.Z: wrong})
        await _refused(case, f"a sense to Z{wrong}", case.adapter.sense(to, 60.0))
    for feed in NO_FEEDS:
        await _refused(case, f"a sense at {feed_text(feed)}", case.adapter.sense(case.near(Axis.X), feed))
    await _hold_unmoved(case)


@check("offsets", moves=False)
async def a_value_that_is_no_number_is_never_written(case: Case) -> None:
    """A work offset of which a value is no finite number is refused whole, and stays as it was.

    Does: writes a good X with a Z that is no number, and reads.
    Why: a controller may store zero for it, or X alone, and the next program cuts there.
    """
    number = (await case.keep_offsets())[0]
    for wrong in (math.nan, math.inf):
        axes = {Axis.X: case.kept[number].x + 1.0, Axis.Z: wrong}
        await _refused(case, f"a work offset with Z {wrong}", case.adapter.write_offset(number, axes))
    found = await case.read(number)
    case.hold(_same(case, found, case.kept[number]), f"it was refused, and work offset {number} became {found}")


@check("sense")
async def a_sense_outside_the_envelope_is_not_reported_as_made(case: Case) -> None:
    """A sense to a target outside the envelope is refused, or its rest says that it was not reached.

    Does: on a simulated machine, senses to 1 mm beyond the nearest axis limit.
    Why: "nothing there" is told of a way that was never gone, and an axis may stand stalled against its end.
    """
    case.only_if(case.subject.simulated, "on a real machine this would drive an axis against its end")
    to = case.outside
    got = await case.attempt_sense(to, case.facts.top_feed)
    if isinstance(got, Fault):
        case.hold(isinstance(got, ControllerRefused | AlarmActive), f"a sense outside raised {describe(got)}")
        return
    case.hold(not isinstance(got, Touched), f"a sense to {to}, outside the envelope, answered {got!r}")
    case.hold(
        case.facts.envelope.excess(got.rest.position) is None or not case.same_place(got.rest.position, to),
        f"a sense to {to}, outside the envelope, was reported as ended there",
    )
