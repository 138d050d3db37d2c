"""One motion of the virtual machine, from its order to its end."""

from __future__ import annotations

import math

from gingerly.geometry import Position
from gingerly_mock.axes import as_position
from gingerly_mock.motion import Motion
from gingerly_mock.truth import MotionMade
from gingerly_mock.world import Span


class Run:
    """One motion, under way or over: a planned trajectory, and where its line lies inside metal.

    `seen_s` is when, in seconds since it `began`, the controller saw the circuit closed; infinite if it did not.
    """

    __slots__ = (
        "began",
        "closed_at_end",
        "closed_at_start",
        "deepened",
        "end",
        "feed",
        "kind",
        "motion",
        "nominal",
        "seen_s",
        "spans",
        "start",
        "target",
        "way",
    )

    def __init__(
        self,
        kind: str,
        start: Position,
        target: Position,
        way: Position,
        feed: float,
        nominal: Motion,
        began: float,
    ) -> None:
        self.kind = kind
        self.start = start
        self.target = target
        self.way = way
        self.feed = feed
        self.nominal = self.motion = nominal
        self.began = began
        self.spans: tuple[Span, ...] = ()
        self.seen_s = math.inf
        self.closed_at_start = self.closed_at_end = self.deepened = False
        self.end = start

    def position(self, at_s: float) -> Position:
        """Return where the motors are `at_s` seconds after the beginning, between steps too."""
        done = self.motion.travelled(at_s)
        start, way = self.start, self.way
        return as_position(Position, (start.x + way.x * done, start.y + way.y * done, start.z + way.z * done))

    def reached_s(self, after_mm: float | None, after_s: float | None) -> float:
        """Return when, in seconds since it began, so many mm or seconds of the ordered motion are over."""
        return self.nominal.time_at(after_mm or 0.0) if after_s is None else after_s

    def made(self) -> MotionMade:
        """Return what became of a motion that is over."""
        return MotionMade(
            kind=self.kind,
            start=self.start,
            target=self.target,
            end=self.end,
            feed=self.feed,
            began_s=self.began,
            ended_s=self.began + self.motion.end_s,
            closed_at_start=self.closed_at_start,
            closed_at_end=self.closed_at_end,
            deepened=self.deepened,
        )
