"""A straight move as a pure function of time: accelerate, cruise, brake.

Distances in mm along the line, speeds in mm/s, accelerations in mm/s², times in seconds since the move began.
The formulas are those of uniform acceleration; there is no limit on jerk. Nothing here knows a machine.
"""

from __future__ import annotations

import math


class Motion:
    """A move with one acceleration and one top speed, from rest to rest.

    It accelerates until `cruise_s`, goes on at `peak` until `brake_s`, and stands at `end_s` after `length` mm.
    """

    __slots__ = (
        "_brake_at",
        "_cruise_at",
        "_rest_at",
        "_rest_s",
        "acceleration",
        "brake_s",
        "cruise_s",
        "end_s",
        "length",
        "peak",
    )

    def __init__(self, length: float, speed: float, acceleration: float) -> None:
        ramp = speed * speed / acceleration
        peak = speed if length >= ramp else math.sqrt(length * acceleration)
        ramp_s = peak / acceleration
        ramp_mm = 0.5 * peak * ramp_s
        level = length - 2.0 * ramp_mm
        self.acceleration = acceleration
        self.peak = peak
        self.cruise_s = ramp_s
        self.brake_s = brake_s = ramp_s + level / peak if level > 0.0 else ramp_s
        self._cruise_at = ramp_mm
        self._brake_at = length - ramp_mm
        self.length = self._rest_at = length
        self.end_s = self._rest_s = brake_s + ramp_s

    def travelled(self, at_s: float) -> float:
        """Return the mm covered at `at_s`."""
        if at_s >= self.end_s:
            return self.length
        if at_s >= self.brake_s:
            left = self._rest_s - at_s
            return self._rest_at - 0.5 * self.acceleration * left * left
        if at_s >= self.cruise_s:
            return self._cruise_at + self.peak * (at_s - self.cruise_s)
        return 0.5 * self.acceleration * at_s * at_s if at_s > 0.0 else 0.0

    def speed(self, at_s: float) -> float:
        """Return the speed in mm/s at `at_s`."""
        if at_s <= 0.0 or at_s >= self.end_s:
            return 0.0
        if at_s >= self.brake_s:
            return self.acceleration * (self._rest_s - at_s)
        return self.peak if at_s >= self.cruise_s else self.acceleration * at_s

    def time_at(self, distance: float) -> float:
        """Return when `distance` mm are covered: 0 for none, the end for the whole length or more."""
        if distance <= 0.0:
            return 0.0
        if distance >= self.length:
            return self.end_s
        if distance >= self._brake_at:
            return self._rest_s - math.sqrt(2.0 * (self._rest_at - distance) / self.acceleration)
        if distance >= self._cruise_at:
            return self.cruise_s + (distance - self._cruise_at) / self.peak
        return math.sqrt(2.0 * distance / self.acceleration)

    def brake(self, at_s: float) -> Motion:
        """Return this move cut short: from `at_s` on it brakes, and stands v²/(2a) later.

        A move that brakes already, or has ended, is returned as it is.
        """
        if at_s >= self.brake_s or at_s >= self.end_s:
            return self
        at_s = max(at_s, 0.0)
        speed, done = self.speed(at_s), self.travelled(at_s)
        cut = self._until(at_s, done)
        cut.peak = speed
        cut.length = cut._rest_at = done + 0.5 * speed * speed / self.acceleration
        cut.end_s = cut._rest_s = at_s + speed / self.acceleration
        return cut

    def halt(self, at_s: float) -> Motion:
        """Return this move stopped dead at `at_s`, as when the motor drives lose their pulses."""
        at_s = min(max(at_s, 0.0), self.end_s)
        done = self.travelled(at_s)
        cut = self._until(min(self.brake_s, at_s), min(self._brake_at, done))
        cut.peak = self.peak
        cut._rest_at, cut._rest_s = self._rest_at, self._rest_s
        cut.length, cut.end_s = done, at_s
        return cut

    def _until(self, brake_s: float, brake_at: float) -> Motion:
        cut = Motion.__new__(Motion)
        cut.acceleration = self.acceleration
        cut.cruise_s = min(self.cruise_s, brake_s)
        cut._cruise_at = min(self._cruise_at, brake_at)
        cut.brake_s, cut._brake_at = brake_s, brake_at
        return cut
