"""Tails of Student's t and of F, and their inverse, from the incomplete beta function.

Accurate to about twelve digits, which is far more than any coverage factor needs.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

NORMAL_FROM = 1e7
"""Degrees of freedom from which Student's t is taken as normal: its quantiles then differ by less than 1e-7.
Our own choice."""

EXPANDED_FROM = 500.0
"""Degrees of freedom from which the quantile comes from its expansion in 1/ν, good to ten digits there.
Our own choice."""

_TINY = 1e-300
"""Stands for 0 where a continued fraction would divide by it, as Lentz does."""
_STANDARD = NormalDist()


def incomplete_beta(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function I_x(a, b), between 0 and 1.

    By its continued fraction, evaluated after Lentz. Source: NIST Digital Library of Mathematical Functions,
    8.17.22, with the symmetry 8.17.4 where it converges slowly. Raises `ValueError` for arguments out of range.
    """
    if not (a > 0.0 and b > 0.0 and 0.0 <= x <= 1.0):
        raise ValueError(f"the incomplete beta function needs a, b > 0 and 0 ≤ x ≤ 1, not {a:g}, {b:g}, {x:g}")
    if x in (0.0, 1.0):
        return x
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - incomplete_beta(b, a, 1.0 - x)
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    return math.exp(log_front) / (a * _beta_fraction(a, b, x))


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Return 1 + d₁/(1 + d₂/(1 + …)), which the front factor is divided by."""
    value, c, d = 1.0, 1.0, 0.0
    for m in range(1, 10_000):
        half = m // 2
        if m % 2:
            term = -(a + half) * (a + b + half) * x / ((a + 2 * half) * (a + 2 * half + 1.0))
        else:
            term = half * (b - half) * x / ((a + m - 1.0) * (a + m))
        d = 1.0 / _not_zero(1.0 + term * d)
        c = _not_zero(1.0 + term / c)
        value *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return value


def _not_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def student_tail(t: float, dof: float) -> float:
    """Return the probability that Student's t of `dof` degrees of freedom lies outside ±`t`.

    P = I_x(ν/2, 1/2) with x = ν/(ν + t²). Source: DLMF 8.17 with the usual substitution; `dof` may be infinite
    or a fraction. Raises `ValueError` for degrees of freedom that are not above 0.
    """
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom must be above 0, not {dof:g}")
    if dof >= NORMAL_FROM:
        return math.erfc(abs(t) / math.sqrt(2.0))
    return incomplete_beta(dof / 2.0, 0.5, dof / (dof + t * t))


def student_density(t: float, dof: float) -> float:
    """Return the density of Student's t of `dof` degrees of freedom at `t`."""
    if dof >= NORMAL_FROM:
        return _STANDARD.pdf(t)
    log_front = math.lgamma((dof + 1.0) / 2.0) - math.lgamma(dof / 2.0) - 0.5 * math.log(dof * math.pi)
    return math.exp(log_front - (dof + 1.0) / 2.0 * math.log1p(t * t / dof))


@lru_cache(maxsize=4096)
def student_quantile(probability: float, dof: float) -> float:
    """Return the t for which ±t holds `probability` of Student's distribution of `dof` degrees of freedom.

    Newton's method on the tail, kept inside a bracket. Raises `ValueError` for a probability outside 0 … 1 or
    degrees of freedom that are not above 0.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a probability must lie between 0 and 1, not {probability:g}")
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom must be above 0, not {dof:g}")
    start = _STANDARD.inv_cdf((1.0 + probability) / 2.0)
    if dof >= EXPANDED_FROM:
        return _expanded_quantile(start, dof)
    outside, low, high = 1.0 - probability, 0.0, max(start, 1.0)
    while student_tail(high, dof) > outside:
        low, high = high, 2.0 * high
    t = max(low, start)
    for _ in range(200):
        excess = student_tail(t, dof) - outside
        low, high = (t, high) if excess > 0.0 else (low, t)
        better = t + excess / (2.0 * student_density(t, dof))
        if not low < better < high:
            better = (low + high) / 2.0
        if abs(better - t) <= 1e-14 * better:
            return better
        t = better
    return t


def _expanded_quantile(z: float, dof: float) -> float:
    """Return the quantile of Student's t from that of the normal distribution. Source: M. Abramowitz and
    I. Stegun, Handbook of Mathematical Functions (1964), 26.7.5."""
    if math.isinf(dof):
        return z
    square = z * z
    terms = (
        (square + 1.0) / 4.0,
        ((5.0 * square + 16.0) * square + 3.0) / 96.0,
        (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0,
    )
    return z * (1.0 + sum(term / dof**power for power, term in enumerate(terms, start=1)))


def f_tail(f: float, dof_over: float, dof_under: float) -> float:
    """Return the probability that F of (`dof_over`, `dof_under`) degrees of freedom exceeds `f`.

    P = I_x(ν₂/2, ν₁/2) with x = ν₂/(ν₂ + ν₁·F). Source: DLMF 8.17 with the usual substitution. Raises
    `ValueError` for a negative F.
    """
    if not f >= 0.0:
        raise ValueError(f"F cannot be {f:g}")
    if math.isinf(f):
        return 0.0
    return incomplete_beta(dof_under / 2.0, dof_over / 2.0, dof_under / (dof_under + dof_over * f))
