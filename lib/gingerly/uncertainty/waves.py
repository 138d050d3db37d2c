"""Characteristic functions that the standard library lacks: of the arcsine distribution and of Student's t.

All are real, since every distribution here is symmetric about its middle: φ(ω) = E[cos(ω·x)].
"""

from __future__ import annotations

import math
from functools import lru_cache

_NEAR = 25.0
"""Up to which x the midpoints serve, and from which the expansion does. Our own choice."""


def _midpoints(count: int) -> tuple[float, ...]:
    """Return the cosines of `count` midpoints of a quarter turn."""
    return tuple(math.cos((2 * j + 1) * math.pi / (4.0 * count)) for j in range(count))


_RULES = ((4.0, _midpoints(6)), (11.0, _midpoints(10)), (_NEAR, _midpoints(16)))
"""Up to which x so many midpoints give J₀(x): the error of n of them is 2·J₄ₙ(x), below 1e-13."""


def _hankel_factors(count: int) -> tuple[float, ...]:
    """Return a_k(0) of Hankel's expansion: (1²·3²·…·(2k − 1)²) / (k!·8ᵏ), without the sign (DLMF 10.17.1)."""
    factors = [1.0]
    for k in range(1, count):
        factors.append(factors[-1] * (2 * k - 1) ** 2 / (8.0 * k))
    return tuple(factors)


_HANKEL = _hankel_factors(10)


def bessel_j0(x: float) -> float:
    """Return the Bessel function J₀(x) to ten digits: the characteristic function of an arcsine of amplitude 1.

    Up to 25, the mean of cos(x·cos θ) over midpoints of a quarter turn (DLMF 10.9.1; the error by 10.12.2);
    beyond, Hankel's expansion (DLMF 10.17.3).
    """
    x = abs(x)
    for limit, nodes in _RULES:
        if x <= limit:
            cos = math.cos
            return sum([cos(x * node) for node in nodes]) / len(nodes)
    even = odd = 0.0
    for k in range(len(_HANKEL) - 2, -1, -2):
        sign = -1.0 if k % 4 else 1.0
        even += sign * _HANKEL[k] / x**k
        odd -= sign * _HANKEL[k + 1] / x ** (k + 1)
    phase = x - math.pi / 4.0
    return math.sqrt(2.0 / (math.pi * x)) * (even * math.cos(phase) - odd * math.sin(phase))


@lru_cache(maxsize=512)
def student_mixture(dof: float) -> tuple[tuple[float, float], ...]:
    """Return (weight, variance) of the normal distributions whose mixture is Student's t of `dof` degrees.

    t = Z·√(ν/W) with W of χ² with ν degrees of freedom, so φ(ω) = E[exp(−ω²·ν/(2W))]. With y = ln(W/ν) the
    density ∝ exp(ν/2·(y − eʸ)) falls off so fast that the trapezoid rule converges beyond all powers of the
    step. Source: the definition of Student's t; J. A. C. Weideman, Am. Math. Monthly 109 (2002) for the rule.
    """
    step = min(0.5, math.sqrt(2.0 / dof))
    half = dof / 2.0
    nodes = [0.0]
    for sign in (-1.0, 1.0):
        y = sign * step
        while half * (y - math.exp(y) + 1.0) > -20.0:
            nodes.append(y)
            y += sign * step
    weights = [math.exp(half * (y - math.exp(y) + 1.0)) for y in nodes]
    total = math.fsum(weights)
    return tuple((weight / total, math.exp(-y)) for weight, y in zip(weights, nodes, strict=True))


def student_wave(x: float, dof: float) -> float:
    """Return the characteristic function of Student's t of `dof` degrees of freedom at `x`."""
    exp, minus_half = math.exp, -0.5 * x * x
    return sum([weight * exp(minus_half * variance) for weight, variance in student_mixture(dof)])
