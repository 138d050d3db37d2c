"""One random draw from a shape, with plain dice: for worlds in which everything must be truly somewhere."""

from __future__ import annotations

import math
from typing import Protocol

from gingerly.uncertainty.bounded import Arcsine, Flat, Trapezoid, TwoValued
from gingerly.uncertainty.shapes import Normal, Shape


class Dice(Protocol):
    """What draws: a `random.Random` does."""

    def uniform(self, a: float, b: float) -> float:
        """Return a number between a and b, all equally likely."""
        ...

    def gauss(self, mu: float, sigma: float) -> float:
        """Return a normally distributed number."""
        ...


def drawn(dice: Dice, shape: Shape) -> float:
    """Return one draw from a shape; raises `TypeError` for one that stands for an estimate, as Student's does."""
    match shape:
        case Flat():
            return dice.uniform(shape.middle - shape.half, shape.middle + shape.half)
        case Normal():
            return dice.gauss(shape.middle, shape.u)
        case Arcsine():
            return shape.middle + shape.amplitude * math.sin(dice.uniform(-math.pi, math.pi))
        case TwoValued():
            return shape.middle + math.copysign(shape.amplitude, dice.uniform(-1.0, 1.0))
        case Trapezoid():
            wide, narrow = (shape.half * (1.0 + sign * shape.top) / 2.0 for sign in (1.0, -1.0))
            return shape.middle + dice.uniform(-wide, wide) + dice.uniform(-narrow, narrow)
    raise TypeError(f"nothing is drawn from a {type(shape).__name__}")
