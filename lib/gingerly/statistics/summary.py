"""Mean, standard deviation and what pools several small samples into one estimate of scatter."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Summary:
    """What repeated readings say: their number, mean, standard deviation (n − 1) and range, in their own unit."""

    count: int
    mean: float
    standard_deviation: float
    range: float

    @property
    def dof(self) -> int:
        """Degrees of freedom of the standard deviation."""
        return self.count - 1

    @property
    def uncertainty_of_mean(self) -> float:
        """Standard uncertainty of the mean, s/√n. Source: JCGM 100:2008, 4.2.3."""
        return self.standard_deviation / math.sqrt(self.count)


@dataclass(frozen=True, slots=True)
class Pooled:
    """A standard deviation pooled from several samples, and its degrees of freedom."""

    standard_deviation: float
    dof: int


def mean(readings: Sequence[float]) -> float:
    """Return the arithmetic mean, from a sum without rounding; raises `ValueError` for no readings."""
    finite(readings, at_least=1)
    first = readings[0]
    rough = first + math.fsum(value - first for value in readings) / len(readings)
    return rough + math.fsum(value - rough for value in readings) / len(readings)


def squares(readings: Sequence[float]) -> float:
    """Return the sum of squared deviations from the mean.

    Taken about a nearby pivot and corrected by (Σd)²/n: subtracting two numbers within a factor of two of each
    other is exact, so nothing is lost but what the readings themselves lack (Sterbenz's lemma).
    """
    pivot = mean(readings)
    deviations = [value - pivot for value in readings]
    return math.fsum(d * d for d in deviations) - math.fsum(deviations) ** 2 / len(deviations)


def standard_deviation(readings: Sequence[float]) -> float:
    """Return the experimental standard deviation, with n − 1. Source: JCGM 100:2008, 4.2.2.

    Raises `ValueError` for fewer than two readings or one that is not finite.
    """
    finite(readings, at_least=2)
    return math.sqrt(max(0.0, squares(readings)) / (len(readings) - 1))


def summary(readings: Sequence[float]) -> Summary:
    """Return number, mean, standard deviation and range; raises `ValueError` for fewer than two readings."""
    return Summary(len(readings), mean(readings), standard_deviation(readings), max(readings) - min(readings))


def pooled(samples: Iterable[Sequence[float]]) -> Pooled:
    """Return one standard deviation from several samples of the same scatter about different means.

    s² = Σ(nᵢ − 1)·sᵢ² / Σ(nᵢ − 1). Source: JCGM 100:2008, 4.2.4 and H.1.3.2 (pooled experimental standard
    deviation). Samples of one reading add nothing. Raises `ValueError` where none has two.
    """
    usable = [sample for sample in samples if len(sample) >= 2]
    if not usable:
        raise ValueError("a pooled standard deviation needs a sample with at least two readings")
    dof = sum(len(sample) - 1 for sample in usable)
    return Pooled(math.sqrt(math.fsum(max(0.0, squares(finite(sample))) for sample in usable) / dof), dof)


def finite(readings: Sequence[float], *, at_least: int = 1) -> Sequence[float]:
    """Return the readings; raises `ValueError` where there are too few, or one is not finite."""
    if len(readings) < at_least:
        raise ValueError(f"at least {at_least} readings are needed, not {len(readings)}")
    for index, value in enumerate(readings):
        if not math.isfinite(value):
            raise ValueError(f"reading {index + 1} is {value}, which is no number to reckon with")
    return readings
