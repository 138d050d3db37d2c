"""Cancellation and Ctrl-C: the machine is stopped first, whatever else happens, and the cancellation goes on."""

from __future__ import annotations

import asyncio
import signal
import threading

import pytest

from gingerly import Interrupted, Machine, Standstill
from gingerly.driver.blocking import BlockingMachine
from gingerly.driver.ctrl_c import CtrlC, unheard
from gingerly.driver.events import FaceFound
from gingerly.driver.run import STUBBORN
from gingerly.messages.commands import Stop
from gingerly_mock import MockAdapter
from support.bench import bench, corner_routine, scene
from support.turns import turn, until

PAUSED = {"what": "pause", "call": "sense", "nth": 2, "after_mm": 0.3}


async def _cancelled_in_mid_move(machine, *, times=1):
    """Cancel the run `times` times while a sense is under way, and let it end."""
    async with machine:
        machine.adapter.stage(scene())
        task = asyncio.ensure_future(machine.attempt(corner_routine(), hand_over=True))
        await until(lambda: machine.adapter.paused)
        for _ in range(times):
            task.cancel()
            await turn()
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
async def test_a_face_that_was_told_is_not_told_again_while_the_run_is_wound_up():
    machine, told = bench({**PAUSED, "nth": 5}), []
    machine.events.subscribe(lambda event: told.append(event) if isinstance(event, FaceFound) else None)
    await _cancelled_in_mid_move(machine)
    assert [event.face.touch for event in told] == ["top"]


@pytest.mark.asyncio
async def test_further_cancellations_do_not_disturb_the_stop():
    """A second and a third Ctrl-C change nothing about the stop that is under way."""
    slow_stop = {"what": "pause", "call": "stop", "nth": 1}
    machine = bench(PAUSED, slow_stop)
    async with machine:
        machine.adapter.stage(scene())
        task = asyncio.ensure_future(machine.attempt(corner_routine()))
        await until(lambda: machine.adapter.paused)
        task.cancel()
        await until(
            lambda: [entry.call for entry in machine.adapter.log].count("sense") == 2 and machine.adapter.paused
        )
        for _ in range(3):
            task.cancel()
            await turn()
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
        await until(lambda: machine.adapter.paused)
        for moment in ("sense", "stop", "stop"):
            await until(lambda: machine.adapter.paused)
            for each in asyncio.all_tasks() - {asyncio.current_task()}:
                each.cancel()
            await turn()
            assert moment in str(machine.adapter.log[-1])
        with pytest.raises(asyncio.CancelledError):
            await task
    stops = [entry for entry in machine.adapter.log if entry.call == "stop"]
    assert len(stops) == STUBBORN
    assert machine.last.fault.standstill is Standstill.CONFIRMED


class CancelledOnAndOn:
    """A recorder within which every task is cancelled, from the first time that a stop is to be recorded."""

    def __init__(self):
        self.stops = 0

    async def before(self, command):
        self.stops += isinstance(command, Stop)
        if self.stops:
            raise asyncio.CancelledError

    async def after(self, command, reply):
        """Keep nothing."""


@pytest.mark.asyncio
async def test_a_stop_that_can_never_be_ordered_ends_the_run_all_the_same():
    """After a bounded number of tries, and nothing is said of a machine that nobody could stop but that."""
    machine = bench(PAUSED)
    machine.recorder = CancelledOnAndOn()
    result, _ = await _cancelled_in_mid_move(machine)
    assert machine.recorder.stops == STUBBORN
    assert isinstance(result.fault, Interrupted)
    assert result.fault.standstill is Standstill.UNCONFIRMED
    assert result.fault.done.startswith("tried to stop the machine, and was not heard")


@pytest.mark.asyncio
async def test_the_stop_is_the_first_order_after_a_cancellation():
    """Nothing comes between the cancellation and the stop."""
    machine, orders = bench(PAUSED), []
    machine.events.subscribe(lambda event: orders.append(getattr(event, "command", None)))
    await _cancelled_in_mid_move(machine)
    orders = [order for order in orders if order is not None]
    assert isinstance(orders[-1], Stop)


def _raises(number, frame):
    raise KeyboardInterrupt


@pytest.mark.parametrize(
    ("handler", "presses"),
    [(signal.default_int_handler, 2), (_raises, 1)],
    ids=["Python's own", "somebody else's"],
)
def test_ctrl_c_in_a_script_stops_the_machine_before_it_is_raised(handler, presses, pythons_own_ctrl_c):
    """In a blocking script Ctrl-C ends as KeyboardInterrupt once the machine is known to stand still.

    A handler that is left alone may raise at any moment, and more than one press of it nobody can catch.
    """
    signal.signal(signal.SIGINT, handler)
    made = bench(PAUSED)
    with BlockingMachine(lambda: made) as machine:
        made.adapter.stage(scene())
        watcher = threading.Thread(target=_press_ctrl_c_when, args=(lambda: made.adapter.paused, presses))
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


class Pressed(MockAdapter):
    """Ctrl-C comes during the second sense, and again while the stop is under way."""

    contacts = 0

    async def sense(self, to, feed):
        if self.contacts:
            signal.raise_signal(signal.SIGINT)
        self.contacts += 1
        return await super().sense(to, feed)

    async def stop(self):
        signal.raise_signal(signal.SIGINT)
        return await super().stop()


def test_a_second_ctrl_c_in_a_plain_event_loop_does_not_break_into_the_stop(pythons_own_ctrl_c):
    """A script of nothing but `asyncio.run` ends as KeyboardInterrupt too, and the machine is seen to stand by then."""
    machine = Machine(Pressed(seed=3, ideal=True, faults=[PAUSED]))
    machine.operator = machine.adapter.operator

    async def script():
        async with machine:
            machine.adapter.stage(scene())
            await machine.attempt(corner_routine())

    with pytest.raises(KeyboardInterrupt):
        asyncio.run(script())
    assert isinstance(machine.last.fault, Interrupted)
    assert machine.last.fault.standstill is Standstill.CONFIRMED


@pytest.fixture
def pythons_own_ctrl_c():
    """Give the main thread the handler that a script begins with."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_after_the_stop_ctrl_c_is_heard_again(pythons_own_ctrl_c):
    """It is unheard only while something is being stopped."""
    with unheard():
        signal.raise_signal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)


def test_a_blocking_machine_works_inside_a_running_event_loop():
    """In a notebook, whose loop is already running, the blocking calls work all the same."""

    async def cell():
        made = bench()
        with BlockingMachine(lambda: made) as machine:
            made.adapter.stage(scene())
            return machine.probe(corner_routine(), hand_over=True)

    assert asyncio.run(cell()).outcome.released


def test_ctrl_c_before_there_is_anything_to_cancel_is_heeded_as_soon_as_there_is():
    """No moment of a blocking call is left in which a press could escape without stopping the machine."""
    heard = []
    with CtrlC() as ctrl_c:
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)
        ctrl_c.then(lambda: heard.append("cancelled"))
    assert ctrl_c.pressed
    assert heard == ["cancelled"]


def test_after_a_blocking_call_ctrl_c_is_pythons_own_again():
    """The handler is replaced only while there is something to stop."""
    with CtrlC():
        assert signal.getsignal(signal.SIGINT) is not signal.default_int_handler
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_handler_of_somebody_else_is_left_alone():
    """Whoever has set one knows what a press is to do."""
    mine = lambda number, frame: None  # noqa: E731
    before = signal.signal(signal.SIGINT, mine)
    try:
        with CtrlC():
            assert signal.getsignal(signal.SIGINT) is mine
        assert signal.getsignal(signal.SIGINT) is mine
    finally:
        signal.signal(signal.SIGINT, before)
