"""The practice controller as a process of its own, on a real pty or a real socket, and the hands at it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from gingerly import Answer, Machine, Position, Question, connect
from gingerly.plate import Plate
from gingerly.routines import OutsideCorner, Surface, TopSpot
from gingerly.stock import Stock
from gingerly.tool import Tool
from gingerly_serial.practice.scene import USUAL

PROFILES = Path(__file__).parent.parent / "end_to_end" / "serial" / "profiles"
SHAPES = ("practice", "terse", "objects", "chatter")
SPEED = 100.0
PLACE = Position(*USUAL["place"])
TOOL = Tool(**USUAL["tool"])
SPOT = TopSpot(tool=TOOL, stock=Stock(**USUAL["stock"]), place=PLACE, plate=Plate(**USUAL["plate"]))
CORNER = OutsideCorner(spot=SPOT, offset=2)
SURFACE = Surface(spot=SPOT, offset=2)
FACTS: dict[str, Any] = {
    "envelope": {"low": [0, 0, -80], "high": [300, 200, 0]},
    "resolution": 0.0025,
    "acceleration": 300.0,
    "top_feed": 1500.0,
    "rapid_feed": 2000.0,
}
PATIENT = {"answer_s": 400.0, "look_interval_s": 0.25}
"""At n-fold speed an answer still takes the world's time to come: four seconds of it are enough on any machine."""

IMPATIENT = {"answer_s": 100.0}
"""For tests that wait for an answer which never comes: one second of the world's time."""

PIN_AND_PLATE = """
[tools.pin]
diameter = 6
free_length = 30
overtravel = 1
miss_limit = 6

[plates."plain plate"]
size_a = 52
size_b = 55
height = 12
recess_a = 40
recess_b = 41
recess_depth = 6

[defaults]
tool = "pin"
plate = "plain plate"
within = 0.8
stock = { size_x = 120, size_y = 90, thickness = 25, jaw_height = 8 }
"""
"""What the parts of a job for a practice controller are touched with, and what they are."""

MACHINE = """
[machine]
adapter = "serial"
name = "bench mill"
[machine.options]
port = "{port}"
profile = "{profile}"
clock_scale = {speed}
answer_s = {answer_s}
envelope = {{ low = [0, 0, -80], high = [300, 200, 0] }}
resolution = 0.0025
acceleration = 300
top_feed = 1500
rapid_feed = 2000
"""
"""The machine table of a job for a practice controller."""


def profile_of(shape: str) -> str:
    """The profile's name or file, as adapter and practice controller take it."""
    return shape if shape == "practice" else str(PROFILES / f"{shape}.toml")


class Practice:
    """One practice controller; use it as a context manager. `port` is where it serves."""

    def __init__(
        self,
        tmp_path: Path,
        *,
        shape: str = "practice",
        link: str = "tcp",
        speed: float = SPEED,
        mischief: tuple[dict[str, Any], ...] = (),
        more: tuple[str, ...] = (),
    ) -> None:
        self.shape, self.speed = shape, speed
        self._truth = tmp_path / f"truth-{shape}.jsonl"
        command = [sys.executable, "-m", "gingerly_serial", "practice", "--profile", profile_of(shape)]
        command += ["--speed", str(speed), "--truth", str(self._truth), *more]
        command += ["--tcp", "0"] if link == "tcp" else []
        for one in mischief:
            command += ["--mischief", json.dumps(one)]
        self.process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        self.port = self._answer().rpartition(" ")[2]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(10.0)
        self.process.stdout.close()

    def _answer(self) -> str:
        assert self.process.stdout is not None
        line = self.process.stdout.readline().strip()
        assert line, "the practice controller has ended"
        return line

    def hand(self, command: str) -> str:
        """Do one thing at the practice machine and return its answer."""
        assert self.process.stdin is not None
        self.process.stdin.write(command + "\n")
        self.process.stdin.flush()
        answer = self._answer()
        assert not answer.startswith("cannot"), answer
        return answer

    def plug_in(self) -> None:
        """Plug a pulled cable in again; the port then has another name, as it often has."""
        self.port = self.hand("plug in").rpartition(" ")[2]

    def mischief(self, **what: Any) -> None:
        """Let something go wrong, now or when its turn comes."""
        self.hand("mischief " + json.dumps(what))

    def truth(self) -> dict[str, Any]:
        """What is true at this moment."""
        found: dict[str, Any] = json.loads(self.hand("truth"))
        return found

    def offset(self, number: int) -> Position:
        """A work offset as it truly stands."""
        return Position(*self.truth()["offsets"][str(number)])

    def log(self, event: str | None = None) -> list[dict[str, Any]]:
        """The truth log so far, or its entries of one kind."""
        entries = [json.loads(line) for line in self._truth.read_text("ascii").splitlines()]
        return [entry for entry in entries if event in (None, entry["event"])]

    def since_set_up(self, event: str) -> list[dict[str, Any]]:
        """The truth log's entries of one kind since the machine was last set up afresh."""
        entries = self.log()
        last = max(at for at, entry in enumerate(entries) if entry["event"] == "set up")
        return [entry for entry in entries[last:] if entry["event"] == event]

    def pushed_on(self) -> list[dict[str, Any]]:
        """Motions that drove the tool further into what it touched while the circuit was closed: never any."""
        return [entry for entry in self.since_set_up("rest") if entry["deepened"] and entry["closed_at_start"]]

    def table(self, *, answer_s: float = 120.0) -> str:
        """The machine table of a job for this controller."""
        return MACHINE.format(port=self.port, profile=profile_of(self.shape), speed=self.speed, answer_s=answer_s)

    def options(self, **more: Any) -> dict[str, Any]:
        """The adapter's options for this controller."""
        given = {"port": self.port, "profile": profile_of(self.shape), "clock_scale": self.speed}
        return {**given, **FACTS, **PATIENT, **more}


class Shelf:
    """Practice controllers that are kept running from test to test, each set up afresh when it is taken."""

    def __init__(self, tmp_path: Path) -> None:
        self._tmp_path = tmp_path
        self._kept: dict[tuple[str, str], Practice] = {}

    def take(self, shape: str, link: str = "tcp") -> Practice:
        """A practice controller of this shape, as if just switched on."""
        practice = self._kept.get((shape, link))
        if practice is None or practice.process.poll() is not None:
            folder = self._tmp_path / f"{shape}-{link}"
            folder.mkdir(exist_ok=True)
            practice = self._kept[shape, link] = Practice(folder, shape=shape, link=link)
        practice.hand("set up")
        return practice

    def close(self) -> None:
        """End them all."""
        for practice in self._kept.values():
            practice.__exit__(None, None, None)


class Hands:
    """An operator who does at the practice machine what is asked, and says yes."""

    def __init__(self, practice: Practice) -> None:
        self._practice = practice
        self.asked: list[Question] = []

    def machine(self, **more: Any) -> Machine:
        """The machine behind the serial adapter, with these hands at it."""
        return connect("serial", operator=self, **self._practice.options(**more))

    async def ask(self, question: Question, machine: str) -> Answer:
        self.asked.append(question)
        self._practice.hand(question.value)
        return Answer.YES


SCRIPT = """
import json, sys
from pathlib import Path
sys.path.insert(0, {tests!r})
from gingerly import connect_blocking
from gingerly.driver.events import Ordered
from gingerly.messages.commands import Sense
from support.practice import SURFACE

class Yes:
    async def ask(self, question, machine):
        from gingerly import Answer
        print("asked " + question.value, flush=True)
        sys.stdin.readline()
        return Answer.YES

def tell(event):
    if isinstance(event, Ordered) and isinstance(event.command, Sense):
        print("sensing", flush=True)

options = json.loads({options!r})
try:
    with connect_blocking("serial", operator=Yes(), **options) as machine:
        machine.machine.events.subscribe(tell)
        machine.attempt(SURFACE)
except KeyboardInterrupt:
    last = machine.machine.last
    print("ended " + last.fault.name + " / " + last.outcome.standstill.value, flush=True)
"""


class Script:
    """A process that drives the practice controller; it stops at every question."""

    def __init__(self, practice: Practice) -> None:
        self._practice = practice
        options = json.dumps(practice.options())
        text = SCRIPT.format(tests=str(Path(__file__).parents[1]), options=options)
        self.process = subprocess.Popen(
            [sys.executable, "-c", text], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def line(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip()

    def until_sensing(self) -> None:
        """Answer every question by doing what it asks, up to the first sense."""
        assert self.process.stdin is not None
        while (said := self.line()) != "sensing":
            assert said.startswith("asked "), said
            self._practice.hand(said.removeprefix("asked "))
            self.process.stdin.write("\n")
            self.process.stdin.flush()

    def end(self) -> str:
        """The last line, once the process has ended."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        out = self.process.stdout.read().strip()
        self.process.wait(20.0)
        self.process.stdin.close()
        self.process.stdout.close()
        return out.splitlines()[-1] if out else ""
