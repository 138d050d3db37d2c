"""The world's own clock: a wait is bounded, what was begun is given time to end, and nothing is left behind."""

from __future__ import annotations

import asyncio
import gc

import pytest

from gingerly.driver.clock import WallClock
from support.turns import turn

LONG_S = 3600.0
TURNS = 5


class Work:
    """Waits for ever; when it is cancelled it takes some turns to clean up, and then ends as it is told to."""

    def __init__(self, *, fails: bool = False) -> None:
        self.fails = fails
        self.cleaned_up = False

    async def __call__(self) -> None:
        try:
            await asyncio.Event().wait()
        finally:
            for _ in range(TURNS):
                await turn()
            self.cleaned_up = True
            if self.fails:
                raise OSError("too late")


@pytest.mark.asyncio
async def test_work_is_given_time_to_end_before_its_timeout_is_told() -> None:
    work = Work()
    with pytest.raises(TimeoutError):
        await WallClock().bounded(work(), 0.0)
    assert work.cleaned_up


@pytest.mark.asyncio
async def test_a_cancellation_from_outside_goes_on_once_the_work_has_ended() -> None:
    work = Work()
    waiting = asyncio.ensure_future(WallClock().bounded(work(), LONG_S))
    await turn()
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    assert work.cleaned_up


@pytest.mark.asyncio
async def test_an_error_that_comes_too_late_is_told_to_nobody() -> None:
    told: list[object] = []
    asyncio.get_running_loop().set_exception_handler(lambda loop, context: told.append(context))
    with pytest.raises(TimeoutError):
        await WallClock().bounded(Work(fails=True)(), 0.0)
    gc.collect()
    assert told == []


@pytest.mark.asyncio
async def test_an_answer_in_time_is_passed_on() -> None:
    async def answer() -> int:
        await turn()
        return 7

    assert await WallClock().bounded(answer(), LONG_S) == 7
