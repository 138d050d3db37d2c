"""A straight line in the plane through points, by least orthogonal distances: an edge, and its skew."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gingerly.fits.unusable import UnusableGeometry, scatter, touch_uncertainty, usable_points
from gingerly.geometry import Point

SHORTEST = 1e-6
"""Millimetres over which points must extend to have a direction. Our own choice."""

WIDEST = 0.5
"""How far off the line the points may lie, root mean square, as a share of how far they extend along it.
Our own choice."""


@dataclass(frozen=True, slots=True)
class LineFit:
    """A line through `point` (the points' centroid, mm) along the unit vector `direction`.

    The direction leads from the first point towards the last. `residuals` are the distances in mm, positive to
    the left of it. `along` are the points' distances s from the centroid along the line.
    """

    point: Point
    direction: Point
    residuals: tuple[float, ...]
    along: tuple[float, ...]

    @property
    def length_squares(self) -> float:
        """Σs² in mm², which the angle's certainty grows with."""
        return math.fsum(s * s for s in self.along)

    @property
    def angle(self) -> float:
        """The direction's angle from +X, counter-clockwise, in radians."""
        return math.atan2(self.direction[1], self.direction[0])

    @property
    def dof(self) -> int:
        """Degrees of freedom of the residuals, n − 2."""
        return len(self.residuals) - 2

    @property
    def scatter(self) -> float | None:
        """Standard deviation of the residuals in mm; None for two points."""
        return scatter(self.residuals, self.dof)

    @property
    def form(self) -> float:
        """Straightness about this line in mm: greatest less least residual."""
        return max(self.residuals) - min(self.residuals)

    def covariance(self, u_touch: float | None = None) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return the covariance of (offset at `point` in mm, angle in rad).

        u²·diag(1/n, 1/Σs²): the two are independent at the centroid. u is `u_touch`, or the residuals' scatter.
        Source: first-order propagation, rows (1, s). Raises `ValueError` where neither is known.
        """
        square = touch_uncertainty(u_touch, self.scatter) ** 2
        return (square / len(self.residuals), 0.0), (0.0, square / self.length_squares)

    @property
    def influence(self) -> tuple[tuple[float, float], ...]:
        """How much (offset at `point` in mm, angle in rad) grow per mm as each touch lies further left: 1/n and
        s/Σs². What acts on several touches together is combined with these weights."""
        share = 1.0 / len(self.along)
        return tuple((share, s / self.length_squares) for s in self.along)

    def u_angle(self, u_touch: float | None = None) -> float:
        """Return the standard uncertainty of the angle in rad; √2·u/L for two points. Raises as `covariance`."""
        return math.sqrt(self.covariance(u_touch)[1][1])

    def u_offset(self, at: float, u_touch: float | None = None) -> float:
        """Return the standard uncertainty in mm of the line's place, `at` mm along it from `point`."""
        (offset, _), (_, angle) = self.covariance(u_touch)
        return math.sqrt(offset + at * at * angle)

    def distance(self, point: Point) -> float:
        """Return how far a point lies to the left of the line, in mm; negative to the right."""
        dx, dy = point[0] - self.point[0], point[1] - self.point[1]
        return self.direction[0] * dy - self.direction[1] * dx

    def meets(self, other: LineFit) -> Point:
        """Return the point where two lines cross, in mm; raises `UnusableGeometry` for parallel ones.

        The crossing's uncertainty grows as 1/sin of the angle between the lines, so below 10° is refused.
        """
        cross = self.direction[0] * other.direction[1] - self.direction[1] * other.direction[0]
        limit = math.sin(math.radians(10.0))
        if abs(cross) < limit:
            degrees = math.degrees(math.asin(min(1.0, abs(cross))))
            raise UnusableGeometry(
                "crossing of two lines",
                f"they meet at {degrees:.2f}°, and below 10° the place where is not known",
                found=abs(cross),
                limit=limit,
            )
        along = -other.distance(self.point) / -cross
        return self.point[0] + along * self.direction[0], self.point[1] + along * self.direction[1]


def fit_line(points: Sequence[Sequence[float]]) -> LineFit:
    """Return the line of least squared orthogonal distances through points (x, y) in mm.

    The direction is the first principal axis of the points about their centroid. Source: K. Pearson, Phil. Mag.
    2 (1901). Raises `UnusableGeometry` for fewer than two points, points in one place, or points that lie as far
    off the line as along it.
    """
    import numpy as np

    found = usable_points(points, "line", dimensions=2, least=2)
    middle = found.mean(axis=0)
    centred = found - middle
    _, lengths, axes = np.linalg.svd(centred, full_matrices=False)
    along = float(lengths[0])
    if along <= SHORTEST:
        raise UnusableGeometry(
            "line", f"all {len(points)} points lie within {along:.2g} mm of each other", found=along, limit=SHORTEST
        )
    if len(points) > 2 and lengths[1] > WIDEST * along:
        raise UnusableGeometry(
            "line",
            f"the points lie {lengths[1] / along:.2f} times as far off the line as along it, and that is no line",
            found=float(lengths[1] / along),
            limit=WIDEST,
        )
    direction = axes[0] * (1.0 if centred[-1] @ axes[0] >= centred[0] @ axes[0] else -1.0)
    ux, uy = (float(value) for value in direction)
    residuals, on_line = centred @ np.array([-uy, ux]), centred @ direction
    return LineFit(
        (float(middle[0]), float(middle[1])), (ux, uy), tuple(residuals.tolist()), tuple(on_line.tolist())
    )
