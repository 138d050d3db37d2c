"""Statistics of readings: what is refused, and the edges of the formulas."""

import math

import pytest

from gingerly.statistics import (
    gauge_study_by_anova,
    gauge_study_by_range,
    grubbs_test,
    mean,
    one_way,
    pooled,
    positioning_test,
    standard_deviation,
    summary,
)
from gingerly.statistics.outlier import grubbs_critical
from gingerly.statistics.ranges import range_constants
from gingerly.statistics.tails import f_tail, incomplete_beta, student_quantile, student_tail


def test_a_summary_says_how_sure_the_mean_is():
    found = summary([1.0, 2.0, 3.0, 4.0])
    assert (found.count, found.mean, found.range, found.dof) == (4, 2.5, 3.0, 3)
    assert found.standard_deviation == pytest.approx(math.sqrt(5.0 / 3.0), rel=1e-15)
    assert found.uncertainty_of_mean == pytest.approx(math.sqrt(5.0 / 12.0), rel=1e-15)


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (lambda: mean([]), "at least 1 readings"),
        (lambda: standard_deviation([1.0]), "at least 2 readings"),
        (lambda: mean([1.0, math.nan]), "reading 2 is nan"),
        (lambda: standard_deviation([math.inf, 1.0]), "reading 1 is inf"),
        (lambda: pooled([[1.0], [2.0]]), "at least two readings"),
        (lambda: grubbs_test([1.0, 2.0]), "at least 3 readings"),
        (lambda: grubbs_critical(5, significance=0.0), "significance"),
        (lambda: one_way([[1.0, 2.0]]), "two groups"),
        (lambda: one_way([[1.0, 2.0], []]), "none of them empty"),
        (lambda: one_way([[1.0], [2.0]]), "more readings than groups"),
        (lambda: range_constants(1), "2 to 50"),
        (lambda: positioning_test([[1.0, 2.0]], []), "as many positions"),
        (lambda: gauge_study_by_range([[[1.0, 2.0]], [[1.0, 2.0]]]), "at least 2 people"),
        (lambda: gauge_study_by_anova([[[1.0, 2.0], [1.0]]] * 2), "read as often"),
        (lambda: student_quantile(1.0, 5), "between 0 and 1"),
        (lambda: student_quantile(0.95, 0.0), "above 0"),
        (lambda: student_tail(1.0, -1.0), "above 0"),
        (lambda: f_tail(-1.0, 1, 1), "F cannot be"),
        (lambda: incomplete_beta(1.0, 1.0, 2.0), "0 ≤ x ≤ 1"),
    ],
)
def test_what_cannot_be_reckoned_is_refused_in_words(act, why):
    with pytest.raises(ValueError, match=why):
        act()


def test_pooling_leaves_the_means_apart():
    found = pooled([[0.0, 2.0], [100.0, 102.0], [5.0]])
    assert (found.standard_deviation, found.dof) == (pytest.approx(math.sqrt(2.0), rel=1e-15), 2)


def test_a_small_scatter_on_a_large_coordinate_keeps_its_digits():
    readings = [1e6 + value / 1024.0 for value in (1.0, 2.0, 3.0)]
    assert standard_deviation(readings) == 1.0 / 1024.0


def test_readings_without_scatter_have_no_outlier():
    found = grubbs_test([2.0, 2.0, 2.0, 2.0])
    assert (found.statistic, found.is_outlier) == (0.0, False)


def test_an_outlier_test_states_what_it_assumes():
    found = grubbs_test([0.0, 0.1, -0.1, 0.05, 3.0])
    assert (found.index, found.is_outlier) == (4, True)
    assert any("normal" in line for line in found.assumptions)
    assert any("independent" in line for line in found.assumptions)


def test_groups_without_scatter_within_differ_for_certain_or_not_at_all():
    assert (one_way([[1.0, 1.0], [2.0, 2.0]]).f, one_way([[1.0, 1.0], [2.0, 2.0]]).p) == (math.inf, 0.0)
    assert (one_way([[1.0, 1.0], [1.0, 1.0]]).f, one_way([[1.0, 1.0], [1.0, 1.0]]).explained) == (0.0, 0.0)


def test_a_strong_interaction_is_kept_and_counts_with_the_people():
    """One person reads the even parts high, the other the odd ones."""
    readings = [
        [[part + (0.5 if (part + who) % 2 else 0.0) + noise for noise in (0.0, 0.01)] for who in (0, 1)]
        for part in range(6)
    ]
    study = gauge_study_by_anova(readings)
    assert not study.interaction.pooled
    assert study.appraisers == pytest.approx(0.5 / math.sqrt(2.0), rel=0.2)
    assert study.equipment == pytest.approx(0.01 / math.sqrt(2.0), rel=1e-9)


def test_a_gauge_without_scatter_tells_any_number_of_parts_apart():
    readings = [[[float(part)] * 2 for _ in (0, 1)] for part in range(3)]
    study = gauge_study_by_range(readings)
    assert (study.gauge, study.categories) == (0.0, math.inf)
    assert study.share(study.parts) == 1.0


def test_where_one_direction_scatters_far_more_its_own_repeatability_rules():
    """Rᵢ = max(2s↑ + 2s↓ + |B|, 4s↑, 4s↓), as in ISO 230-2 (from memory)."""
    result = positioning_test([[-1.0, 0.0, 1.0]], [[0.0, 0.0, 0.0]])
    assert result.repeatability == pytest.approx(4.0)
    assert positioning_test([[0.0, 0.0, 0.0]], [[-1.0, 0.0, 1.0]]).repeatability == pytest.approx(4.0)


def test_a_mean_that_no_double_can_hold_does_not_spoil_the_deviation():
    """Next to 10¹² a double has steps of 1/8192; the mean of these two lies between two of them."""
    readings = [1e12, 1e12, 1e12 + 1.0 / 8192.0]
    assert standard_deviation(readings) == pytest.approx(math.sqrt(1.0 / 3.0) / 8192.0, rel=1e-12)
