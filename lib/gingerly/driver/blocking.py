"""The same machine for scripts without ``async``, also inside a running event loop (a notebook).

The machine lives in an event loop on a thread of its own. Ctrl-C in the calling thread stops the machine first and
then goes on as `KeyboardInterrupt`; a second one changes nothing about that.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Coroutine
from types import TracebackType
from typing import Any, Self, TypeVar

from gingerly.driver.ctrl_c import CtrlC
from gingerly.driver.machine import Machine
from gingerly.driver.machine import connect as connect_async
from gingerly.driver.result import Result
from gingerly.geometry import Position
from gingerly.messages.snapshot import Snapshot
from gingerly.messages.touches import Place
from gingerly.planner import Wishes
from gingerly.routines import Routine, TopSpot
from gingerly.tool import Tool

T = TypeVar("T")

WAKE_S = 0.1
"""How often a waiting thread wakes up, so that Ctrl-C is heard on every platform. Our own choice."""


class LoopThread:
    """An event loop on a thread of its own, to which coroutines are handed."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="gingerly", daemon=True)
        self._thread.start()

    def call(self, work: Coroutine[Any, Any, T]) -> T:
        """Run `work` to its end and return its result; on Ctrl-C cancel it, wait for it, and raise that then."""
        over = threading.Event()
        with CtrlC() as ctrl_c:
            task = self._task(work, over)
            ctrl_c.then(lambda: self._loop.call_soon_threadsafe(task.cancel))
            while not over.is_set():
                try:
                    over.wait(WAKE_S)
                except KeyboardInterrupt:  # from a handler that is not ours
                    ctrl_c.press()
        if ctrl_c.pressed:
            raise KeyboardInterrupt
        return task.result()

    def _task(self, work: Coroutine[Any, Any, T], over: threading.Event) -> asyncio.Task[T]:
        made: list[asyncio.Task[T]] = []
        ready = threading.Event()

        def make() -> None:
            task = self._loop.create_task(work)
            task.add_done_callback(lambda _: over.set())
            made.append(task)
            ready.set()

        self._loop.call_soon_threadsafe(make)
        ready.wait()
        return made[0]

    def close(self) -> None:
        """End the loop and its thread."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()


class BlockingMachine:
    """A `Machine` whose calls return when they are done. Use it as a context manager."""

    def __init__(self, make: Callable[[], Machine]) -> None:
        self._make = make
        self._thread: LoopThread | None = None
        self._machine: Machine | None = None

    def __enter__(self) -> Self:
        self._thread = LoopThread()
        try:
            self._machine = self._make()
            self._thread.call(self._machine.__aenter__())
        except BaseException:
            self._thread.close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self._thread is not None
        try:
            self._thread.call(self.machine.__aexit__(kind, error, trace))
        finally:
            self._thread.close()

    @property
    def machine(self) -> Machine:
        """The machine itself, for its events and its facts; `RuntimeError` before the context is entered."""
        if self._machine is None:
            raise RuntimeError("enter the machine with `with` before using it")
        return self._machine

    def _call(self, work: Coroutine[Any, Any, T]) -> T:
        assert self._thread is not None
        return self._thread.call(work)

    def look(self) -> Snapshot:
        """Return what the machine says about itself now."""
        return self._call(self.machine.look())

    def read_offset(self, number: int) -> Position:
        """Return the origin of work offset `number` (1–9) in machine coordinates (mm)."""
        return self._call(self.machine.read_offset(number))

    def stage(
        self, spot: TopSpot, *, name: str = "blank", skew: float = 0.0, lead_off_after: int | None = None
    ) -> Position:
        """Clamp a blank on a simulated machine; return where its corner truly is (mm)."""
        return self._call(self.machine.stage(spot, name=name, skew=skew, lead_off_after=lead_off_after))

    def probe(self, routine: Routine, *, hand_over: bool = False, wishes: Wishes | None = None) -> Result:
        """Move the machine through one routine and return its result; raises the fault where it ends in one."""
        return self._call(self.machine.probe(routine, hand_over=hand_over, wishes=wishes))

    def attempt(self, routine: Routine, *, hand_over: bool = False, wishes: Wishes | None = None) -> Result:
        """Move the machine through one routine and return its result, whether or not it ends in a fault."""
        return self._call(self.machine.attempt(routine, hand_over=hand_over, wishes=wishes))

    def continuity(self, places: tuple[Place, ...] = (Place.TIP,)) -> Result:
        """Check the circuit with the operator; moves nothing."""
        return self._call(self.machine.continuity(places))

    def look_at_zero(self, number: int, *, height: float, tool: Tool) -> Result:
        """Move the tool to `height` mm above the zero of a work offset, with lead and plate off."""
        return self._call(self.machine.look_at_zero(number, height=height, tool=tool))

    def release(self) -> bool:
        """Ask for lead and plate to be taken off; return whether a person confirmed it."""
        return self._call(self.machine.release())


def connect_blocking(adapter: str, **options: Any) -> BlockingMachine:
    """Return a blocking machine behind the installed adapter of this name; options as for `gingerly.connect`.

    Raises `ValueError` for an unknown adapter or option once it is entered.
    """
    return BlockingMachine(lambda: connect_async(adapter, **options))
