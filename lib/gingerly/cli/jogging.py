"""Jogging at a terminal: one step per key press, shown as it is, and stopped by any other key.

Keys that arrive while a step goes on are thrown away; one that is no step key stops the machine.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from enum import Enum
from typing import TextIO

from gingerly.cli.columns import wrapped
from gingerly.cli.keys import Keys
from gingerly.cli.operator import Lines
from gingerly.driver.adapter import Adapter
from gingerly.driver.first_day import stop_test
from gingerly.driver.jog import Jogger
from gingerly.geometry import Axis
from gingerly.job.problems import printable
from gingerly.messages.faults import Fault
from gingerly.messages.snapshot import Circuit, Snapshot
from gingerly.messages.touches import Place
from gingerly.routines.stop_test import StopTest, in_words

STEPS = {
    "left": (Axis.X, -1.0),
    "right": (Axis.X, 1.0),
    "down": (Axis.Y, -1.0),
    "up": (Axis.Y, 1.0),
    "x": (Axis.X, -1.0),
    "X": (Axis.X, 1.0),
    "y": (Axis.Y, -1.0),
    "Y": (Axis.Y, 1.0),
    "z": (Axis.Z, -1.0),
    "Z": (Axis.Z, 1.0),
}
"""One step along one axis for each of these keys."""

SIZES = (0.01, 0.05, 0.1, 0.5, 1.0, 5.0, 10.0)
FIRST_SIZE = 3
"""The steps in mm, and which of them comes first. Our own choice."""

CLEARING_S = 30.0
"""How long a controller may take to clear an alarm, in seconds. Our own choice."""

HELP = """\
  arrows or x X y Y    one step along X or Y (a capital letter is plus)
  z Z                  one step down or up
  - and +              a smaller or a larger step
  c                    check the circuit; only then does a contact stop a step
  t                    the first day's stop test: do a touch, and its own stop,
                       stop the machine?
  a                    clear an alarm, where the controller has a way to
  h                    home the machine, where its adapter has a way to
  k                    keep this place          q   leave it
  Any other key stops a step that is under way. Ctrl-C stops and ends.
"""

HOMING = """\
  Homing drives every axis to its switches, and NOTHING stops it at a contact.
  Take test lead and plate off the machine, look that the whole way is free,
  keep a hand at the machine's own stop. Nothing that was set before counts
  afterwards, until a face was verified."""


class Ending(Enum):
    """How jogging ended."""

    KEPT = "kept"
    LEFT = "left"


@dataclass(slots=True)
class JogScreen:
    """One person's jogging of one machine, at one terminal; `places` are where a circuit check is made."""

    jogger: Jogger
    lines: Lines
    out: TextIO
    places: tuple[Place, ...] = (Place.TIP,)
    size: int = FIRST_SIZE
    homed: Callable[[], Awaitable[None]] | None = None
    """Awaited once the machine was homed: from then on nothing set before is believed."""

    async def run(self) -> Ending:
        """Move the machine step by step as keys are pressed, until the place is kept or left."""
        self._say(f"Jogging {printable(self.jogger.machine.name)!r}.\n{HELP}")
        await self._show()
        while True:
            with Keys(self.lines) as keys:
                keys.discard()
                key = await self._steps(keys)
            if key in ("k", "q", None):
                return Ending.KEPT if key == "k" else Ending.LEFT
            await self._aside(key)
            await self._show()

    async def _steps(self, keys: Keys) -> str | None:
        """Take steps until a key is pressed that ends them; return that key."""
        while True:
            self._say(self._prompt(), end="")
            key = await keys.next()
            self._say("")
            if key in ("k", "q", "c", "t", "h", "a", None):
                return key
            if key in ("+", "=", "-"):
                self.size = min(max(self.size + (-1 if key == "-" else 1), 0), len(SIZES) - 1)
            elif key in STEPS:
                await self._step(keys, *STEPS[key])
                keys.discard()
                await self._show()
            else:
                self._say(HELP)

    async def _step(self, keys: Keys, axis: Axis, sign: float) -> None:
        try:
            snapshot = await self.jogger.look()
            size = SIZES[self.size]
            size = min(size, self.jogger.longest(snapshot, axis, sign * size))
            await self._watched(keys, axis, sign * size)
        except Fault as fault:
            self._tell(fault)

    async def _watched(self, keys: Keys, axis: Axis, distance: float) -> None:
        """Take one step; a key that is no step key cancels it, which stops the machine."""
        step = asyncio.ensure_future(self.jogger.step(axis, distance))
        try:
            while not step.done():
                pressed = asyncio.ensure_future(keys.next())
                await asyncio.wait({step, pressed}, return_when=asyncio.FIRST_COMPLETED)
                if not pressed.done():
                    pressed.cancel()
                elif pressed.result() not in STEPS and not step.done():
                    step.cancel()
                    await asyncio.wait({step})
                    self._say("  told to stop")
        finally:
            if not step.done():
                step.cancel()
                await asyncio.wait({step})
        if not step.cancelled():
            step.result()
        elif self.jogger.machine.last is not None and self.jogger.machine.last.fault is not None:
            self._say(f"  {self.jogger.machine.last.fault.standstill.value}")

    async def _aside(self, key: str) -> None:
        """Do what takes more than a key: the circuit check, the stop test, homing, or clearing an alarm."""
        try:
            if key == "c":
                await self.jogger.machine.continuity(self.places)
            elif key == "t":
                await self._stop_test()
            elif key == "h":
                await self._home()
            else:
                await self._clear_alarm(self.jogger.machine.adapter)
        except Fault as fault:
            self._tell(fault)

    async def _stop_test(self) -> None:
        """Check the circuit on the bench, then rise until a touch, and until the machine's own stop."""
        result = await stop_test(self.jogger.machine, StopTest(tool=self.jogger.tool))
        for sentence in in_words(result.outcome.measures):
            self._say(wrapped(f"  {sentence}"))

    async def _typed(self, words: str, what: str) -> bool:
        """Whether just these words are typed at a prompt."""
        self._say(f"  Type  {words}  to {what}; anything else does nothing.")
        self.lines.discard()
        self._say("  > ", end="")
        typed = await self.lines.next()
        if typed is not None and " ".join(typed.lower().split()) == words:
            return True
        self._say("  Nothing was done.")
        return False

    async def _clear_alarm(self, adapter: Adapter) -> None:
        clear = getattr(adapter, "clear_alarm", None)
        if clear is None:
            self._say("  This controller has no way to clear an alarm from here; do it at the machine.")
            return
        if (await self.jogger.look()).alarm is False:
            self._say("  No alarm stands.")
            return
        self._say("  Find out first why the alarm stands. Take test lead and plate off the machine.")
        if not await self._typed("lead and plate are off", "clear the alarm"):
            return
        machine = self.jogger.machine
        machine.void_proof()
        try:
            await machine.clock.bounded(clear(), CLEARING_S)
        except TimeoutError:
            self._say("  The controller has not answered; look at the machine.")

    async def _home(self) -> None:
        if getattr(self.jogger.machine.adapter, "home", None) is None:
            self._say("  There is no way to home this machine from here; do it at the machine.")
            return
        self._say(HOMING)
        if not await self._typed("lead and plate are off", "home the machine"):
            return
        try:
            await self.jogger.home()
        except asyncio.CancelledError:
            with contextlib.suppress(Fault):  # the interruption goes on, whatever becomes of the books
                await self._end_trust()
            raise
        except Fault as fault:
            self._tell(fault)
        await self._end_trust()

    async def _end_trust(self) -> None:
        if self.homed is not None:
            await self.homed()

    # ---- what is shown --------------------------------------------------------------------------------

    async def _show(self) -> None:
        try:
            snapshot = await self.jogger.look()
        except Fault as fault:
            self._tell(fault)
            return
        self._say(wrapped(shown(snapshot)))

    def _prompt(self) -> str:
        size = f"step {SIZES[self.size]:g} mm"
        if self.jogger.guarded:
            return f"  {size}, a contact stops it > "
        return f"  {size}, UNGUARDED: at most 0.5 mm below clearance > "

    def _tell(self, fault: Fault) -> None:
        self._say(wrapped(fault.story()))

    def _say(self, text: str, end: str = "\n") -> None:
        self.out.write(text + end)
        self.out.flush()


def shown(snapshot: Snapshot) -> str:
    """Return position, circuit and alarm as the machine tells them, in one line."""
    circuit = "unknown" if snapshot.circuit is None else snapshot.circuit.value
    if snapshot.circuit is Circuit.CLOSED:
        circuit = "CLOSED"
    alarm = {None: "unknown", True: f"ALARM {printable(snapshot.alarm_detail)}".strip(), False: "none"}
    moving = "" if snapshot.idle else ", MOVING"
    return f"  {snapshot.position}  circuit {circuit}, alarm {alarm[snapshot.alarm]}{moving}"
