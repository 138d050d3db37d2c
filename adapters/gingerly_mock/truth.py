"""What truly happened on the virtual machine, for tests to compare with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from gingerly.geometry import Position


@dataclass(slots=True)
class MotionMade:
    """One motion: what was ordered, and what became of it (mm, mm/min, virtual seconds).

    `start` and `end` are positions as the machine tells them, `target` what was ordered. `deepened` says that
    the tool stood in touch with something when it began and was driven further into it.
    """

    kind: str
    start: Position
    target: Position
    end: Position
    feed: float
    began_s: float
    ended_s: float
    closed_at_start: bool
    closed_at_end: bool
    deepened: bool


class CallMade(NamedTuple):
    """One call of an adapter's method: when it ended, what it was given, and its answer or the error's name."""

    time_s: float
    call: str
    given: tuple[object, ...]
    answer: object
