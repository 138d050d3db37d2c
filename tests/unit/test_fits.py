"""Fits: what they refuse, and what they say about how sure they are."""

import math
import random
import subprocess
import sys

import pytest
from scipy import optimize

from gingerly.fits import UnusableGeometry, fit_circle, fit_line, fit_plane, fit_powers

ARC = [(10.0 * math.cos(a), 10.0 * math.sin(a)) for a in (0.0, 0.1, 0.25, 0.4)]
SQUARE = [(0.0, 0.0, 0.0), (40.0, 0.0, 0.4), (40.0, 30.0, 0.4), (0.0, 30.0, 0.0)]

REFUSED = [
    (fit_circle, [(0.0, 0.0), (1.0, 0.0)], "at least 3 are needed"),
    (fit_circle, [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)], "straight line"),
    (fit_circle, [(1.0, 1.0)] * 3, "coincide"),
    (fit_circle, [(0.0, 0.0), (0.0, 0.0), (1.0, 1.0)], "straight line"),
    (fit_circle, [(0.0, 0.0), (1.0, 0.01), (2.0, -0.01), (3.0, 0.005)], "touch further round"),
    (fit_circle, ARC, "touch further round"),
    (fit_circle, [(0.0, 0.0), (1.0, math.nan), (2.0, 2.0)], "not finite"),
    (fit_line, [(0.0, 0.0)], "at least 2 are needed"),
    (fit_line, [(1.0, 2.0)] * 3, "within"),
    (fit_line, [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)], "no line"),
    (fit_plane, SQUARE[:2], "at least 3 are needed"),
    (fit_plane, [(0.0, 0.0, 0.0), (1.0, 1.0, 1.0), (2.0, 2.0, 2.0)], "on a line"),
    (fit_plane, [(1.0, 1.0, 1.0)] * 4, "on a line"),
    (fit_plane, [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 1.0, 1.0)], "no plane"),
]


@pytest.mark.parametrize(("fit", "points", "why"), REFUSED)
def test_geometry_that_determines_nothing_is_refused_with_its_number(fit, points, why):
    with pytest.raises(UnusableGeometry, match=why) as caught:
        fit(points)
    assert isinstance(caught.value, ValueError)
    assert caught.value.feature in str(caught.value)
    assert isinstance(caught.value.found, int | float)
    assert isinstance(caught.value.limit, int | float)


def test_points_of_the_wrong_dimension_are_a_slip_not_bad_geometry():
    with pytest.raises(ValueError, match="3 coordinates each") as caught:
        fit_plane([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
    assert not isinstance(caught.value, UnusableGeometry)


def test_a_known_radius_restores_the_centre_on_a_short_arc():
    fit = fit_circle(ARC, radius=10.0)
    assert fit.centre == pytest.approx((0.0, 0.0), abs=1e-9)
    assert (fit.radius, fit.given_radius, fit.dof) == (10.0, True, 2)
    assert fit.amplified < 10.0
    assert fit.arc == pytest.approx(0.4)
    assert fit.u_radius(0.01) == 0.0


def test_a_known_radius_that_fits_on_either_side_is_refused():
    wavy = [(0.0, 0.0), (1.0, 0.05), (2.0, 0.0), (3.0, 0.05)]
    with pytest.raises(UnusableGeometry, match="either side"):
        fit_circle(wavy, radius=10.0)


def test_a_known_radius_must_be_a_length():
    with pytest.raises(ValueError, match="above 0 mm"):
        fit_circle(ARC, radius=-1.0)


def test_three_touches_leave_no_residuals_so_that_their_scatter_must_be_given():
    fit = fit_circle([(10.0, 0.0), (-5.0, 8.66), (-5.0, -8.66)])
    assert (fit.dof, fit.scatter) == (0, None)
    with pytest.raises(ValueError, match="give the uncertainty of one touch"):
        fit.covariance()
    assert fit.u_along((1.0, 0.0), 0.003) == pytest.approx(0.003 * math.sqrt(2.0 / 3.0), rel=1e-3)


def test_the_uncertainty_of_one_touch_cannot_be_negative():
    with pytest.raises(ValueError, match="not below 0"):
        fit_line([(0.0, 0.0), (100.0, 0.0)]).u_angle(-0.01)


def test_skew_from_two_touches_is_root_two_u_over_the_length():
    """u 0.01 mm over 100 mm: 0.000141 rad (closed form, error propagation)."""
    fit = fit_line([(0.0, 0.0), (100.0, 0.0)])
    assert fit.u_angle(0.01) == pytest.approx(math.sqrt(2.0) * 0.01 / 100.0, rel=1e-12)
    assert fit.u_offset(50.0, 0.01) == pytest.approx(0.01, rel=1e-12)
    assert fit.u_offset(0.0, 0.01) == pytest.approx(0.01 / math.sqrt(2.0), rel=1e-12)


def test_a_line_leads_from_the_first_point_to_the_last():
    there, back = [(0.0, 0.0), (5.0, 0.01), (10.0, 0.0)], [(10.0, 0.0), (5.0, 0.01), (0.0, 0.0)]
    assert fit_line(there).direction == pytest.approx((1.0, 0.0), abs=1e-9)
    assert fit_line(back).direction == pytest.approx((-1.0, 0.0), abs=1e-9)
    assert fit_line(there).residuals[1] > 0.0 > fit_line(back).residuals[1]


def test_two_edges_meet_in_their_corner():
    along_x = fit_line([(10.0, 5.1), (40.0, 5.4)])
    along_y = fit_line([(2.9, 10.0), (2.6, 40.0)])
    assert along_x.meets(along_y) == pytest.approx(along_y.meets(along_x), abs=1e-12)
    corner = along_x.meets(along_y)
    assert along_x.distance(corner) == pytest.approx(0.0, abs=1e-12)
    assert along_y.distance(corner) == pytest.approx(0.0, abs=1e-12)


def test_nearly_parallel_edges_have_no_corner():
    with pytest.raises(UnusableGeometry, match=r"meet at 5\.71°"):
        fit_line([(0.0, 0.0), (10.0, 0.0)]).meets(fit_line([(0.0, 1.0), (10.0, 2.0)]))


def test_a_plane_through_four_corners_has_slopes_tilt_and_heights():
    fit = fit_plane(SQUARE)
    assert fit.slopes == pytest.approx((0.01, 0.0), abs=1e-12)
    assert fit.tilt == pytest.approx(math.atan(0.01), abs=1e-12)
    assert fit.height(100.0, 7.0) == pytest.approx(1.0, abs=1e-12)
    assert fit.form == pytest.approx(0.0, abs=1e-12)
    assert fit.u_height(20.0, 15.0, 0.01) == pytest.approx(0.005, rel=1e-3)


def test_an_upright_plane_has_no_height():
    with pytest.raises(UnusableGeometry, match="upright"):
        _ = fit_plane([(0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)]).slopes


def test_reaction_time_is_the_slope_of_contacts_over_feed():
    """Contacts 5 ms late at 1, 2, 5 mm/s and a face at 12.3 mm."""
    fit = fit_powers([1.0, 2.0, 5.0], [12.305, 12.310, 12.325])
    assert fit.coefficients == pytest.approx((12.3, 0.005), abs=1e-12)
    assert fit.value(0.0) == pytest.approx(12.3, abs=1e-12)


@pytest.mark.parametrize(
    ("x", "y", "powers", "why"),
    [
        ([1.0, 1.0], [2.0, 3.0], (0, 1), "too few"),
        ([1.0], [2.0], (0, 1), "too few"),
        ([1.0, math.inf], [2.0, 3.0], (0, 1), "not finite"),
        ([0.0], [2.0], (1,), "every place is 0"),
        ([1.0, 2.0], [2.0], (0, 1), "do not pair"),
    ],
)
def test_a_regression_that_determines_nothing_is_refused(x, y, powers, why):
    with pytest.raises(ValueError, match=why):
        fit_powers(x, y, powers)


def test_importing_the_fits_does_not_load_numpy():
    modules = "gingerly.fits, gingerly.uncertainty, gingerly.statistics, gingerly.budgets"
    program = f"import sys, {modules}; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_readings_of_unequal_uncertainty_count_as_a_general_library_weighs_them():
    """Coefficients and covariance as scipy's weighted fit has them, the uncertainties taken as stated."""
    dice = random.Random(5)
    x = [dice.uniform(0.0, 12.0) for _ in range(9)]
    u = [0.001 + 0.0004 * value for value in x]
    y = [0.3 - 0.002 * value + dice.gauss(0.0, sure) for value, sure in zip(x, u, strict=True)]
    found = fit_powers(x, y, u=u)
    best, matrix = optimize.curve_fit(lambda t, a, b: a + b * t, x, y, sigma=u, absolute_sigma=True)
    assert found.coefficients == pytest.approx(tuple(best), rel=1e-6)
    assert found.uncertainties(1.0) == pytest.approx(tuple(matrix.diagonal() ** 0.5), rel=1e-6)


@pytest.mark.parametrize("u", [[1.0, 0.0], [1.0, math.nan], [1.0]])
def test_uncertainties_that_cannot_be_are_refused(u):
    with pytest.raises(ValueError, match=r"do not pair|above 0"):
        fit_powers([1.0, 2.0], [1.0, 3.0], u=u)
