"""Readings against a known quantity, by least squares of the readings' differences: y = Σ bᵢ·xᵖⁱ.

Contacts against feed give the reaction time of a machine (the slope) and the face at no speed (the intercept).
The known quantity counts as exact; where both are uncertain, `fit_line` is the fit to use.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gingerly.fits.unusable import UnusableGeometry, scatter, touch_uncertainty

if TYPE_CHECKING:
    from gingerly.fits.unusable import Array


@dataclass(frozen=True, slots=True)
class PowerFit:
    """Coefficients of y = Σ bᵢ·xᵖⁱ, one per power; `cofactors` is (XᵀX)⁻¹, `squares_total` Σ(y − ȳ)², or Σy²
    without a constant term.

    Where each reading had an uncertainty of its own, residuals, scatter and squares count in those, X is divided by
    them row by row, and ȳ is weighted; `covariance(1.0)` then takes them as they were stated.
    """

    powers: tuple[int, ...]
    coefficients: tuple[float, ...]
    cofactors: tuple[tuple[float, ...], ...]
    residuals: tuple[float, ...]
    squares_total: float

    @property
    def dof(self) -> int:
        """Degrees of freedom of the residuals."""
        return len(self.residuals) - len(self.powers)

    @property
    def scatter(self) -> float | None:
        """Standard deviation of the residuals; None where there are as many readings as coefficients."""
        return scatter(self.residuals, self.dof)

    @property
    def explained(self) -> float:
        """The share of all squares that the fit explains (R²)."""
        left = math.fsum(value * value for value in self.residuals)
        return 1.0 - left / self.squares_total if self.squares_total > 0.0 else 0.0

    def covariance(self, u_reading: float | None = None) -> tuple[tuple[float, ...], ...]:
        """Return the coefficients' covariance; u is `u_reading` or the residuals' scatter, else `ValueError`."""
        square = touch_uncertainty(u_reading, self.scatter) ** 2
        return tuple(tuple(square * value for value in row) for row in self.cofactors)

    def uncertainties(self, u_reading: float | None = None) -> tuple[float, ...]:
        """Return the coefficients' standard uncertainties; raises as `covariance`."""
        return tuple(math.sqrt(row[index]) for index, row in enumerate(self.covariance(u_reading)))

    def value(self, x: float) -> float:
        """Return the fitted value at `x`."""
        return math.fsum(b * x**power for b, power in zip(self.coefficients, self.powers, strict=True))

    def u_value(self, x: float, u_reading: float | None = None) -> float:
        """Return the standard uncertainty of the fitted value at `x`, correlations included."""
        row = [x**power for power in self.powers]
        matrix = self.covariance(u_reading)
        variance = math.fsum(a * b * matrix[i][j] for i, a in enumerate(row) for j, b in enumerate(row))
        return math.sqrt(max(0.0, variance))


def fit_powers(
    x: Sequence[float],
    y: Sequence[float],
    powers: Sequence[int] = (0, 1),
    *,
    u: Sequence[float] | None = None,
) -> PowerFit:
    """Return the least-squares fit of y = Σ bᵢ·xᵖⁱ; a straight line unless told otherwise.

    `u` has the standard uncertainty of each reading, where they differ: the less sure a reading, the less it counts.
    By an orthogonal decomposition of columns scaled to length one, refined once. Source: G. H. Golub, Numer. Math. 7
    (1965). Raises `UnusableGeometry` for fewer readings than coefficients or too few different x, and `ValueError`
    for numbers that do not pair.
    """
    import numpy as np

    columns, readings, about = _weighted(x, y, powers, u)
    sizes = np.linalg.norm(columns, axis=0)
    if not (sizes > 0.0).all():
        raise UnusableGeometry("regression", "every place is 0", found=0.0, limit=0.0)
    basis, upper = np.linalg.qr(columns / sizes)
    inverse = np.linalg.inv(upper)
    solution = inverse @ (basis.T @ readings) / sizes
    for _ in range(2):  # what rounding left in the residuals, put back
        solution = solution + inverse @ (basis.T @ (readings - columns @ solution)) / sizes
    cofactors = (inverse @ inverse.T) / np.outer(sizes, sizes)
    return PowerFit(
        tuple(powers),
        tuple(solution.tolist()),
        tuple(tuple(row) for row in cofactors.tolist()),
        tuple((readings - columns @ solution).tolist()),
        math.fsum(value * value for value in about.tolist()),
    )


def _weighted(
    x: Sequence[float], y: Sequence[float], powers: Sequence[int], u: Sequence[float] | None
) -> tuple[Array, Array, Array]:
    """Return the columns, the readings, and the readings about their mean, all over the readings' uncertainties."""
    import numpy as np

    if len(x) != len(y) or (u is not None and len(u) != len(y)):
        raise ValueError(f"{len(x)} places, {len(y)} readings and their uncertainties do not pair")
    if u is not None and not all(math.isfinite(value) and value > 0.0 for value in u):
        raise ValueError("the uncertainty of a reading must be finite and above 0")
    if len(x) < len(powers) or len(set(x)) < len(powers):
        raise UnusableGeometry(
            "regression",
            f"{len(set(x))} different places are too few for {len(powers)} coefficients",
            found=len(set(x)),
            limit=len(powers),
        )
    readings = np.asarray(y, dtype=float)
    columns = np.column_stack([np.asarray(x, dtype=float) ** power for power in powers])
    if not (np.isfinite(readings).all() and np.isfinite(columns).all()):
        raise UnusableGeometry("regression", "a place or a reading is not finite", found=math.nan, limit=0.0)
    if u is None:
        return columns, readings, readings - readings.mean() if 0 in powers else readings
    weights = 1.0 / np.asarray(u, dtype=float)
    mean = float(weights**2 @ readings / (weights**2).sum()) if 0 in powers else 0.0
    return weights[:, None] * columns, weights * readings, weights * (readings - mean)
