"""What host and link add to a corner: time beyond motion, exchanges, processor time; and a plain list beside it.

Without ``--benchmark-enable`` everything runs once, at high speed, and shows only that it works. With it the corner
runs at ``--speed 1``, as at a real machine, which takes some minutes; the figures stand in the extra information.
"""

from __future__ import annotations

import asyncio
import resource
import signal
import socket
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from gingerly_serial.transcript import read
from support.practice import CORNER, SURFACE, Hands, Practice, Script

FAST = 60.0


def span(practice: Practice, last: str) -> float:
    """Seconds of the machine from the first real motion to the last event of a kind."""
    first = min(entry["t"] for entry in practice.log("motion"))
    return float(max(entry["t"] for entry in practice.log(last)) - first)


def pure_motion(practice: Practice) -> float:
    """Seconds in which an axis truly moved."""
    began = {entry["ordinal"]: entry["t"] for entry in practice.log("motion")}
    return float(sum(entry["t"] - began[entry["ordinal"]] for entry in practice.log("rest")))


ASKED = {
    "": "state at rest: where, circuit open or closed, spindle, alarm, what is in force (I1, I3)",
    "traverse": "state during a traverse: the guard looks at the circuit (I2)",
    "sense": "state during a sense: where its end was not told",
}


def exchanges(transcript: Path) -> Counter[str]:
    """What was sent, by what it is for."""
    kinds: Counter[str] = Counter()
    moving = ""
    for entry in read(transcript):
        text = entry.data.decode("ascii", "replace")
        if entry.way != "sent":
            moving = "" if text.endswith("is finished") else moving
        elif entry.data == b"\x05":
            kinds[ASKED[moving]] += 1
        else:
            kinds[_purpose(text)] += 1
            moving = _purpose(text) if _purpose(text) in ASKED else moving
    return kinds


def _purpose(line: str) -> str:
    """What a line is for."""
    if "G38.2" in line:
        return "sense"
    if "G53" in line:
        return "traverse"
    if "G10" in line:
        return "write the offset, all axes in one line (I5)"
    if "ORIGIN" in line:
        return "read the offset before and after (I5, I9)"
    return "absolute distances again after each sense" if line.endswith(" G90") else "fixed modal state at open"


def send_plainly(port: str, lines: list[str]) -> None:
    """Send commands without any check: the next one when the last is finished, or taken if it is no motion."""
    host, _, number = port.removeprefix("socket://").rpartition(":")
    with socket.create_connection((host, int(number))) as link, link.makefile("rwb", buffering=0) as wire:
        for line in lines:
            wire.write(line.encode() + b"\n")
            wanted = b"finished" if " X" in line and "G10" not in line else b"taken"
            while wanted not in wire.readline():
                pass


async def corner(practice: Practice, transcript: Path) -> float:
    """Run a corner, and return the processor time that it took, in seconds."""
    async with Hands(practice).machine(transcript=str(transcript), look_interval_s=0.1) as machine:
        before = resource.getrusage(resource.RUSAGE_SELF)
        result = await machine.attempt(CORNER)
        after = resource.getrusage(resource.RUSAGE_SELF)
    assert result.fault is None
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


@pytest.mark.benchmark(group="serial")
def test_corner_beside_a_plain_list_of_the_same_commands(benchmark: Any, tmp_path: Path) -> None:
    """The checked corner and the same lines sent blindly, each against a practice machine of its own."""
    speed = FAST if benchmark.disabled else 1.0
    checked, plain = tmp_path / "checked", tmp_path / "plain"
    checked.mkdir()
    plain.mkdir()
    transcript = tmp_path / "corner.jsonl"
    with Practice(checked, speed=speed) as first, Practice(plain, speed=speed) as second:
        used_s = benchmark.pedantic(
            lambda: asyncio.run(corner(first, transcript)), rounds=1, iterations=1, warmup_rounds=0
        )
        lines = [entry["text"] for entry in first.log("line") if entry["text"].startswith("N")]
        send_plainly(second.port, lines)
        ours, bare, moved = span(first, "offset"), span(second, "offset"), pure_motion(first)
        kinds = exchanges(transcript)
    touches = kinds["sense"]
    benchmark.extra_info |= {
        "speed": speed,
        "checked_s": round(ours, 2),
        "plain_list_s": round(bare, 2),
        "longer_by": f"{ours / bare - 1.0:.1%}",
        "pure_motion_s": round(moved, 2),
        "added_per_contact_ms": round(1000.0 * (ours - moved) / touches, 1),
        "processor_s": round(used_s, 3),
        "exchanges": dict(kinds),
    }
    print(benchmark.extra_info)
    assert len(second.log("offset")) == len(first.log("offset")) == 1


@pytest.mark.benchmark(group="serial")
def test_surfaces_one_after_the_other(benchmark: Any, tmp_path: Path) -> None:
    """How long one surface takes at high speed, all of host and link included: motion is the smaller part."""
    with Practice(tmp_path, speed=500.0) as practice:

        async def surface() -> None:
            async with Hands(practice).machine(answer_s=600.0) as machine:
                assert (await machine.attempt(SURFACE)).fault is None

        def once() -> None:
            practice.hand("set up")
            asyncio.run(surface())

        benchmark(once)


@pytest.mark.benchmark(group="serial")
def test_from_ctrl_c_to_the_brake(benchmark: Any, tmp_path: Path) -> None:
    """From a real SIGINT to the moment at which the practice machine begins to brake, at ``--speed 1``."""
    with Practice(tmp_path, speed=4.0 if benchmark.disabled else 1.0) as practice:
        script = Script(practice)
        script.until_sensing()
        practice.hand("await motion 3")

        def interrupt() -> float:
            sent_s = time.monotonic()
            script.process.send_signal(signal.SIGINT)
            script.end()
            return float(practice.log("stop")[0]["world_s"]) - sent_s

        took_s = benchmark.pedantic(interrupt, rounds=1, iterations=1, warmup_rounds=0)
        benchmark.extra_info["to_the_brake_ms"] = round(1000.0 * took_s, 1)
        print(benchmark.extra_info)
        assert practice.log("stop")[0]["moving"]
