"""Serving the practice controller: one thread, one selector, on a pty or on a loopback port.

Standard input is the hands at the machine, a line each; `gingerly_serial.practice.words` lists what they can do.
Every line but ``help`` is answered with one line.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import selectors
import socket
import sys
import time
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from gingerly import units
from gingerly.messages.commands import Question
from gingerly_mock.clock import VirtualClock
from gingerly_mock.hands import do
from gingerly_mock.machine import Machine
from gingerly_mock.options import parse
from gingerly_serial.practice.controller import Controller
from gingerly_serial.practice.mischief import ON_REPLIES, Mischief, garbled
from gingerly_serial.practice.scene import Parts, scene_of, stage
from gingerly_serial.practice.speaker import Speaker
from gingerly_serial.practice.truth import TruthLog
from gingerly_serial.practice.words import CLOSINGS, HELP, from_json, motion_number
from gingerly_serial.why import why

LOOPBACK = ("127.0.0.1", "::1", "localhost")
AT_ONCE = 4096
"""Bytes that are read at a time. Our own choice."""

MOST_UNSENT = 1 << 20
"""Bytes that may wait for a client that does not read; then it is hung up on. Our own choice."""

LONGEST_LINE = 1024
"""Bytes of a line that are listened to; the rest is thrown away. Our own choice."""


class RealClock:
    """The practice machine's seconds: the world's, `speed` times as fast."""

    def __init__(self, speed: float) -> None:
        self._speed = speed
        self._began = time.monotonic()

    def now(self) -> float:
        """Return the machine's seconds since it was switched on."""
        return (time.monotonic() - self._began) * self._speed

    def until(self, at_s: float) -> float:
        """Return how long the machine's time `at_s` lies ahead in the world, in seconds; never negative."""
        return max(0.0, at_s / self._speed - (time.monotonic() - self._began))


@dataclass(slots=True)
class Unsent:
    """Bytes that may leave at a moment of the world's clock."""

    at_s: float
    data: bytes


class Server:
    """One practice machine on one link."""

    def __init__(
        self,
        profile: Mapping[str, Any],
        *,
        speed: float = 1.0,
        machine: Mapping[str, Any] | None = None,
        scene: Mapping[str, Any] | None = None,
        truth: str | None = None,
        job: str | None = None,
        contact_after_answer: bool = False,
    ) -> None:
        step = float(profile.get("offsets", {}).get("step", 0.001))
        self._facts, self._options = parse({"guard": "none", "offset_resolution": step, **(machine or {})})
        self._scene, self._after = dict(scene or {}), contact_after_answer
        self.clock = RealClock(speed)
        self.truth = TruthLog(truth)
        self._speaker = Speaker(profile)
        self._parts = None if job is None else Parts(job, lambda: self.machine)
        self._set_up()
        self._resets = bool(profile.get("opening", {}).get("restarts", True))
        self._every_s = float(profile["state"].get("every_s") or 0.0)
        self._push_at = 0.0 if self._every_s else math.inf
        self._selector = selectors.DefaultSelector()
        self._unsent: deque[Unsent] = deque()
        self._line = bytearray()
        self._listener: socket.socket | None = None
        self._link: socket.socket | int | None = None
        self._slave: int | None = None
        self._running = True
        self._commands = bytearray()
        self._awaited: int | None = None

    def _set_up(self) -> None:
        """Set up the machine and its table as if it had just been switched on and homed."""
        self.machine = Machine(self._facts, self._options, cast(VirtualClock, self.clock))
        if self._parts is None:
            stage(self.machine, scene_of(self._scene))
        else:
            self._parts.begin()
        corner = self.machine.world.true_corner
        self.controller = Controller(
            self.machine, self._speaker, self.truth, self._emit, contact_after_answer=self._after
        )
        self._spoilt: list[Mischief] = []
        self._held: list[bytes] = []
        self.truth.note(self.clock.now(), "set up", corner=list(corner))

    # ---- links ----------------------------------------------------------------------------------------

    def listen(self, host: str, port: int) -> str:
        """Listen on a port and return its address as the adapter takes it; raises `ValueError` where that fails."""
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self._listener = socket.socket(family, socket.SOCK_STREAM)
        self._listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._listener.bind((host, port))
        except (OSError, OverflowError) as error:
            raise ValueError(f"cannot listen on port {port} of {host}: {why(error)}") from error
        self._listener.listen(1)
        self._selector.register(self._listener, selectors.EVENT_READ, "listener")
        shown = f"[{host}]" if ":" in host else host
        return f"socket://{shown}:{self._listener.getsockname()[1]}"

    def open_pty(self) -> str:
        """Open a pty and return its name as the adapter takes it; raises `ValueError` where there are none."""
        try:
            import pty
            import tty
        except ImportError as error:
            raise ValueError("this system has no pty; serve on a port instead (--tcp 4000)") from error

        try:
            master, self._slave = pty.openpty()
        except OSError as error:
            raise ValueError(f"no pty can be had: {why(error)}") from error
        tty.setraw(self._slave)
        os.set_blocking(master, False)
        self._link = master
        self._selector.register(master, selectors.EVENT_READ, "link")
        return os.ttyname(self._slave)

    def plug_in(self) -> str:
        """Open another pty after a hang-up, as a cable that is plugged in again; return where it is."""
        if self._link is not None or self._listener is not None:
            raise ValueError("there is no cable to plug in: the link stands, or a port is listened on")
        return f"practice controller at {self.open_pty()}"

    def _accept(self) -> None:
        assert self._listener is not None
        link, _ = self._listener.accept()
        if self._link is not None:
            # Whoever comes last is served: the one before may be gone without having said so.
            self.hang_up()
        link.setblocking(False)
        link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._link = link
        self._selector.register(link, selectors.EVENT_READ, "link")
        self._line.clear()
        self.truth.note(self.clock.now(), "connected")
        if self._resets:
            self.controller.restart(keeps_place=True)

    def hang_up(self, *, rudely: bool = True) -> None:
        """Let go of the link: a pulled cable, a closed socket."""
        link, self._link = self._link, None
        self._unsent.clear()
        if link is None:
            return
        self.truth.note(self.clock.now(), "hung up")
        self._selector.unregister(link)
        if isinstance(link, int):
            os.close(link)
            if self._slave is not None:
                os.close(self._slave)
                self._slave = None
            return
        if rudely:
            with contextlib.suppress(OSError):
                link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\x00\x00\x00\x00\x00\x00\x00")
        link.close()

    # ---- saying ---------------------------------------------------------------------------------------

    def _emit(self, means: str, lines: list[str]) -> None:
        if self._link is None or not lines:
            return
        data = b"".join(line.encode("ascii", "replace") + self._speaker.ending.encode() for line in lines)
        now = time.monotonic()
        for one in self._spoilt:
            if one.strikes(means):
                self.truth.note(self.clock.now(), "mischief", what=one.what, which=means)
                self._spoil(one, data, now)
                return
        if self._held:
            data = self._woven(self._held.pop(), data)
        self._unsent.append(Unsent(now, data))

    def _spoil(self, one: Mischief, data: bytes, now: float) -> None:
        half = len(data) // 2
        match one.what:
            case "delay":
                self._unsent.append(Unsent(now + one.seconds, data))
            case "garble":
                self._unsent.append(Unsent(now, garbled(data)))
            case "duplicate":
                self._unsent.append(Unsent(now, data + data))
            case "split":
                self._unsent.append(Unsent(now, data[:half]))
                self._unsent.append(Unsent(now + one.seconds, data[half:]))
            case "interleave":
                self._held.append(data)

    def _woven(self, first: bytes, second: bytes) -> bytes:
        woven = bytearray()
        for at in range(max(len(first), len(second))):
            woven += first[at : at + 1] + second[at : at + 1]
        return bytes(woven)

    def _flush(self) -> None:
        now = time.monotonic()
        while self._unsent and self._unsent[0].at_s <= now and self._link is not None:
            first = self._unsent[0]
            try:
                sent = (
                    os.write(self._link, first.data) if isinstance(self._link, int) else self._link.send(first.data)
                )
            except BlockingIOError:
                if sum(len(one.data) for one in self._unsent) > MOST_UNSENT:
                    self.hang_up()
                return
            except OSError:
                self.hang_up()
                return
            first.data = first.data[sent:]
            if not first.data:
                self._unsent.popleft()

    # ---- hearing --------------------------------------------------------------------------------------

    def _read_link(self) -> None:
        link = self._link
        try:
            data = os.read(link, AT_ONCE) if isinstance(link, int) else cast(socket.socket, link).recv(AT_ONCE)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if not data:
            self.hang_up(rudely=False)
            return
        for byte in data:
            if self.controller.receive_byte(byte):
                if byte == self._speaker.table.get("stop", {}).get("byte"):
                    # What was half received is part of what was stopped.
                    self._line.clear()
            elif byte in (10, 13):
                if self._line:
                    line = bytes(self._line).decode("ascii", "replace")
                    self._line.clear()
                    self.controller.receive(line)
            elif len(self._line) < LONGEST_LINE:
                self._line.append(byte)

    def _read_hands(self) -> None:
        data = os.read(sys.stdin.fileno(), AT_ONCE)
        if not data:
            self._running = False
            return
        self._commands += data
        while b"\n" in self._commands:
            line, _, rest = self._commands.partition(b"\n")
            self._commands = bytearray(rest)
            command = line.decode("utf-8", "replace").strip()
            if command:
                try:
                    answer = self.hand(command)
                except (ValueError, TypeError, OSError) as error:
                    answer = f"cannot: {error}"
                if answer:
                    print(answer, flush=True)

    def hand(self, command: str) -> str:
        """Do one thing at the machine, as a person would, and return what was done."""
        word, _, rest = command.partition(" ")
        wiring, machine = self.machine.wiring, self.machine
        question = next((one for one in Question if one.value == command), None)
        self.truth.note(self.clock.now(), "hand", command=command)
        if question is not None:
            part = self._parts.hand(question) if self._parts is not None else ""
            do(machine, question)
            self._replan()
            if part:
                self.truth.note(self.clock.now(), "part", name=part, corner=list(machine.world.true_corner))
        elif command in ("lead off", "lead on"):
            wiring.lead_on = command == "lead on"
            self._replan()
        elif command == "emergency stop":
            self.controller.press_stop()
        elif word == "mischief":
            self.add_mischief(from_json(rest, "mischief"))
        elif command == "set up":
            self._set_up()
        elif word == "scene":
            corner = stage(machine, scene_of(from_json(rest, "scene")))
            self.truth.note(self.clock.now(), "staged", corner=list(corner))
        elif command.startswith("await motion "):
            self._awaited = motion_number(command.removeprefix("await motion "))
            return ""
        elif command == "plug in":
            return self.plug_in()
        elif command == "truth":
            return json.dumps(self._truth())
        elif command == "help":
            return HELP
        elif command == "quit":
            self._running = False
        else:
            raise ValueError(f"{units.shown(command)} is nothing that hands can do here; help lists what is")
        return f"done: {command}{self._of_the_lead(command)}"

    def _of_the_lead(self, command: str) -> str:
        """Return what is easily forgotten: a lead that was taken off closes nothing."""
        if not self.machine.wiring.lead_on and command in ("release", *CLOSINGS):
            return "; the test lead is off: `lead on` clips it on again"
        return ""

    def _replan(self) -> None:
        run = self.machine.run
        if run is not None:
            self.machine.plan_again(run)

    def _truth(self) -> dict[str, Any]:
        machine = self.machine
        machine.settle()
        return {
            "position": list(machine.position),
            "moving": machine.run is not None,
            "corner": list(machine.world.true_corner),
            "offsets": {number: list(origin) for number, origin in machine.offsets.items()},
            "deepest": machine.deepest,
            "modal": self.controller.modal,
        }

    def add_mischief(self, given: object) -> None:
        """Put one misbehaviour on the list, or let it happen at once; raises `ValueError` for an unusable one."""
        one = Mischief.from_plain(given)
        begun = self.controller.motions
        if 0 < one.motion <= begun:
            raise ValueError(f"{begun} motions have begun already, so {one.motion} does not come again")
        if one.in_s > 0.0:
            self.controller.put_off(one)
        elif one.what in ON_REPLIES:
            self._spoilt.append(one)
        elif one.motion or one.what.startswith("write"):
            self.controller.mischief.append(one)
        else:
            self._do_links(self.controller.misbehave(one))

    def _do_links(self, due: list[Mischief]) -> None:
        if due:
            self._flush()
            self.hang_up()

    # ---- the loop -------------------------------------------------------------------------------------

    def lend_hands(self) -> bool:
        """Let standard input be the hands; return whether it can be, which a file or nothing at all cannot."""
        if os.name == "nt":
            return False  # only sockets can be waited for there
        try:
            self._selector.register(sys.stdin, selectors.EVENT_READ, "hands")
        except (OSError, ValueError):
            return False
        return True

    def serve(self) -> None:
        """Serve until told to quit, or until the hands' end of standard input is closed."""
        try:
            while self._running:
                self._once()
        finally:
            self.close()

    def close(self) -> None:
        """Let go of everything that is open."""
        self.hang_up()
        if self._listener is not None:
            self._listener.close()
        self._selector.close()
        self.truth.close()

    def _once(self) -> None:
        for key, _ in self._selector.select(self._wait_s()):
            match key.data:
                case "listener":
                    self._accept()
                case "link":
                    self._read_link()
                case "hands":
                    self._read_hands()
        self._do_links(self.controller.tick())
        if self._awaited is not None and self.controller.motions >= self._awaited:
            print(f"done: motion {self._awaited} has begun", flush=True)
            self._awaited = None
        if self.clock.now() >= self._push_at:
            self._push_at = self.clock.now() + self._every_s
            self.controller.tell_state()
        self._flush()

    def _wait_s(self) -> float | None:
        due = min(self.controller.next_s(), self._push_at)
        waits = [self.clock.until(due)] if due < math.inf else []
        if self._unsent:
            # Bytes that a full buffer turned away are tried again a little later.
            waits.append(max(0.001, self._unsent[0].at_s - time.monotonic()))
        return min(waits) if waits else None
