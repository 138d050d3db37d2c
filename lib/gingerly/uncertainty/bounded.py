"""Shapes of knowledge within limits: flat, arcsine, two-valued, trapezoid and triangular."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from gingerly.uncertainty.shapes import require
from gingerly.uncertainty.waves import bessel_j0

if TYPE_CHECKING:
    import numpy as np


def _sinc(x: float) -> float:
    return math.sin(x) / x if x > 1e-8 else 1.0


@dataclass(frozen=True, slots=True)
class Flat:
    """Anywhere within ±`half` of the middle, equally likely: u = a/√3. Source: JCGM 100:2008, 4.3.7."""

    half: float
    middle: float = 0.0

    name = "flat"

    def __post_init__(self) -> None:
        require(self.half, "a half width")

    @classmethod
    def between(cls, low: float, high: float) -> Flat:
        """Return the shape for limits; one-sided ones (0 … high) have their correction as the middle."""
        if not low <= high:
            raise ValueError(f"the lower limit {low} is above the upper limit {high}")
        return cls((high - low) / 2.0, (high + low) / 2.0)

    @property
    def u(self) -> float:
        """The standard uncertainty."""
        return self.half / math.sqrt(3.0)

    @property
    def reach(self) -> float:
        """The greatest distance from the middle."""
        return self.half

    def scaled(self, factor: float) -> Flat:
        """Return the shape of the quantity times `factor`."""
        return Flat(self.half * abs(factor), self.middle * factor)

    def centred(self) -> Flat:
        """Return the same shape about 0."""
        return replace(self, middle=0.0)

    def wave(self, omega: float) -> float:
        """Return sin(aω)/(aω)."""
        return _sinc(self.half * omega)

    def fade(self, omega: float) -> float:
        """Return 1/(aω), or 1."""
        x = self.half * omega
        return 1.0 / x if x > 1.0 else 1.0

    def half_width(self, probability: float) -> float | None:
        """Return the half width that holds `probability`."""
        return self.half * probability

    def drawn(self, rng: np.random.Generator, count: int) -> Any:
        """Return `count` random values as an array."""
        return rng.uniform(self.middle - self.half, self.middle + self.half, count)


@dataclass(frozen=True, slots=True)
class Arcsine:
    """One component of something of fixed size and unknown angle, as runout is: u = a/√2.

    Source: JCGM 101:2008, 6.4.6; JCGM 100:2008, H.1.3.4.
    """

    amplitude: float
    middle: float = 0.0

    name = "arcsine"

    def __post_init__(self) -> None:
        require(self.amplitude, "an amplitude")

    @property
    def u(self) -> float:
        """The standard uncertainty."""
        return self.amplitude / math.sqrt(2.0)

    @property
    def reach(self) -> float:
        """The greatest distance from the middle."""
        return self.amplitude

    def scaled(self, factor: float) -> Arcsine:
        """Return the shape of the quantity times `factor`."""
        return Arcsine(self.amplitude * abs(factor), self.middle * factor)

    def centred(self) -> Arcsine:
        """Return the same shape about 0."""
        return replace(self, middle=0.0)

    def wave(self, omega: float) -> float:
        """Return J₀(aω)."""
        return bessel_j0(self.amplitude * omega)

    def fade(self, omega: float) -> float:
        """Return √(2/(π·aω)), or 1: a bound of |J₀| (the envelope of DLMF 10.17.3 is reached from below)."""
        x = self.amplitude * omega
        return math.sqrt(2.0 / (math.pi * x)) if x > 1.0 else 1.0

    def half_width(self, probability: float) -> float | None:
        """Return the half width that holds `probability`."""
        return self.amplitude * math.sin(math.pi / 2.0 * probability)

    def drawn(self, rng: np.random.Generator, count: int) -> Any:
        """Return `count` random values as an array."""
        import numpy as np

        return self.middle + self.amplitude * np.sin(rng.uniform(-math.pi, math.pi, count))


@dataclass(frozen=True, slots=True)
class TwoValued:
    """Either `amplitude` above the middle or as much below, equally likely, nothing between: u = a.

    What a backlash does while nobody knows from which side it will be taken up.
    """

    amplitude: float
    middle: float = 0.0

    name = "two-valued"

    def __post_init__(self) -> None:
        require(self.amplitude, "an amplitude")

    @property
    def u(self) -> float:
        """The standard uncertainty."""
        return self.amplitude

    @property
    def reach(self) -> float:
        """The greatest distance from the middle."""
        return self.amplitude

    def scaled(self, factor: float) -> TwoValued:
        """Return the shape of the quantity times `factor`."""
        return TwoValued(self.amplitude * abs(factor), self.middle * factor)

    def centred(self) -> TwoValued:
        """Return the same shape about 0."""
        return replace(self, middle=0.0)

    def wave(self, omega: float) -> float:
        """Return cos(aω)."""
        return math.cos(self.amplitude * omega)

    def fade(self, omega: float) -> float:
        """Return 1: this wave never fades."""
        return 1.0

    def half_width(self, probability: float) -> float | None:
        """Return the amplitude, which holds everything."""
        return self.amplitude

    def drawn(self, rng: np.random.Generator, count: int) -> Any:
        """Return `count` random values as an array."""
        return self.middle + self.amplitude * (2.0 * rng.integers(0, 2, count) - 1.0)


@dataclass(frozen=True, slots=True)
class Trapezoid:
    """Within ±`half`, and equally likely within `top`·half: the sum of two flat ones, u = a·√((1 + β²)/6).

    Source: JCGM 100:2008, 4.3.9; JCGM 101:2008, 6.4.4.
    """

    half: float
    top: float
    middle: float = 0.0

    def __post_init__(self) -> None:
        require(self.half, "a half width")
        if not 0.0 <= self.top <= 1.0:
            raise ValueError(f"a trapezoid's top is a share of its base from 0 to 1, not {self.top}")

    @property
    def name(self) -> str:
        """What the shape is called in a table."""
        return "trapezoid" if self.top > 0.0 else "triangular"

    @property
    def u(self) -> float:
        """The standard uncertainty."""
        return self.half * math.sqrt((1.0 + self.top**2) / 6.0)

    @property
    def reach(self) -> float:
        """The greatest distance from the middle."""
        return self.half

    def _parts(self) -> tuple[float, float]:
        return self.half * (1.0 + self.top) / 2.0, self.half * (1.0 - self.top) / 2.0

    def scaled(self, factor: float) -> Trapezoid:
        """Return the shape of the quantity times `factor`."""
        return type(self)(self.half * abs(factor), self.top, self.middle * factor)

    def centred(self) -> Trapezoid:
        """Return the same shape about 0."""
        return replace(self, middle=0.0)

    def wave(self, omega: float) -> float:
        """Return the product of the two flat waves."""
        wide, narrow = self._parts()
        return _sinc(wide * omega) * _sinc(narrow * omega)

    def fade(self, omega: float) -> float:
        """Return the product of the two flat bounds."""
        wide, narrow = self._parts()
        return 1.0 / (max(1.0, wide * omega) * max(1.0, narrow * omega))

    def half_width(self, probability: float) -> float | None:
        """Return the half width that holds `probability`: straight on the top, a square root on the slopes."""
        if probability * (1.0 + self.top) <= 2.0 * self.top:
            return probability * self.half * (1.0 + self.top) / 2.0
        return self.half * (1.0 - math.sqrt((1.0 - probability) * (1.0 - self.top**2)))

    def drawn(self, rng: np.random.Generator, count: int) -> Any:
        """Return `count` random values as an array."""
        wide, narrow = self._parts()
        return self.middle + rng.uniform(-wide, wide, count) + rng.uniform(-narrow, narrow, count)


def Triangular(half: float, middle: float = 0.0) -> Trapezoid:  # noqa: N802 (it stands for a shape)
    """Return the triangle within ±`half`, the sum of two equal flat ones: u = a/√6 (JCGM 100:2008, 4.3.9)."""
    return Trapezoid(half, 0.0, middle)
