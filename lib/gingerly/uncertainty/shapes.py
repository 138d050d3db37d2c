"""The shapes that knowledge about a quantity takes: normal, flat, arcsine, triangular, trapezoid, Student.

Every shape is symmetric about its `middle` and knows its standard uncertainty `u`, how far it can reach, its
characteristic function (`wave`), an upper bound of that (`fade`), and, where there is a closed form, the half
width that holds a probability. Lengths are in whatever unit the quantity has. A limit that is not finite or is
below 0 raises `ValueError`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, Protocol

from gingerly.statistics.tails import NORMAL_FROM, student_quantile
from gingerly.uncertainty.waves import bessel_j0, student_wave

if TYPE_CHECKING:
    import numpy as np

STANDARD = NormalDist()


class Shape(Protocol):
    """What every shape can tell."""

    @property
    def middle(self) -> float:
        """The expectation."""
        ...

    @property
    def u(self) -> float:
        """The standard uncertainty."""
        ...

    @property
    def reach(self) -> float:
        """The greatest distance from the middle; infinite where there is none."""
        ...

    @property
    def name(self) -> str:
        """What the shape is called in a table."""
        ...

    def scaled(self, factor: float) -> Shape:
        """Return the shape of the quantity times `factor`."""
        ...

    def wave(self, omega: float) -> float:
        """Return the characteristic function about the middle, at `omega` radians per unit."""
        ...

    def fade(self, omega: float) -> float:
        """Return an upper bound of the wave's size at `omega` and everywhere beyond."""
        ...

    def half_width(self, probability: float) -> float | None:
        """Return the half width about the middle that holds `probability`; None without a closed form."""
        ...

    def drawn(self, rng: np.random.Generator, count: int) -> Any:
        """Return `count` random values as an array."""
        ...


def _sinc(x: float) -> float:
    return math.sin(x) / x if x > 1e-8 else 1.0


def _require(value: float, what: str) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise ValueError(f"{what} must be finite and not below 0, not {value}")


@dataclass(frozen=True, slots=True)
class Normal:
    """A normal distribution of standard uncertainty `u`."""

    u: float
    middle: float = 0.0

    name = "normal"
    reach = math.inf

    def __post_init__(self) -> None:
        _require(self.u, "a standard uncertainty")

    @classmethod
    def expanded(cls, expanded: float, *, k: float, middle: float = 0.0) -> Normal:
        """Return the shape behind a certificate's U at coverage factor `k`. Source: JCGM 100:2008, 4.3.3."""
        if not k > 0.0:
            raise ValueError(f"a coverage factor must be above 0, not {k}")
        return cls(expanded / k, middle)

    def scaled(self, factor: float) -> Normal:
        """Return the shape of the quantity times `factor`."""
        return Normal(self.u * abs(factor), self.middle * factor)

    def wave(self, omega: float) -> float:
        """Return exp(−(u·ω)²/2)."""
        return math.exp(-0.5 * (self.u * omega) ** 2)

    def fade(self, omega: float) -> float:
        """Return the wave itself, which only falls."""
        return self.wave(omega)

    def half_width(self, probability: float) -> float | None:
        """Return the half width that holds `probability`."""
        return self.u * STANDARD.inv_cdf((1.0 + probability) / 2.0)

    def drawn(self, rng: np.random.Generator, count: int) -> Any:
        """Return `count` random values as an array."""
        return rng.normal(self.middle, self.u, count)


@dataclass(frozen=True, slots=True)
class Flat:
    """Anywhere within ±`half` of the middle, equally likely: u = a/√3. Source: JCGM 100:2008, 4.3.7."""

    half: float
    middle: float = 0.0

    name = "flat"

    def __post_init__(self) -> None:
        _require(self.half, "a half width")

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
        _require(self.amplitude, "an amplitude")

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
class Trapezoid:
    """Within ±`half`, and equally likely within `top`·half: the sum of two flat ones, u = a·√((1 + β²)/6).

    Source: JCGM 100:2008, 4.3.9; JCGM 101:2008, 6.4.4.
    """

    half: float
    top: float
    middle: float = 0.0

    def __post_init__(self) -> None:
        _require(self.half, "a half width")
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


@dataclass(frozen=True, slots=True)
class Student:
    """A mean whose scatter was itself estimated: scale `u` (s/√n) with `dof` degrees of freedom.

    `u` is what the GUM takes as the standard uncertainty; the distribution assigned by JCGM 101:2008, 6.4.9 is
    the t-distribution of that scale, whose own standard deviation is larger by √(ν/(ν − 2)).
    """

    u: float
    dof: float
    middle: float = 0.0

    name = "student"
    reach = math.inf

    def __post_init__(self) -> None:
        _require(self.u, "a standard uncertainty")
        if not self.dof >= 1.0:
            raise ValueError(f"degrees of freedom must be at least 1, not {self.dof}")

    def scaled(self, factor: float) -> Student:
        """Return the shape of the quantity times `factor`."""
        return Student(self.u * abs(factor), self.dof, self.middle * factor)

    def wave(self, omega: float) -> float:
        """Return the characteristic function of the scaled t-distribution."""
        if self.dof >= NORMAL_FROM:
            return math.exp(-0.5 * (self.u * omega) ** 2)
        return student_wave(self.u * omega, self.dof)

    def fade(self, omega: float) -> float:
        """Return the wave itself, which only falls."""
        return self.wave(omega)

    def half_width(self, probability: float) -> float | None:
        """Return the half width that holds `probability`."""
        return self.u * student_quantile(probability, self.dof)

    def drawn(self, rng: np.random.Generator, count: int) -> Any:
        """Return `count` random values as an array."""
        if math.isinf(self.dof):
            return rng.normal(self.middle, self.u, count)
        return self.middle + self.u * rng.standard_t(self.dof, count)
