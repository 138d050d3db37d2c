"""How the range of a small normal sample relates to its standard deviation.

E[range] = d₂·σ and sd[range] = d₃·σ for n readings of a normal distribution; control charts and the
average-range method of gauge studies rest on the two.
"""

from __future__ import annotations

import math
from functools import lru_cache

MOST = 50
"""Readings in one sample beyond which nobody uses its range. Our own choice."""

_STEP = 0.1
_REACH = 7.5
"""Of the trapezoid rule, in standard deviations: beyond lies less than 1e-13. Our own choice, for six digits."""


@lru_cache(maxsize=64)
def range_constants(count: int) -> tuple[float, float]:
    """Return (d₂, d₃) for `count` readings.

    d₂ = ∫ 1 − Φⁿ − (1 − Φ)ⁿ dx and E[range²] = 2∬_{x<y} 1 − Φ(y)ⁿ − (1 − Φ(x))ⁿ + (Φ(y) − Φ(x))ⁿ dx dy, by the
    trapezoid rule. The inner integral over w = y − x is ∫ E[max(W − w, 0)] dw, whose slope at w = 0 is −1, so
    that the rule overshoots by step²/12 (Euler and Maclaurin). Source: L. H. C. Tippett, Biometrika 17 (1925).
    Good to six digits. Raises `ValueError` for a count outside 2 … 50.
    """
    if not 2 <= count <= MOST:
        raise ValueError(f"the range serves for 2 to {MOST} readings, not {count}")
    steps = round(_REACH / _STEP)
    grid = [index * _STEP for index in range(-steps, steps + 1)]
    below = [math.erfc(-x / math.sqrt(2.0)) / 2.0 for x in grid]
    low = [(1.0 - p) ** count for p in below]
    high = [p**count for p in below]
    d2 = _STEP * math.fsum(1.0 - a - b for a, b in zip(low, high, strict=True))
    second = math.fsum(
        1.0 - high[j] - low[i] + (below[j] - below[i]) ** count for j in range(len(grid)) for i in range(j)
    )
    edge = math.fsum(1.0 - a - b for a, b in zip(low, high, strict=True)) / 2.0
    return d2, math.sqrt(2.0 * _STEP**2 * (second + edge - 1.0 / 12.0) - d2 * d2)


def single_range_constant(count: int) -> float:
    """Return d₂* for the range of one sample of `count` readings: √(d₂² + d₃²).

    σ² is estimated by (range/d₂*)². Source: A. J. Duncan, Quality Control and Industrial Statistics, table D3
    (from memory). Raises `ValueError` for a count outside 2 … 50.
    """
    return math.hypot(*range_constants(count))


@lru_cache(maxsize=512)
def range_quantile(probability: float, count: int) -> float:
    """Return the q that the range of `count` normal readings, in their standard deviations, exceeds rarely.

    P(range ≤ q) = n·∫ φ(x)·[Φ(x + q) − Φ(x)]ⁿ⁻¹ dx by the trapezoid rule, solved for q by bisection. Source:
    E. S. Pearson, H. O. Hartley, Biometrika 32 (1942). Good to six digits. Raises `ValueError` for a probability
    outside 0 … 1 or fewer than two readings.
    """
    if not (0.0 < probability < 1.0 and count >= 2):
        raise ValueError(f"a range's quantile takes 0 < p < 1 and 2 readings, not {probability:g} and {count}")
    low, high = 0.0, 2.0 * _REACH
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        low, high = (middle, high) if _range_below(middle, count) < probability else (low, middle)
    return high


def _range_below(q: float, count: int) -> float:
    steps = round(_REACH / _STEP)
    return _STEP * math.fsum(
        count * math.exp(-x * x / 2.0) / math.sqrt(2.0 * math.pi) * (_below(x + q) - _below(x)) ** (count - 1)
        for x in (index * _STEP for index in range(-steps, steps + 1))
    )


def _below(x: float) -> float:
    return math.erfc(-x / math.sqrt(2.0)) / 2.0
