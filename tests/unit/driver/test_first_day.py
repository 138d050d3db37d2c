"""Both halves of the stop test as one result: what each showed, and how long both took."""

from __future__ import annotations

import pytest

from gingerly import Position
from gingerly.driver.events import RunEnded, RunStarted
from gingerly.driver.first_day import attempt
from gingerly.routines.stop_test import StopTest
from support.bench import PIN, bench


@pytest.mark.asyncio
async def test_both_rises_are_told_as_one_result_with_the_time_that_both_took() -> None:
    machine, events = bench(position=Position(150.0, 100.0, -60.0)), []
    machine.events.subscribe(events.append)
    async with machine:
        result = await attempt(machine, StopTest(tool=PIN))
    times = [event.at_s for event in events if isinstance(event, RunStarted | RunEnded)]
    _, first, own = zip(times[::2], times[1::2], strict=True)
    assert result.duration_s == pytest.approx(first[1] - first[0] + own[1] - own[0])
    assert (result.routine, result.outcome.touches) == ("stop test", 1)
    assert [name for name, _ in result.outcome.measures] == ["ran on", "alarm after"]
