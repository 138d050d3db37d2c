"""Cancelling what the other checks leave alone: a sense that is about to touch, and the closing itself."""

from __future__ import annotations

from gingerly.conformance.case import OPENING_S, Case
from gingerly.conformance.catalogue import check
from gingerly.conformance.checks.h_cancel import _cancel, _places


@check("cancel")
async def a_cancelled_touch_lets_the_cancellation_out(case: Case) -> None:
    """A sense that meets metal and is cancelled ends with `asyncio.CancelledError`, wherever it waits.

    Does: cancels senses into the wall at each place where they wait, until after the contact, and stops after each.
    Why: what is asked between contact and rest is waited for too, and there the tool stands in the work.
    """
    wall = case.wall()
    feed = case.sense_feed(wall)
    within_s = case.patience(wall.start, wall.to, feed)
    case.away_from_wall = wall.start
    await case.traverse(wall.start)
    for cut in await _places(case, "sense()", lambda: case.adapter.sense(wall.to, feed), within_s):
        await case.traverse(wall.start)
        await _cancel(case, "sense() into metal", case.adapter.sense(wall.to, feed), cut, within_s)
        await case.hold_still(await case.stop(), f"stop(), after a sense into metal cancelled {cut},")


@check("cancel", moves=False)
async def a_cancelled_close_can_be_tried_again(case: Case) -> None:
    """A `close` that is cancelled ends with `asyncio.CancelledError`; closed again, the adapter opens as if new.

    Does: cancels `close` at each place where it waits, closes, opens, and looks.
    Why: a second Ctrl-C strikes during the clean-up; a port left half-closed keeps the machine out of reach.
    """
    for cut in await _places(case, "close()", case.adapter.close, OPENING_S):
        await case.answered("open()", case.adapter.open(), OPENING_S)
        await _cancel(case, "close()", case.adapter.close(), cut, OPENING_S)
        await case.close()
        await case.answered(f"open() after a close() that was cancelled {cut}", case.adapter.open(), OPENING_S)
        await case.look()
        await case.close()
    await case.answered("open()", case.adapter.open(), OPENING_S)
