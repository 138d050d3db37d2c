"""Examples H.1, H.2 and H.3 of JCGM 100:2008 (the GUM), with published and unrounded results.

The published figures are rounded on the way: 93 nm is the rounded 32 nm times 2.92, unrounded it is 92.48 nm.
Published figures and clause numbers are from memory, and agree with figures worked out anew by another program.
"""

import math

import pytest

from gingerly.fits import fit_powers
from gingerly.uncertainty import (
    Arcsine,
    Budget,
    Flat,
    Normal,
    Source,
    coverage_factor,
    effective_dof,
    joint_means,
    propagated,
    sensitivities,
    simulated,
)
from support.reference import read_json

H1, H2, H3 = (read_json(f"gum_h{number}.json") for number in (1, 2, 3))


def end_gauge(values):
    """Return l = l_s + d − l_s·(δα·θ + α_s·δθ) in nm."""
    standard, difference, d_alpha, theta, alpha, d_theta = values
    return (standard + difference - standard * (d_alpha * theta + alpha * d_theta),)


@pytest.fixture(scope="module")
def end_gauge_budget():
    inputs = H1["inputs"]
    mean_theta, cycle = inputs["theta_mean"], inputs["theta_cyclic"]
    values = (inputs["l_s"]["value"], 215.0, 0.0, mean_theta["value"], inputs["alpha_s"]["value"], 0.0)
    steps = (25.0, 9.7, 5.8e-7, 0.41, 1.2e-6, 0.029)
    c = dict(
        zip(
            ("l_s", "d", "d_alpha", "theta", "alpha_s", "d_theta"),
            sensitivities(end_gauge, values, steps)[0],
            strict=True,
        )
    )
    normal = [
        Source(name=name, shape=Normal(inputs[name]["u"]), sensitivity=c[which], dof=inputs[name]["dof"])
        for name, which in (("l_s", "l_s"), ("d_repeat", "d"), ("d_random", "d"), ("d_systematic", "d"))
    ]
    flat = [
        Source(
            name=name,
            shape=Flat(inputs[name]["half_width"]),
            sensitivity=c[name],
            dof=inputs[name].get("dof", math.inf),
        )
        for name in ("alpha_s", "d_alpha", "d_theta")
    ]
    theta = [
        Source(name="theta", shape=Normal(mean_theta["u"]), sensitivity=c["theta"]),
        Source(name="theta cycle", shape=Arcsine(cycle["amplitude"]), sensitivity=c["theta"]),
    ]
    return Budget((*normal, *flat, *theta))


def test_h1_the_contributions_are_the_published_ones(end_gauge_budget):
    found = {source.name: source.contribution for source in end_gauge_budget.sources}
    assert found["d_alpha"] == pytest.approx(H1["unrounded"]["contrib_d_alpha"], rel=1e-7)
    assert found["d_theta"] == pytest.approx(H1["unrounded"]["contrib_d_theta"], rel=1e-7)
    assert (found["alpha_s"], found["theta"]) == pytest.approx((0.0, 0.0), abs=1e-6)
    comparison = [(found[name], H1["inputs"][name]["dof"]) for name in ("d_repeat", "d_random", "d_systematic")]
    assert math.hypot(*(u for u, _ in comparison)) == pytest.approx(H1["unrounded"]["u_d"], rel=1e-8)
    assert effective_dof(comparison) == pytest.approx(H1["unrounded"]["dof_d"], rel=1e-8)


def test_h1_32_nm_with_16_degrees_of_freedom_and_93_nm_at_99_percent(end_gauge_budget):
    stated, published, more = end_gauge_budget.stated(0.99), H1["published"], H1["unrounded"]
    assert round(stated.u) == published["uc"]
    assert stated.u == pytest.approx(more["uc"], rel=1e-8)
    assert stated.dof == pytest.approx(more["dof_eff"], rel=1e-7)
    assert math.floor(stated.dof) == published["dof_used"]
    assert stated.k == pytest.approx(more["k99_at_16"], abs=1e-8)
    assert stated.expanded == pytest.approx(more["U99_at_16"], abs=1e-5)
    assert round(stated.u) * round(stated.k, 2) == pytest.approx(published["U99"], abs=0.5)


def test_h1_without_cutting_the_degrees_of_freedom_k_is_2_9035():
    assert coverage_factor(0.99, 16.751855738, truncate=False) == pytest.approx(2.9035, abs=6e-5)


def test_h1_the_second_order_terms_appear_in_the_simulated_model():
    """Published: 34 nm with the terms of second order; exact for a product, so random trials show 33.81 nm."""
    inputs = H1["inputs"]
    shapes = (
        Normal(25.0, inputs["l_s"]["value"]),
        Normal(H1["unrounded"]["u_d"], 215.0),
        Flat(inputs["d_alpha"]["half_width"]),
        Normal(H1["unrounded"]["u_theta"], -0.1),
        Flat(inputs["alpha_s"]["half_width"], inputs["alpha_s"]["value"]),
        Flat(inputs["d_theta"]["half_width"]),
    )
    found = simulated(lambda *values: end_gauge(values)[0], shapes, trials=400_000, seed=3)
    # Three standard deviations of a standard deviation from 400,000 trials: 3/√(2·400,000) = 0.34 %.
    assert found.u == pytest.approx(H1["unrounded"]["uc_second_order"], rel=3.4e-3)


def electrical(values):
    voltage, current, phase = values
    z = voltage / current
    return z * math.cos(phase), z * math.sin(phase), z


@pytest.fixture(scope="module")
def resistance():
    means, covariance = joint_means([H2["V"], H2["I"], H2["phi"]])
    steps = [math.sqrt(covariance[i][i]) for i in range(3)]
    outputs = propagated(sensitivities(electrical, means, steps), covariance)
    return means, covariance, electrical(means), outputs


def correlation(matrix, i, j):
    return matrix[i][j] / math.sqrt(matrix[i][i] * matrix[j][j])


def test_h2_readings_taken_together_are_correlated(resistance):
    means, covariance, _, _ = resistance
    assert means == pytest.approx([H2["published"][name][0] for name in ("V", "I", "phi")], rel=3e-6)
    found = [math.sqrt(covariance[i][i]) for i in range(3)]
    assert found == pytest.approx([H2["unrounded"][name] for name in ("u_V", "u_I", "u_phi")], rel=1e-8)
    pairs = {"r_VI": (0, 1), "r_Vphi": (0, 2), "r_Iphi": (1, 2)}
    for name, (i, j) in pairs.items():
        assert correlation(covariance, i, j) == pytest.approx(H2["unrounded"][name], abs=1e-9)


def test_h2_resistance_reactance_and_impedance_have_the_published_uncertainty(resistance):
    """Unrounded values of linear propagation; differences of ± u leave 10⁻⁶ of curvature."""
    _, _, values, covariance = resistance
    for index, name in enumerate(("R", "X", "Z")):
        assert values[index] == pytest.approx(H2["unrounded"][name][0], abs=1e-7)
        assert math.sqrt(covariance[index][index]) == pytest.approx(H2["unrounded"][name][1], rel=1e-6)
        assert values[index] == pytest.approx(H2["published"][name][0], abs=1e-3)
    for name, (i, j) in {"r_RX": (0, 1), "r_RZ": (0, 2), "r_XZ": (1, 2)}.items():
        assert correlation(covariance, i, j) == pytest.approx(H2["unrounded"][name], abs=1e-6)
        assert correlation(covariance, i, j) == pytest.approx(H2["published"][name], abs=6e-4)


def test_h3_the_thermometers_line_has_the_published_coefficients():
    fit, published = fit_powers([t - H3["t0"] for t in H3["t"]], H3["b"]), H3["published"]
    (y1, y2), (u1, u2), covariance = fit.coefficients, fit.uncertainties(), fit.covariance()
    assert (y1, u1) == pytest.approx((published["y1"], published["u_y1"]), abs=6e-5)
    assert (y2, u2) == pytest.approx((published["y2"], published["u_y2"]), abs=6e-6)
    assert correlation(covariance, 0, 1) == pytest.approx(H3["unrounded"]["r"], abs=1e-9)
    assert fit.scatter == pytest.approx(H3["unrounded"]["s"], abs=1e-12)
    assert fit.dof == published["dof"]


def test_h3_the_correction_at_30_degrees_has_the_published_uncertainty():
    fit = fit_powers([t - H3["t0"] for t in H3["t"]], H3["b"])
    assert fit.value(10.0) == pytest.approx(H3["unrounded"]["b30"], abs=1e-12)
    assert fit.u_value(10.0) == pytest.approx(H3["unrounded"]["u_b30"], abs=1e-12)
