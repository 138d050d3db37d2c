"""What every fit refuses, and the spread of residuals that every fit shares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


class UnusableGeometry(ValueError):
    """The points do not determine the feature.

    `feature` is what was looked for, `reason` what is wrong in words, `found` the number that failed and
    `limit` what it was held against.
    """

    def __init__(self, feature: str, reason: str, *, found: float, limit: float) -> None:
        super().__init__(f"{feature}: {reason}")
        self.feature = feature
        self.reason = reason
        self.found = found
        self.limit = limit


def usable_points(points: Sequence[Sequence[float]], feature: str, *, dimensions: int, least: int) -> Array:
    """Return the points as an array; raises `UnusableGeometry` for too few or for numbers that are not finite."""
    import numpy as np

    if len(points) < least:
        raise UnusableGeometry(
            feature,
            f"{len(points)} points are given and at least {least} are needed",
            found=len(points),
            limit=least,
        )
    found = np.asarray(points, dtype=float)
    if found.ndim != 2 or found.shape[1] != dimensions:
        raise ValueError(f"{feature}: the points must have {dimensions} coordinates each")
    if not np.isfinite(found).all():
        raise UnusableGeometry(feature, "a point has a coordinate that is not finite", found=math.nan, limit=0.0)
    return found


def scatter(residuals: Sequence[float], dof: int) -> float | None:
    """Return the standard deviation of residuals with `dof` degrees of freedom; None where there are none."""
    if dof < 1:
        return None
    return math.sqrt(math.fsum(value * value for value in residuals) / dof)


def touch_uncertainty(given: float | None, scattered: float | None) -> float:
    """Return the standard uncertainty of one touch: as given, or as the residuals show.

    Raises `ValueError` where neither is known, since as many points as unknowns leave no residuals.
    """
    u = given if given is not None else scattered
    if u is None:
        raise ValueError("as many points as unknowns leave no residuals: give the uncertainty of one touch")
    if not (math.isfinite(u) and u >= 0.0):
        raise ValueError(f"the uncertainty of one touch must be finite and not below 0, not {u}")
    return u
