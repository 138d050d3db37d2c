"""A plane through points, by least orthogonal distances: a top face, its tilt and flatness."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gingerly.fits.unusable import UnusableGeometry, scatter, touch_uncertainty, usable_points
from gingerly.geometry import Position

if TYPE_CHECKING:
    from gingerly.fits.unusable import Array

NARROWEST = 1e-3
"""How wide the points must lie, root mean square, as a share of how far they extend the other way: a strip
a thousandth as wide as long has no tilt across it that anyone could measure. Our own choice."""

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class PlaneFit:
    """A plane through `point` (the points' centroid, mm) with the unit vector `normal`, which points up (+Z).

    `residuals` are the distances in mm along the normal. `axes` are the two principal directions within the
    plane and `squares` the sums of the points' squared distances from the centroid along them.
    """

    point: Position
    normal: Position
    residuals: tuple[float, ...]
    axes: tuple[Vector, Vector]
    squares: tuple[float, float]

    @property
    def dof(self) -> int:
        """Degrees of freedom of the residuals, n − 3."""
        return len(self.residuals) - 3

    @property
    def scatter(self) -> float | None:
        """Standard deviation of the residuals in mm; None for three points."""
        return scatter(self.residuals, self.dof)

    @property
    def form(self) -> float:
        """Flatness about this plane in mm: greatest less least residual."""
        return max(self.residuals) - min(self.residuals)

    @property
    def tilt(self) -> float:
        """The angle between normal and Z in radians."""
        return math.atan2(math.hypot(self.normal.x, self.normal.y), self.normal.z)

    @property
    def slopes(self) -> tuple[float, float]:
        """How much the plane rises in mm per mm along X and along Y; raises `UnusableGeometry` if upright."""
        if self.normal.z < 1e-9:
            raise UnusableGeometry("plane", "it stands upright and has no height", found=self.normal.z, limit=1e-9)
        return -self.normal.x / self.normal.z, -self.normal.y / self.normal.z

    def height(self, x: float, y: float) -> float:
        """Return the plane's Z in mm at (x, y); raises `UnusableGeometry` for an upright plane."""
        slope_x, slope_y = self.slopes
        return self.point.z + slope_x * (x - self.point.x) + slope_y * (y - self.point.y)

    def covariance(self, u_touch: float | None = None) -> tuple[float, float, float]:
        """Return the variances of the offset at `point` (mm²) and of the turns along both `axes` (rad²).

        u²·(1/n, 1/Σs₁², 1/Σs₂²); in these directions the three are independent. u is `u_touch`, or the residuals'
        scatter. Source: first-order propagation, rows (1, s₁, s₂). Raises `ValueError` where neither is known.
        """
        square = touch_uncertainty(u_touch, self.scatter) ** 2
        return square / len(self.residuals), square / self.squares[0], square / self.squares[1]

    def u_height(self, x: float, y: float, u_touch: float | None = None) -> float:
        """Return the standard uncertainty in mm of `height` at (x, y); raises as `height` and `covariance`."""
        offset, *turns = self.covariance(u_touch)
        there = Position(x, y, self.height(x, y)).minus(self.point)
        along = [there.dot(Position(*axis)) for axis in self.axes]
        variance = offset + math.fsum(s * s * turn for s, turn in zip(along, turns, strict=True))
        return math.sqrt(variance) / self.normal.z


def fit_plane(points: Sequence[Sequence[float]]) -> PlaneFit:
    """Return the plane of least squared orthogonal distances through points (x, y, z) in mm.

    The normal is the last principal axis of the points about their centroid. Source: K. Pearson, Phil. Mag. 2
    (1901). Raises `UnusableGeometry` for fewer than three points, points on a line, or no plane at all.
    """
    import numpy as np

    found = usable_points(points, "plane", dimensions=3, least=3)
    middle = found.mean(axis=0)
    centred = found - middle
    squares, axes = np.linalg.eigh(centred.T @ centred)
    if len(points) <= 64:  # costs more, and keeps all digits of a small residual
        lengths, axes = np.linalg.svd(centred)[1:]
        squares, axes = lengths[::-1] ** 2, axes[::-1].T
    width, extent = math.sqrt(max(0.0, float(squares[1]))), math.sqrt(max(0.0, float(squares[2])))
    if extent == 0.0 or width <= NARROWEST * extent:
        raise UnusableGeometry(
            "plane",
            f"the points lie on a line: {width:.3g} mm wide on {extent:.3g} mm of length (root sums of squares)",
            found=width / extent if extent > 0.0 else 0.0,
            limit=NARROWEST,
        )
    normal = axes[:, 0] * (1.0 if axes[2, 0] >= 0.0 else -1.0)
    residuals = centred @ normal
    off = float(np.linalg.norm(residuals))
    if len(points) > 3 and off > 0.5 * width:
        raise UnusableGeometry(
            "plane",
            f"the points lie {off / width:.2f} times as far off the plane as across it, and that is no plane",
            found=off / width,
            limit=0.5,
        )
    return PlaneFit(
        Position(*(float(value) for value in middle)),
        Position(*(float(value) for value in normal)),
        tuple(residuals.tolist()),
        (_vector(axes[:, 2]), _vector(axes[:, 1])),
        (float(squares[2]), float(squares[1])),
    )


def _vector(values: Array) -> Vector:
    x, y, z = (float(value) for value in values)
    return x, y, z
