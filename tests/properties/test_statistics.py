"""Statistics of any readings, against exact rational arithmetic."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gingerly.statistics import grubbs_test, mean, one_way, standard_deviation
from gingerly.statistics.tails import student_quantile, student_tail

READINGS = st.lists(st.floats(-1e4, 1e4), min_size=2, max_size=30)


@given(READINGS)
def test_the_mean_is_the_exact_one_rounded(readings):
    exact = sum(Fraction(value) for value in readings) / len(readings)
    assert mean(readings) == pytest.approx(float(exact), rel=1e-15, abs=1e-12)


@given(READINGS, st.sampled_from([0.0, 1e6, 1e12]))
def test_the_standard_deviation_is_the_exact_one_rounded(readings, shift):
    readings = [value + shift for value in readings]
    exact = [Fraction(value) for value in readings]
    middle = sum(exact) / len(exact)
    variance = sum((value - middle) ** 2 for value in exact) / (len(exact) - 1)
    assert standard_deviation(readings) ** 2 == pytest.approx(float(variance), rel=1e-12, abs=1e-20)


@given(st.lists(READINGS, min_size=2, max_size=5))
def test_all_squares_are_split_between_and_within_the_groups(groups):
    table = one_way(groups)
    everything = [value for group in groups for value in group]
    whole = standard_deviation(everything) ** 2 * (len(everything) - 1)
    assert table.squares_between + table.squares_within == pytest.approx(whole, rel=1e-9, abs=1e-9)
    assert 0.0 <= table.p <= 1.0


@given(st.lists(st.floats(-1e4, 1e4), min_size=3, max_size=30))
def test_grubbs_statistic_never_exceeds_what_its_formula_can_reach(readings):
    """At most (n − 1)/√n, for one reading apart from all others that coincide."""
    found = grubbs_test(readings)
    assert 0.0 <= found.statistic <= (len(readings) - 1) / len(readings) ** 0.5 * (1.0 + 1e-9)


@given(st.floats(0.01, 0.9999), st.floats(1.0, 400.0))
def test_quantile_and_tail_undo_each_other(p, dof):
    assert 1.0 - student_tail(student_quantile(p, dof), dof) == pytest.approx(p, abs=1e-11)
