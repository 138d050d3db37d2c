"""The distribution of a sum of independent sources, and the interval of it that holds a given probability.

No random numbers: the characteristic function of a sum is the product of its terms', and the sum's distribution
about its middle is the Fourier series

    P(|X| ≤ h) = h/L + Σₖ 2·φ(kπ/L)·sin(kπh/L)/(kπ)

of X wrapped round a circle of circumference 2L. Two errors are made, and both are bounded in the result: the
series is cut off, and what lies beyond L comes round again. Source: J. Gil-Pelaez, Biometrika 38 (1951);
H. Bohman, Arkiv för Matematik 4 (1961); R. B. Davies, Biometrika 60 (1973) for the two errors.

In pure Python, since some dozens of terms suffice: the normal and flat sources of a touch fade quickly.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from gingerly.statistics.tails import student_quantile, student_tail
from gingerly.uncertainty.shapes import Normal, Shape, Student

CUT_OFF = 1e-6
"""Probability that may be lost by cutting the series off. Our own choice, as are the tolerances of the
searches below."""

TAIL = 2e-7
"""Probability that may lie beyond L, Student's tails apart. Our own choice."""

MOST_TERMS = 16_384
"""Terms of the series after which it is cut off whatever is lost; only one or two flat or arcsine sources with
next to nothing beside them need so many, and there the bound is far above the real error. Our own choice."""


@dataclass(frozen=True, slots=True)
class CoverageInterval:
    """The interval about the middle that holds `probability`, given by its `half_width`.

    `slack` bounds by how much the probability really held may differ from that.
    """

    half_width: float
    probability: float
    slack: float


def coverage_interval(shapes: Iterable[Shape], probability: float = 0.95) -> CoverageInterval:
    """Return the interval that holds `probability` of the sum of independent shapes, about its middle.

    Results are remembered: a job's parts often share one budget. Raises `ValueError` for a probability that
    does not lie from 0.5 to 0.9999.
    """
    if not 0.5 <= probability <= 0.9999:
        raise ValueError(f"a coverage probability from 0.5 to 0.9999, not {probability:g}")
    terms = _gathered(shapes)
    if not terms:
        return CoverageInterval(0.0, probability, 0.0)
    if len(terms) == 1:
        alone = terms[0].half_width(probability)
        assert alone is not None
        return CoverageInterval(alone, probability, 0.0)
    return _summed(terms, probability)


def _gathered(shapes: Iterable[Shape]) -> tuple[Shape, ...]:
    """Return the shapes that count, all normal ones made one, about no middle."""
    others: list[Shape] = []
    variance = 0.0
    for shape in shapes:
        if isinstance(shape, Normal):
            variance += shape.u * shape.u
        elif shape.u > 0.0:
            others.append(shape)
    if variance > 0.0:
        others.append(Normal(math.sqrt(variance)))
    return tuple(others)


@lru_cache(maxsize=512)
def _summed(terms: tuple[Shape, ...], probability: float) -> CoverageInterval:
    reach = _reach(terms)
    step = math.pi / reach
    count = _terms_needed(terms, step)
    cosines = _waves(terms, step, count)
    sines = [wave / k for k, wave in enumerate(cosines, start=1)]
    half_width = _solved(probability, reach, sines, cosines, guess=1.9 * math.hypot(*(s.u for s in terms)))
    cut_off = 4.0 * math.prod(shape.fade(count * step) for shape in terms) / math.pi
    slack = cut_off + TAIL + _wrapped(terms, reach, half_width)
    return CoverageInterval(half_width, probability, min(slack, 1.0))


def _waves(terms: tuple[Shape, ...], step: float, count: int) -> list[float]:
    """Return the product of all waves at `count` multiples of `step`; equal shapes are reckoned once."""
    omegas = [k * step for k in range(1, count + 1)]
    product = [1.0] * count
    for shape, often in Counter(terms).items():
        wave = shape.wave
        if often == 1:
            product = [before * wave(omega) for before, omega in zip(product, omegas, strict=True)]
        else:
            product = [before * wave(omega) ** often for before, omega in zip(product, omegas, strict=True)]
    return product


def _reach(terms: tuple[Shape, ...]) -> float:
    """Return a distance from the middle beyond which next to nothing lies, Student's far tails apart.

    Bounded terms reach no further than their sum, nor, with the normal one, further than √(2·ln(2/ε)·v), v being
    the sum of squared half widths and of normal variances. Source: W. Hoeffding, J. Am. Stat. Assoc. 58 (1963).
    """
    bounded = [shape.reach for shape in terms if math.isfinite(shape.reach)]
    normal = sum(shape.u for shape in terms if isinstance(shape, Normal))
    # Beyond ±5.2 standard deviations a normal source leaves 2e-7, which is TAIL.
    by_sum = math.fsum(bounded) + 5.2 * normal
    by_squares = math.sqrt(2.0 * math.log(2.0 / TAIL)) * math.hypot(normal, *bounded)
    students = sum(shape.u * _student_reach(shape.dof) for shape in terms if isinstance(shape, Student))
    return min(by_sum, by_squares) + students


@lru_cache(maxsize=512)
def _student_reach(dof: float) -> float:
    """Return how many scale units of Student's t to keep: what comes round counts only where it lands inside."""
    inside = 2.0 * student_quantile(0.95, dof)
    reach = inside
    while student_tail(reach, dof) * min(1.0, inside / reach) > 1e-5:
        reach *= 1.1
    return reach


def _terms_needed(terms: tuple[Shape, ...], step: float) -> int:
    """Return how many terms leave less than `CUT_OFF`, or `MOST_TERMS`.

    Once a product of bounds has become small it falls at least as 1/√k, so what is left beyond k is at most
    Σ 2·fade/(jπ) ≤ 4·fade(k)/π.
    """
    wanted = CUT_OFF * math.pi / 4.0

    def enough(count: int) -> bool:
        left = 1.0
        for shape in terms:
            left *= shape.fade(count * step)
            if left <= wanted:
                return True
        return False

    high = 16
    while not enough(high) and high < MOST_TERMS:
        high *= 2
    low = high // 2
    while high - low > max(2, high // 16):
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _solved(probability: float, reach: float, sines: list[float], cosines: list[float], *, guess: float) -> float:
    """Return the h at which the series gives `probability`: Newton's method inside a bracket."""
    low, high, h = 0.0, reach, min(guess, 0.9 * reach)
    for _ in range(80):
        theta = math.pi * h / reach
        held = h / reach + 2.0 / math.pi * _sine_sum(sines, theta)
        density = (1.0 + 2.0 * _cosine_sum(cosines, theta)) / reach
        low, high = (h, high) if held < probability else (low, h)
        better = h + (probability - held) / density if density > 0.0 else low
        if not low < better < high:
            better = (low + high) / 2.0
        if abs(better - h) <= 1e-9 * reach:
            return better
        h = better
    return h


def _sine_sum(factors: list[float], theta: float) -> float:
    """Return Σ cₖ·sin(kθ), k from 1, by Clenshaw's recurrence."""
    twice, one, two = 2.0 * math.cos(theta), 0.0, 0.0
    for factor in reversed(factors):
        one, two = factor + twice * one - two, one
    return one * math.sin(theta)


def _cosine_sum(factors: list[float], theta: float) -> float:
    """Return Σ cₖ·cos(kθ), k from 1, by Clenshaw's recurrence."""
    cosine = math.cos(theta)
    twice, one, two = 2.0 * cosine, 0.0, 0.0
    for factor in reversed(factors):
        one, two = factor + twice * one - two, one
    return one * cosine - two


def _wrapped(terms: tuple[Shape, ...], reach: float, half_width: float) -> float:
    """Return a bound of what Student's tails bring round into the interval.

    It must lie within `half_width` of 2L, 4L, … less what the other terms reach. The density falls faster than
    1/x², so all rounds together are at most π²/6 times the first.
    """
    students = [shape for shape in terms if isinstance(shape, Student)]
    total = 0.0
    for shape in students:
        others = reach - shape.u * _student_reach(shape.dof)
        near = max(0.0, 2.0 * reach - half_width - others) / shape.u
        far = (2.0 * reach + half_width + others) / shape.u
        total += math.pi**2 / 6.0 * (student_tail(near, shape.dof) - student_tail(far, shape.dof))
    return total
