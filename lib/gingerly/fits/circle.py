"""A circle through points, by least orthogonal distances: a bore or a boss, whole or in part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gingerly.fits.unusable import UnusableGeometry, scatter, touch_uncertainty, usable_points
from gingerly.geometry import Point

if TYPE_CHECKING:
    from gingerly.fits.unusable import Array

MOST_AMPLIFIED = 10.0
"""How many times the uncertainty of one touch the centre's may be. Four touches over 60° give 8.4, over 30° 33;
with a known radius the same 30° give 2.6. Our own choice; a full circle of four touches gives 0.71."""

STRAIGHTEST = 1e-6
"""How far off a straight line the points must lie, as a share of their extent. Our own choice."""

ROUNDS = 200
"""Steps after which the search gives up; five to ten are usual. They and the tolerances below are
our own choice."""

Covariance = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class CircleFit:
    """A circle about `centre` (mm) of `radius` (mm).

    `residuals` are the distances outward in mm. `directions` are the unit vectors outward to each point, and
    `cofactors` is (JᵀJ)⁻¹ of (x, y, radius), J having the rows
    (cos, sin, 1): times the variance of one touch it is their covariance. `given_radius` says that the radius
    was known beforehand; its cofactors are then 0. `arc` is the angle in radians over which the points lie.
    """

    centre: Point
    radius: float
    residuals: tuple[float, ...]
    directions: tuple[Point, ...]
    cofactors: Covariance
    arc: float
    given_radius: bool = False

    @property
    def dof(self) -> int:
        """Degrees of freedom of the residuals: n − 3, or n − 2 with a given radius."""
        return len(self.residuals) - (2 if self.given_radius else 3)

    @property
    def scatter(self) -> float | None:
        """Standard deviation of the residuals in mm; None where there are as many points as unknowns."""
        return scatter(self.residuals, self.dof)

    @property
    def form(self) -> float:
        """Roundness about this circle in mm (least squares, LSC): greatest less least residual."""
        return max(self.residuals) - min(self.residuals)

    def covariance(self, u_touch: float | None = None) -> Covariance:
        """Return the covariance of (x, y, radius) in mm², u²·(JᵀJ)⁻¹.

        u is `u_touch`, or the residuals' scatter. Raises `ValueError` where neither is known.
        """
        square = touch_uncertainty(u_touch, self.scatter) ** 2
        (a, b, c), (_, d, e), (_, _, f) = self.cofactors
        xx, xy, xr, yy, yr, rr = (square * value for value in (a, b, c, d, e, f))
        return (xx, xy, xr), (xy, yy, yr), (xr, yr, rr)

    def u_along(self, direction: Point, u_touch: float | None = None) -> float:
        """Return the standard uncertainty of the centre in mm along a unit vector; raises as `covariance`."""
        matrix = self.covariance(u_touch)
        x, y = direction
        return math.sqrt(max(0.0, x * x * matrix[0][0] + 2.0 * x * y * matrix[0][1] + y * y * matrix[1][1]))

    def u_radius(self, u_touch: float | None = None) -> float:
        """Return the standard uncertainty of the radius in mm; raises as `covariance`."""
        return math.sqrt(self.covariance(u_touch)[2][2])

    @property
    def influence(self) -> tuple[tuple[float, float, float], ...]:
        """How much (x, y, radius) grow, in mm per mm, as each touch lies further outward: rows of J·(JᵀJ)⁻¹.

        What acts on several touches together (the tool's radius, runout) is combined with these weights.
        """
        last = 0.0 if self.given_radius else 1.0
        return tuple(_weights(self.cofactors, (cosine, sine, last)) for cosine, sine in self.directions)

    @property
    def amplified(self) -> float:
        """The centre's standard uncertainty in its worst direction, in units of that of one touch."""
        (xx, xy, _), (_, yy, _), _ = self.cofactors
        half = math.hypot((xx - yy) / 2.0, xy)
        return math.sqrt((xx + yy) / 2.0 + half)


def fit_circle(
    points: Sequence[Sequence[float]], *, radius: float | None = None, most_amplified: float = MOST_AMPLIFIED
) -> CircleFit:
    """Return the circle of least squared orthogonal distances through points (x, y) in mm.

    The geometric fit, not an algebraic one: Gauss–Newton with damping after Levenberg and Marquardt, begun at
    I. Kåsa's algebraic answer. Source: W. Gander, G. H. Golub, R. Strebel, BIT 34 (1994). With a known
    `radius` only the centre is sought, which is what helps on a short arc. Raises `UnusableGeometry` for too few
    points, points on a line, an arc so short that the centre is less sure than `most_amplified` touches, or no
    answer.
    """
    import numpy as np

    found = usable_points(points, "circle", dimensions=2, least=3)
    if radius is not None and not (math.isfinite(radius) and radius > 0.0):
        raise ValueError(f"a known radius must be above 0 mm, not {radius}")
    middle = found.mean(axis=0)
    size = float(np.sqrt(((found - middle) ** 2).sum(axis=1).mean()))
    _require_curved(found - middle, size)
    scaled = (found - middle) / size
    known = None if radius is None else radius / size
    x, y, r = _best(scaled, known)
    away = scaled - (x, y)
    distances = np.hypot(away[:, 0], away[:, 1])
    directions = away / distances[:, None]
    fit = CircleFit(
        (float(middle[0] + size * x), float(middle[1] + size * y)),
        float(size * r) if radius is None else radius,
        tuple((size * (distances - r)).tolist()),
        tuple((cosine, sine) for cosine, sine in directions.tolist()),
        _cofactors(directions, known is not None),
        _arc(away),
        radius is not None,
    )
    if not fit.amplified <= most_amplified:
        raise UnusableGeometry(
            "circle",
            f"the touches lie over {math.degrees(fit.arc):.0f}° of it, which makes the centre {fit.amplified:.3g}"
            f" times less sure than one touch, and {most_amplified:g} is the limit: touch further round",
            found=fit.amplified,
            limit=most_amplified,
        )
    return fit


def _require_curved(centred: Array, size: float) -> None:
    import numpy as np

    lengths = np.linalg.svd(centred, compute_uv=False) if size > 0.0 else (0.0, 0.0)
    share = float(lengths[1] / lengths[0]) if size > 0.0 else 0.0
    if len(centred) > 2 and share <= STRAIGHTEST:
        what = f"lie on a straight line ({share:.1e} of their extent off it)" if size > 0.0 else "coincide"
        raise UnusableGeometry("circle", f"all {len(centred)} points {what}", found=share, limit=STRAIGHTEST)


def _algebraic(points: Array) -> tuple[float, float, float]:
    """Return the circle of least squares of x² + y² − 2ax − 2by − c: quick, biased, and only a start."""
    import numpy as np

    rows = np.column_stack([2.0 * points, np.ones(len(points))])
    a, b, c = np.linalg.lstsq(rows, (points**2).sum(axis=1), rcond=None)[0]
    return float(a), float(b), math.sqrt(max(float(c + a * a + b * b), 1e-12))


def _best(points: Array, known: float | None) -> Array:
    """Return (x, y, r). With a known radius there is an answer on either side of the points.

    The points are scaled so that they lie at distance 1 from their centroid, root mean square; the two searches
    begin where a circle of that radius would have such points, on either side along their minor axis. Raises
    `UnusableGeometry` where both answers fit about as well, within a factor of four of the squares.
    """
    import numpy as np

    if known is None:
        return _improved(points, _algebraic(points), None)
    x, y = np.linalg.svd(points, full_matrices=False)[2][1] * math.sqrt(max(0.0, known * known - 1.0))
    sides = [_improved(points, (sign * float(x), sign * float(y), known), known) for sign in (1.0, -1.0)]
    costs = [float((_residuals(points, side, 2)[0] ** 2).sum()) for side in sides]
    if np.abs(sides[0] - sides[1]).max() > 1e-6 and max(costs) <= 4.0 * min(costs):
        raise UnusableGeometry(
            "circle",
            "the points fit a circle on either side of them about as well: touch further round",
            found=math.sqrt(max(costs) / min(costs)),
            limit=2.0,
        )
    return sides[costs.index(min(costs))]


def _improved(points: Array, start: tuple[float, float, float], known: float | None) -> Array:
    """Return (x, y, r) of least squared distances. Raises `UnusableGeometry` where the search does not settle."""
    import numpy as np

    now = np.array(start if known is None else (start[0], start[1], known))
    free = 3 if known is None else 2
    residuals, rows = _residuals(points, now, free)
    cost, damping = float(residuals @ residuals), 1e-6
    for _ in range(ROUNDS):
        if _is_settled(rows, residuals, now):
            return _polished(points, now, free)
        trial = now.copy()
        trial[:free] += _step(rows, residuals, damping)
        new_residuals, new_rows = _residuals(points, trial, free)
        new_cost = float(new_residuals @ new_residuals)
        if new_cost < cost:
            now, residuals, rows, cost, damping = (
                trial,
                new_residuals,
                new_rows,
                new_cost,
                max(1e-12, damping / 10.0),
            )
        elif damping > 1e12:  # no step of any size helps any more
            return _polished(points, now, free)
        else:
            damping *= 100.0
    reason = f"no circle was found in {ROUNDS} steps: a straight line fits about as well"
    raise UnusableGeometry("circle", reason, found=ROUNDS, limit=ROUNDS)


def _is_settled(rows: Array, residuals: Array, now: Array) -> bool:
    """Return whether an undamped step would change next to nothing."""
    import numpy as np

    return bool(np.abs(_step(rows, residuals, 0.0)).max() <= 1e-8 * max(1.0, float(np.abs(now).max())))


def _step(rows: Array, residuals: Array, damping: float) -> Array:
    """Return the damped step; directions that the points do not determine are left alone."""
    import numpy as np

    normal = rows.T @ rows
    damped = normal + damping * np.diag(np.diag(normal))
    return np.asarray(np.linalg.lstsq(damped, rows.T @ residuals, rcond=1e-14)[0], dtype=np.float64)


def _polished(points: Array, circle: Array, free: int) -> Array:
    """Return the circle after a few plain Gauss–Newton steps: so near the answer the sum of squares no longer
    tells better from worse, but its gradient still does."""
    import numpy as np

    for _ in range(3):
        residuals, rows = _residuals(points, circle, free)
        circle = circle.copy()
        circle[:free] += np.linalg.lstsq(rows, residuals, rcond=1e-12)[0]
    return circle


def _residuals(points: Array, circle: Array, free: int) -> tuple[Array, Array]:
    import numpy as np

    away = points - circle[:2]
    distances = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-300)
    rows = np.ones((len(points), free))
    rows[:, :2] = away / distances[:, None]
    return distances - circle[2], rows


def _cofactors(directions: Array, given_radius: bool) -> Covariance:
    """Return (JᵀJ)⁻¹; infinite where the points determine nothing."""
    import numpy as np

    rows = directions if given_radius else np.column_stack([directions, np.ones(len(directions))])
    whole = np.zeros((3, 3))
    count = rows.shape[1]
    try:
        whole[:count, :count] = np.linalg.inv(rows.T @ rows)
    except np.linalg.LinAlgError:
        whole[:count, :count] = math.inf
    (a, b, c), (d, e, f), (g, h, i) = whole.tolist()
    return (a, b, c), (d, e, f), (g, h, i)


def _weights(cofactors: Covariance, row: tuple[float, float, float]) -> tuple[float, float, float]:
    one, two, three = (math.fsum(a * b for a, b in zip(line, row, strict=True)) for line in cofactors)
    return one, two, three


def _arc(away: Array) -> float:
    """Return the angle in radians over which directions lie: a full turn less the widest gap between them."""
    import numpy as np

    angles = np.sort(np.arctan2(away[:, 1], away[:, 0]))
    gaps = np.diff(np.append(angles, angles[0] + 2.0 * math.pi))
    return float(2.0 * math.pi - gaps.max())
