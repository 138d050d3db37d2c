"""The shapes that knowledge about a quantity takes, and those without end: normal and Student.

Those within limits (flat, arcsine, two-valued, trapezoid, triangular) are in `bounded`. Every shape is symmetric
about its `middle` and knows its standard uncertainty `u`, how far it can reach, its characteristic function
(`wave`), an upper bound of that (`fade`), and, where there is a closed form, the half width that holds a
probability. Lengths are in whatever unit the quantity has. A limit that is not finite or is below 0 raises
`ValueError`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, Protocol

from gingerly.statistics.tails import NORMAL_FROM, student_quantile
from gingerly.uncertainty.waves import student_wave

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

    def centred(self) -> Shape:
        """Return the same shape about 0."""
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


def require(value: float, what: str) -> None:
    """Raise `ValueError` unless a size is finite and not below 0."""
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
        require(self.u, "a standard uncertainty")

    @classmethod
    def expanded(cls, expanded: float, *, k: float, middle: float = 0.0) -> Normal:
        """Return the shape behind a certificate's U at coverage factor `k`. Source: JCGM 100:2008, 4.3.3."""
        if not k > 0.0:
            raise ValueError(f"a coverage factor must be above 0, not {k}")
        return cls(expanded / k, middle)

    def scaled(self, factor: float) -> Normal:
        """Return the shape of the quantity times `factor`."""
        return Normal(self.u * abs(factor), self.middle * factor)

    def centred(self) -> Normal:
        """Return the same shape about 0."""
        return replace(self, middle=0.0)

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
        require(self.u, "a standard uncertainty")
        if not self.dof >= 1.0:
            raise ValueError(f"degrees of freedom must be at least 1, not {self.dof}")

    def scaled(self, factor: float) -> Student:
        """Return the shape of the quantity times `factor`."""
        return Student(self.u * abs(factor), self.dof, self.middle * factor)

    def centred(self) -> Student:
        """Return the same shape about 0."""
        return replace(self, middle=0.0)

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
