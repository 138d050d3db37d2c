"""The law of propagation of uncertainty and the coverage factor, as JCGM 100:2008 (the GUM) has them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from gingerly.statistics.summary import mean
from gingerly.statistics.tails import student_quantile

Matrix = tuple[tuple[float, ...], ...]

MOST_DOF = 1e4
"""Effective degrees of freedom beyond which they count as infinite: k then differs by less than 0.001.
Our own choice."""


def effective_dof(contributions: Iterable[tuple[float, float]]) -> float:
    """Return the effective degrees of freedom of independent contributions (|c|·u, ν).

    ν_eff = u⁴ / Σ(uᵢ⁴/νᵢ). Source: JCGM 100:2008, G.4.1, the formula of Welch and Satterthwaite. Infinite where
    every ν is.
    """
    pairs = [(u, dof) for u, dof in contributions if u != 0.0]
    whole = math.hypot(*(u for u, _ in pairs))
    if whole == 0.0:
        return math.inf
    below = math.fsum((u / whole) ** 4 / dof for u, dof in pairs)
    return 1.0 / below if below > 1.0 / MOST_DOF else math.inf


def coverage_factor(probability: float, dof: float = math.inf, *, truncate: bool = True) -> float:
    """Return the k for which U = k·u holds `probability` at `dof` effective degrees of freedom.

    Student's t, with ν cut to the next lower whole number as JCGM 100:2008, G.4.1 advises, unless `truncate` is
    false. Fewer than one degree counts as one.
    """
    if truncate and math.isfinite(dof):
        # A fraction that only rounding keeps below a whole number is not cut.
        dof = math.floor(dof + 1e-9)
    return student_quantile(probability, max(1.0, dof))


def joint_means(columns: Sequence[Sequence[float]]) -> tuple[tuple[float, ...], Matrix]:
    """Return the means of quantities read together, and the covariance matrix of these means.

    s(q̄, r̄) = Σ(qₖ − q̄)(rₖ − r̄) / (n(n − 1)). Source: JCGM 100:2008, 5.2.3, formula 17. Raises `ValueError`
    for columns of different length or fewer than two readings.
    """
    counts = {len(column) for column in columns}
    if len(counts) != 1 or (count := counts.pop()) < 2:
        raise ValueError("quantities read together need the same number of readings, at least 2")
    means = tuple(mean(column) for column in columns)
    left = [[value - middle for value in column] for column, middle in zip(columns, means, strict=True)]
    below = count * (count - 1)
    covariance = tuple(
        tuple(math.fsum(a * b for a, b in zip(one, other, strict=True)) / below for other in left) for one in left
    )
    return means, covariance


def propagated(jacobian: Sequence[Sequence[float]], covariance: Sequence[Sequence[float]]) -> Matrix:
    """Return the covariance matrix of outputs, J·V·Jᵀ, from that of the inputs.

    `jacobian` has one row of sensitivities per output. Source: JCGM 100:2008, 5.2.2, formula 13; JCGM 102:2011
    for several outputs.
    """
    count = len(covariance)
    half = [[math.fsum(row[i] * covariance[i][j] for i in range(count)) for j in range(count)] for row in jacobian]
    return tuple(tuple(math.fsum(a * b for a, b in zip(one, row, strict=True)) for row in jacobian) for one in half)


def sensitivities(
    model: Callable[[Sequence[float]], Sequence[float]], inputs: Sequence[float], steps: Sequence[float]
) -> Matrix:
    """Return the sensitivities of a model's outputs to its inputs by central differences of ± `steps`.

    The standard uncertainties serve well as steps. Source: JCGM 100:2008, 5.1.3, note 2. A step of 0 stands for
    an input that is known, and gives no sensitivity.
    """
    columns = []
    for index, step in enumerate(steps):
        if step == 0.0:
            columns.append([0.0] * len(model(inputs)))
            continue
        low, high = list(inputs), list(inputs)
        low[index] -= step
        high[index] += step
        width = high[index] - low[index]
        columns.append([(b - a) / width for a, b in zip(model(low), model(high), strict=True)])
    return tuple(tuple(column[row] for column in columns) for row in range(len(columns[0])))
