"""Motor steps and backlash: what the position says, and where the tool truly is.

A motor stands on whole steps only, and the position tells its steps. With backlash the tool lags: each axis has a
play of `play` mm, and truly moves only once the motor has crossed it; so the tool is half the play behind
whichever way it was moved last. Lost steps shift the tool against the position for good.
"""

from __future__ import annotations

import math

from gingerly.geometry import ORIGIN, Position

HAIR = 1e-6
"""A share of a step that is float noise. Our own choice."""

as_position = tuple.__new__
"""Makes a position of three numbers without the detour through its constructor: this runs thousands of times."""

Stretch = tuple[float, float, Position, Position]
"""Part of a move: from, to (mm of motor travel), the tool's true place, its true way per motor mm."""


class Axes:
    """Steps, play and slip of all three axes; `lag` is where in its play each axis stands."""

    __slots__ = ("_per_mm", "lag", "play", "slip", "true_to_motor")

    def __init__(self, resolution: float, play: Position) -> None:
        self._per_mm = 1.0 / resolution
        self.play = play
        self.lag = ORIGIN
        self.slip = ORIGIN
        self.true_to_motor = play == ORIGIN
        """Whether the tool is exactly where the position says."""

    def snap(self, point: Position) -> Position:
        """Return the step nearest to a point."""
        x, y, z = point
        per_mm = self._per_mm
        steps = round(x * per_mm) / per_mm, round(y * per_mm) / per_mm, round(z * per_mm) / per_mm
        return as_position(Position, steps)

    def rest(self, start: Position, way: Position, distance: float) -> Position:
        """Return the step on which a move ends: the next one at or after `distance` mm, axis by axis."""
        x, y, z = start
        along_x, along_y, along_z = way
        return Position(
            self._ahead(x, along_x, distance) if along_x else x,
            self._ahead(y, along_y, distance) if along_y else y,
            self._ahead(z, along_z, distance) if along_z else z,
        )

    def _ahead(self, at: float, along: float, distance: float) -> float:
        steps = (at + along * distance) * self._per_mm
        return (math.ceil(steps - HAIR) if along > 0.0 else math.floor(steps + HAIR)) / self._per_mm

    def lose(self, slip: Position) -> None:
        """Let the tool slip against the position by a displacement in mm."""
        self.slip = self.slip.plus(slip)
        self.true_to_motor = self.play == ORIGIN and self.slip == ORIGIN

    def true(self, motor: Position) -> Position:
        """Return where the controlled point truly is while the motors stand at `motor`."""
        if self.true_to_motor:
            return motor
        (x, y, z), (lag_x, lag_y, lag_z), (slip_x, slip_y, slip_z) = motor, self.lag, self.slip
        return as_position(Position, (x + lag_x + slip_x, y + lag_y + slip_y, z + lag_z + slip_z))

    def stretches(self, start: Position, way: Position, length: float) -> list[Stretch]:
        """Return the tool's true way during a move: axis after axis comes out of its play."""
        if self.true_to_motor:
            return [(0.0, length, start, way)]
        x, y, z = way
        free_x, free_y, free_z = self._slack(0, x), self._slack(1, y), self._slack(2, z)
        place, done = self.true(start), 0.0
        if length and not (free_x or free_y or free_z):
            return [(0.0, length, place, way)]
        found: list[Stretch] = []
        for free in sorted((free_x, free_y, free_z, length)):
            end = min(free, length)
            if end <= done:
                continue
            true_way = as_position(
                Position,
                (x if done >= free_x else 0.0, y if done >= free_y else 0.0, z if done >= free_z else 0.0),
            )
            if found:
                before, _, _, last_way = found[-1]
                place = place.plus(last_way.times(done - before))
            found.append((done, end, place, true_way))
            done = end
        return found

    def follow(self, moved: Position) -> None:
        """Let the tool follow a finished motor travel."""
        if self.play == ORIGIN:
            return
        (lag_x, lag_y, lag_z), (x, y, z), (play_x, play_y, play_z) = self.lag, moved, self.play
        lags = _held(lag_x - x, play_x / 2.0), _held(lag_y - y, play_y / 2.0), _held(lag_z - z, play_z / 2.0)
        self.lag = as_position(Position, lags)

    def _slack(self, axis: int, along: float) -> float:
        """Return the motor travel, in mm along the move, before this axis truly moves."""
        if along == 0.0:
            return 0.0
        lag, half = self.lag[axis], self.play[axis] / 2.0
        room = half + lag if along > 0.0 else half - lag
        return room / abs(along) if room > 0.0 else 0.0


def _held(lag: float, half: float) -> float:
    return -half if lag < -half else half if lag > half else lag
