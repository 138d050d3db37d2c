"""Fits of lines, planes and circles against published and constructed sets and general-purpose libraries."""

import math

import numpy as np
import pytest
import scipy.optimize

from gingerly.fits import UnusableGeometry, fit_circle, fit_line, fit_plane
from support.reference import read_json, read_rows

GGS = read_json("circle_ggs1994.json")
EXACT = read_json("geometry_exact.json")["sets"]
ROUND = read_json("roundness_reference.json")
ARCS = read_rows("circle_arc_uncertainty.csv")
LOBES = read_rows("lobing_bias.csv")


def squares(fit):
    return math.fsum(value * value for value in fit.residuals)


def on_circle(angles, radius=20.0, centre=(3.0, -4.0)):
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]


def spread_over(count, arc):
    """Return angles over an arc in degrees, ends included; all round without the repeated end."""
    steps = count if arc == 360 else count - 1
    return [math.radians(arc) * (index / steps) for index in range(count)]


def test_the_circle_is_the_geometric_fit_of_the_published_points():
    """W. Gander, G. H. Golub, R. Strebel, BIT 34 (1994): 4.7398, 2.9835, 4.7142; more digits from scipy."""
    fit, more = fit_circle(GGS["points"]), GGS["computed"]["geometric"]
    published = GGS["published"]["geometric"]
    assert (*fit.centre, fit.radius) == pytest.approx([published[k] for k in ("cx", "cy", "r")], abs=6e-5)
    assert (*fit.centre, fit.radius) == pytest.approx([more[k] for k in ("cx", "cy", "r")], abs=1e-7)
    assert squares(fit) == pytest.approx(more["sum_sq"], abs=1e-10)
    assert fit.scatter == pytest.approx(0.6397, abs=6e-5)


@pytest.mark.parametrize("name", ["circle_full", "circle_arc60"])
def test_the_circle_is_exact_where_the_answer_is_known(name):
    """Constructed: the residuals are orthogonal to the fit's Jacobian."""
    wanted = EXACT[name]
    fit = fit_circle(wanted["points"])
    assert fit.centre == pytest.approx(wanted["center"], abs=1e-9)
    assert fit.radius == pytest.approx(wanted["radius"], abs=1e-9)
    assert squares(fit) == pytest.approx(wanted["sum_sq"], abs=1e-13)
    assert fit.form == pytest.approx(wanted["roundness_LSC"], abs=1e-12)


def test_the_least_squares_circle_of_the_roundness_set_is_the_reference():
    fit, wanted = fit_circle(ROUND["points"]), ROUND["LSC"]
    assert (*fit.centre, fit.radius) == pytest.approx([wanted["cx"], wanted["cy"], wanted["r"]], abs=2e-9)
    assert fit.form == pytest.approx(wanted["roundness"], abs=2e-9)


def test_the_line_is_exact_where_the_answer_is_known():
    wanted = EXACT["line2d"]
    fit = fit_line(wanted["points"])
    assert fit.direction == pytest.approx(wanted["direction"], abs=1e-12)
    assert math.degrees(fit.angle) == pytest.approx(wanted["angle_deg"], abs=1e-10)
    assert fit.distance(wanted["point"]) == pytest.approx(0.0, abs=1e-12)
    assert squares(fit) == pytest.approx(wanted["sum_sq"], abs=1e-14)
    assert fit.form == pytest.approx(wanted["peak_to_valley"], abs=1e-12)


def test_the_plane_is_exact_where_the_answer_is_known():
    wanted = EXACT["plane"]
    fit = fit_plane(wanted["points"])
    assert fit.normal == pytest.approx(wanted["normal"], abs=1e-12)
    assert math.degrees(fit.tilt) == pytest.approx(wanted["tilt_from_z_deg"], abs=1e-10)
    assert fit.height(*wanted["point"][:2]) == pytest.approx(wanted["point"][2], abs=1e-11)
    assert squares(fit) == pytest.approx(wanted["sum_sq"], abs=1e-13)
    assert fit.form == pytest.approx(wanted["peak_to_valley"], abs=1e-12)


@pytest.mark.parametrize("row", ARCS, ids=lambda row: "{n_points}-over-{arc_deg}".format(**row))
def test_an_arc_makes_the_centre_as_unsure_as_the_table_says(row):
    """u²·(JᵀJ)⁻¹ in units of one touch; four rows of the table were found by random trials as well."""
    count, arc = int(row["n_points"]), float(row["arc_deg"])
    fit = fit_circle(on_circle(spread_over(count, arc)), most_amplified=100.0)
    half = math.radians(arc) / 2.0 if arc < 360 else 0.0
    along, across = (math.cos(half), math.sin(half)), (-math.sin(half), math.cos(half))
    assert fit.u_along(along, 1.0) == pytest.approx(float(row["u_radial_dir"]), abs=1e-4, rel=1e-6)
    assert fit.u_along(across, 1.0) == pytest.approx(float(row["u_tangent_dir"]), abs=1e-4, rel=1e-6)
    assert fit.u_radius(1.0) == pytest.approx(float(row["u_radius"]), abs=1e-4, rel=1e-6)


@pytest.mark.parametrize(("count", "arc", "refused"), [(4, 60, False), (4, 30, True), (8, 30, True)])
def test_an_arc_too_short_is_refused(count, arc, refused):
    points = on_circle(spread_over(count, arc))
    if not refused:
        assert fit_circle(points).amplified == pytest.approx(8.4188, abs=1e-3)
        return
    with pytest.raises(UnusableGeometry, match="touch further round") as caught:
        fit_circle(points)
    assert caught.value.found > caught.value.limit == 10.0


@pytest.mark.parametrize("row", LOBES, ids=lambda row: "{n_points}-touches-{lobes}-lobes".format(**row))
def test_few_touches_of_a_lobed_hole_are_off_as_the_table_says(row):
    """Profile R + a·cos(kθ + phase): centre off by a if k ≡ ±1 (mod N), radius if k ≡ 0, to first order."""
    count, lobes, a = int(row["n_points"]), int(row["lobes"]), 1e-4
    shift = bias = 0.0
    for phase in np.linspace(0.0, 2.0 * math.pi, 25):
        angles = spread_over(count, 360)
        radii = [20.0 + a * math.cos(lobes * angle + phase) for angle in angles]
        fit = fit_circle([(r * math.cos(t), r * math.sin(t)) for r, t in zip(radii, angles, strict=True)])
        shift, bias = max(shift, math.hypot(*fit.centre)), max(bias, abs(fit.radius - 20.0))
    assert shift / a == pytest.approx(float(row["max_centre_shift_over_a"]), abs=2e-3)
    assert bias / a == pytest.approx(float(row["max_radius_bias_over_a"]), abs=2e-3)


@pytest.mark.parametrize("seed", range(5))
def test_the_circle_is_the_one_scipy_finds(seed):
    rng = np.random.default_rng(seed)
    angles = rng.uniform(0.0, 4.0, 9)
    points = np.array(on_circle(angles, radius=8.0)) + rng.normal(0.0, 0.02, (9, 2))
    found = scipy.optimize.least_squares(
        lambda c: np.hypot(points[:, 0] - c[0], points[:, 1] - c[1]) - c[2], [3.0, -4.0, 8.0], xtol=1e-15
    )
    fit = fit_circle(points)
    assert (*fit.centre, fit.radius) == pytest.approx(found.x, abs=1e-7)
    covariance = np.linalg.inv(found.jac.T @ found.jac) * 2.0 * found.cost / 6
    assert np.array(fit.covariance()) == pytest.approx(covariance, rel=1e-3)


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_the_one_scipy_finds(seed):
    """Angle, distance from the origin and the angle's standard uncertainty, by a general optimiser."""
    rng = np.random.default_rng(seed)
    x = np.linspace(-40.0, 40.0, 12)
    points = np.column_stack([x, 0.3 * x + 1.0]) + rng.normal(0.0, 0.01, (12, 2))
    found = scipy.optimize.least_squares(
        lambda c: points @ [-math.sin(c[0]), math.cos(c[0])] - c[1], [0.29, 0.9], xtol=1e-15
    )
    covariance = np.linalg.inv(found.jac.T @ found.jac) * 2.0 * found.cost / 10
    fit = fit_line(points)
    assert (fit.angle, -fit.distance((0.0, 0.0))) == pytest.approx(found.x, abs=1e-8)
    assert fit.u_angle() == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-4)


def test_the_planes_uncertainty_of_height_is_that_of_many_random_trials():
    """Cross-check of the covariance: 4000 seeded trials agree within their own scatter, 1/√8000, three times."""
    rng = np.random.default_rng(7)
    grid = np.array([(x, y, 0.02 * x - 0.01 * y) for x in (0.0, 30.0, 60.0) for y in (0.0, 40.0)])
    heights = [fit_plane(grid + [0, 0, 1] * rng.normal(0.0, 0.005, (6, 1))).height(80.0, 50.0) for _ in range(4000)]
    exact = fit_plane(grid)
    assert np.std(heights) == pytest.approx(exact.u_height(80.0, 50.0, 0.005), rel=3.0 / math.sqrt(8000.0))
