"""Gauge repeatability and reproducibility: ten parts, three appraisers, three trials.

Source: AIAG, Measurement Systems Analysis reference manual, variable gauge study example. The published figures
of the average-range method were worked by hand from rounded intermediates, so they agree to 5·10⁻⁴ only.
"""

import math

import pytest

from gingerly.statistics import gauge_study_by_anova, gauge_study_by_range
from gingerly.statistics.gauge import crossed
from support.reference import read_json, read_rows

RESULTS = read_json("grr_aiag.json")


def readings():
    block = [[[0.0] * 3 for _ in range(3)] for _ in range(10)]
    for row in read_rows("grr_aiag.csv"):
        block[int(row["part"]) - 1]["ABC".index(row["appraiser"])][int(row["trial"]) - 1] = float(row["value"])
    return block


def test_average_and_range_give_the_published_study():
    study, published = gauge_study_by_range(readings()), RESULTS["published_average_range"]
    found = {
        "EV": study.equipment,
        "AV": study.appraisers,
        "GRR": study.gauge,
        "PV": study.parts,
        "TV": study.total,
        "pct_EV": 100 * study.share(study.equipment),
        "pct_AV": 100 * study.share(study.appraisers),
        "pct_GRR": 100 * study.share(study.gauge),
        "pct_PV": 100 * study.share(study.parts),
    }
    assert found == pytest.approx({name: published[name] for name in found}, rel=5e-4)
    assert math.floor(study.categories) == published["ndc"]


def test_average_and_range_give_the_recomputed_study():
    """Recomputed without rounding, but with K₃ = 0.3146 of four digits: 0.00005/0.3146 = 1.6·10⁻⁴."""
    study, wanted = gauge_study_by_range(readings()), RESULTS["computed_average_range"]
    found = {
        "EV": study.equipment,
        "AV": study.appraisers,
        "GRR": study.gauge,
        "PV": study.parts,
        "TV": study.total,
    }
    assert found == pytest.approx({name: wanted[name] for name in found}, rel=1.6e-4)


def test_the_sums_of_squares_are_the_published_ones():
    table, published = crossed(readings()), RESULTS["published_anova"]
    assert table.squares_appraisers == pytest.approx(published["appraiser"]["ss"], abs=6e-5)
    assert table.squares_parts == pytest.approx(published["part"]["ss"], abs=6e-5)
    assert table.squares_interaction == pytest.approx(published["interaction"]["ss"], abs=6e-5)
    assert table.squares_equipment == pytest.approx(published["equipment"]["ss"], abs=6e-5)
    assert (table.dof_interaction, table.dof_equipment) == (18, 60)


def test_the_interaction_is_not_significant_and_is_pooled():
    interaction = gauge_study_by_anova(readings()).interaction
    assert interaction.f == pytest.approx(RESULTS["published_anova"]["interaction"]["F"], abs=6e-4)
    assert interaction.p == pytest.approx(RESULTS["computed_components_pooled"]["interaction_p"], abs=1e-8)
    assert interaction.pooled


def test_analysis_of_variance_gives_the_published_components():
    study, published = gauge_study_by_anova(readings()), RESULTS["published_components_pooled"]
    found = {"EV": study.equipment, "AV": study.appraisers, "GRR": study.gauge, "PV": study.parts}
    assert found == pytest.approx({name: published[name] for name in found}, abs=2e-6)
    assert study.total == pytest.approx(published["TV"], abs=5e-4)
    assert study.categories == pytest.approx(published["ndc_unrounded"], abs=6e-4)
    assert 100 * study.share(study.gauge) == pytest.approx(published["pct_total_GRR"], abs=0.05)


def test_without_pooling_a_negative_interaction_counts_as_nothing():
    study, wanted = gauge_study_by_anova(readings(), pool_above=1.0), RESULTS["computed_not_pooled"]
    assert study.equipment == pytest.approx(math.sqrt(wanted["var_EV"]), rel=1e-8)
    assert study.appraisers == pytest.approx(math.sqrt(wanted["var_AV"]), rel=1e-8)
    assert study.parts == pytest.approx(math.sqrt(wanted["var_PV"]), rel=1e-8)
