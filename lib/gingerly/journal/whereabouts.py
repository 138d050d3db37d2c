"""Where each machine was last known to stand: one small record beside the journal, written over at every motion.

It is no proof that outlives a power cut, and need not be: it survives a killed process, and whoever finds a machine
anywhere but on the way that was last ordered knows that something else has moved it. Then nothing is believed.
"""

from __future__ import annotations

import hashlib
import os
import struct
import zlib
from dataclasses import dataclass
from pathlib import Path

from gingerly.geometry import Position
from gingerly.messages.facts import Home, MachineFacts
from gingerly.messages.snapshot import Snapshot

RECORD = struct.Struct("<8s6dq?")
"""A mark, where from and where to (x, y, z each, mm), restarts, whether a run was under way; a checksum follows.

So few bytes are never half written when a process is killed.
"""

MARK = b"gngr-at1"

CHECK = struct.Struct("<I")


@dataclass(frozen=True, slots=True)
class LastKnown:
    """The machine was sent from `start` towards `end` (mm, the same where it stood still), after `restarts`.

    `cut_off` says that a run was under way.
    """

    start: Position
    end: Position
    restarts: int
    cut_off: bool


class Whereabouts:
    """The record of one machine, beside the journal at `path`."""

    def __init__(self, path: Path, machine: str) -> None:
        name = hashlib.sha256(machine.encode()).hexdigest()[:16]
        self.path = path.with_name(f"{path.name}.at-{name}")
        self._descriptor: int | None = None

    def last(self) -> LastKnown | None:
        """Return what was noted last; None where nothing was, or it cannot be read."""
        try:
            data = self.path.read_bytes()
            mark, *places, restarts, cut_off = RECORD.unpack(data[: RECORD.size])
            (check,) = CHECK.unpack(data[RECORD.size :])
        except (OSError, struct.error):
            return None
        if mark != MARK or check != zlib.crc32(data[: RECORD.size]):
            return None
        return LastKnown(Position(*places[:3]), Position(*places[3:]), restarts, cut_off)

    def note(self, start: Position, end: Position, restarts: int, *, cut_off: bool) -> None:
        """Note that the machine is sent from `start` to `end`; raises `OSError` where that cannot be kept."""
        if self._descriptor is None:
            flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0)
            self._descriptor = os.open(self.path, flags, 0o644)
        data = RECORD.pack(MARK, *start, *end, restarts, cut_off)
        os.lseek(self._descriptor, 0, os.SEEK_SET)
        os.write(self._descriptor, data + CHECK.pack(zlib.crc32(data)))

    def close(self) -> None:
        """Let go of the file."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None


def doubt(last: LastKnown | None, now: Snapshot, facts: MachineFacts) -> str:
    """Return why the machine's position cannot be trusted any more, in words; nothing where it can.

    Without home switches the same numbers may stand for another place after every power-off, and nobody can say
    that there was none while no program was connected.
    """
    slack = facts.position_slack
    if last is None:
        return "nothing is on record of where the machine stood last"
    if facts.home is Home.NONE:
        return "the machine has no home switches: what was set holds until power-off, and nobody knows of one since"
    if now.homed is False:
        return "the machine has lost its home"
    if now.restarts != last.restarts:
        return "the controller has restarted since"
    if now.alarm:
        return "an alarm stands in the controller"
    off = _beside(now.position, last.start, last.end)
    if off > slack:
        return (
            f"the machine stands at {now.position} and was left on its way from {last.start} to {last.end},"
            f" {off:.3f} mm from here: something else has moved it"
        )
    return ""


def _beside(point: Position, start: Position, end: Position) -> float:
    """How far a point lies beside a straight way, in mm."""
    way = end.minus(start)
    length = way.dot(way)
    share = 0.0 if length == 0.0 else min(1.0, max(0.0, point.minus(start).dot(way) / length))
    return point.distance(start.plus(way.times(share)))
