"""What is left of rounding in the mean of several readings that scatter before they are rounded."""

from __future__ import annotations

import math
from functools import lru_cache

TERMS = 200
"""Terms of the series; what is left out is below 1/(π²·TERMS) of the whole. Our own choice."""


@lru_cache(maxsize=1024)
def rounding_kept(width: float, count: int) -> float:
    """Return which share of one reading's rounding is left in the mean of `count` readings.

    Each is spread evenly over `width` rounding steps before it is rounded. The rounding error is the sawtooth
    Σ (−1)ᵏ·sin(2πkx)/(πk) of the unrounded reading x; of two readings spread alike the k-th terms correlate by
    sinc²(k·width), so that their errors correlate by ρ = 6/π²·Σ sinc²(k·width)/k² and the mean keeps
    √(ρ + (1 − ρ)/n). Readings in one place are all rounded alike (ρ = 1); over a whole step, ρ = 0.

    Source: B. Widrow, I. Kollár, Quantization Noise (Cambridge 2008), the characteristic function's zeros at whole
    steps; the sum over k worked out here.
    """
    if count <= 1:
        return 1.0
    rho = 6.0 / math.pi**2 * math.fsum(_sinc(k * width) ** 2 / (k * k) for k in range(1, TERMS + 1))
    rho = min(1.0, max(0.0, rho))
    return math.sqrt(rho + (1.0 - rho) / count)


def _sinc(x: float) -> float:
    return math.sin(math.pi * x) / (math.pi * x) if abs(x) > 1e-12 else 1.0
