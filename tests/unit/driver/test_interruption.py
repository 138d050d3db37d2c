"""Cancellation and Ctrl-C: the machine is stopped first, whatever else happens, and the cancellation goes on."""

from __future__ import annotations

import asyncio
import signal
import threading

import pytest
from support.bench import bench, corner_routine, scene

from gingerly import Interrupted, Standstill
from gingerly.driver.blocking import BlockingMachine
from gingerly.driver.run import STUBBORN
from gingerly.messages.commands import Stop

PAUSED = {"what": "pause", "call": "sense", "nth": 2, "after_mm": 0.3}


async def _cancelled_in_mid_move(machine, *, times=1):
    """Cancel the run `times` times while a sense is under way, and let it end."""
    async with machine:
        machine.adapter.stage(scene())
        task = asyncio.ensure_future(machine.attempt(corner_routine(), hand_over=True))
        while not machine.adapter.paused:
            await asyncio.sleep(0)
        for _ in range(times):
            task.cancel()
            await asyncio.sleep(0)
        with pytest.raises(asyncio.CancelledError):
            await task
        return machine.last, machine.adapter.true_moving


@pytest.mark.asyncio
async def test_a_cancelled_run_stops_the_machine_and_stays_cancelled():
    """Cancellation goes on, the machine stands still by then, and the result says what happened."""
    result, moving = await _cancelled_in_mid_move(bench(PAUSED))
    assert isinstance(result.fault, Interrupted)
    assert result.fault.standstill is Standstill.CONFIRMED
    assert not moving


@pytest.mark.asyncio
async def test_further_cancellations_do_not_disturb_the_stop():
    """A second and a third Ctrl-C change nothing about the stop that is under way."""
    slow_stop = {"what": "pause", "call": "stop", "nth": 1}
    machine = bench(PAUSED, slow_stop)
    async with machine:
        machine.adapter.stage(scene())
        task = asyncio.ensure_future(machine.attempt(corner_routine()))
        while not machine.adapter.paused:
            await asyncio.sleep(0)
        task.cancel()
        while [entry.call for entry in machine.adapter.log].count("sense") < 2 or not machine.adapter.paused:
            await asyncio.sleep(0)
        for _ in range(3):
            task.cancel()
            await asyncio.sleep(0)
        assert not task.done(), "the stop is still under way, and waited for"
        machine.adapter.go_on()
        with pytest.raises(asyncio.CancelledError):
            await task
    assert machine.last.fault.standstill is Standstill.CONFIRMED


@pytest.mark.asyncio
async def test_a_stop_that_is_cancelled_itself_is_ordered_again():
    """Even a loop that cancels all its tasks does not keep the stop from being tried, a bounded number of times."""
    machine = bench(PAUSED, {"what": "pause", "call": "stop", "nth": 1, "times": 2})
    async with machine:
        machine.adapter.stage(scene())
        task = asyncio.ensure_future(machine.attempt(corner_routine()))
        while not machine.adapter.paused:
            await asyncio.sleep(0)
        for moment in ("sense", "stop", "stop"):
            while not machine.adapter.paused:
                await asyncio.sleep(0)
            for each in asyncio.all_tasks() - {asyncio.current_task()}:
                each.cancel()
            await asyncio.sleep(0)
            assert moment in str(machine.adapter.log[-1])
        with pytest.raises(asyncio.CancelledError):
            await task
    stops = [entry for entry in machine.adapter.log if entry.call == "stop"]
    assert len(stops) == STUBBORN
    assert machine.last.fault.standstill is Standstill.CONFIRMED


@pytest.mark.asyncio
async def test_the_stop_is_the_first_order_after_a_cancellation():
    """Nothing comes between the cancellation and the stop."""
    machine, orders = bench(PAUSED), []
    machine.events.subscribe(lambda event: orders.append(getattr(event, "command", None)))
    await _cancelled_in_mid_move(machine)
    orders = [order for order in orders if order is not None]
    assert isinstance(orders[-1], Stop)


def test_ctrl_c_in_a_script_stops_the_machine_before_it_is_raised():
    """In a blocking script Ctrl-C ends as KeyboardInterrupt once the machine is known to stand still."""
    made = bench(PAUSED)
    with BlockingMachine(lambda: made) as machine:
        made.adapter.stage(scene())
        watcher = threading.Thread(target=_press_ctrl_c_when, args=(lambda: made.adapter.paused, 2))
        watcher.start()
        with pytest.raises(KeyboardInterrupt):
            machine.probe(corner_routine())
        watcher.join()
    assert isinstance(made.last.fault, Interrupted)
    assert made.last.fault.standstill is Standstill.CONFIRMED


def _press_ctrl_c_when(ready, times):
    waited = threading.Event()
    while not ready():
        waited.wait(0.005)
    for _ in range(times):
        signal.pthread_kill(threading.main_thread().ident, signal.SIGINT)


def test_a_blocking_machine_works_inside_a_running_event_loop():
    """In a notebook, whose loop is already running, the blocking calls work all the same."""

    async def cell():
        made = bench()
        with BlockingMachine(lambda: made) as machine:
            made.adapter.stage(scene())
            return machine.probe(corner_routine(), hand_over=True)

    assert asyncio.run(cell()).outcome.released
