"""Student's t, F, Grubbs' test and the constants of ranges, against tables and a general-purpose library."""

import pytest
import scipy.special
import scipy.stats

from gingerly.statistics import grubbs_test, pooled
from gingerly.statistics.outlier import grubbs_critical
from gingerly.statistics.ranges import range_constants, single_range_constant
from gingerly.statistics.tails import f_tail, incomplete_beta, student_quantile, student_tail
from support.reference import read_rows

T_TABLE = read_rows("student_t.csv")
RANGES = read_rows("spc_constants.csv")

MASSES = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
"""Example of NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1 (from memory)."""


@pytest.mark.parametrize("row", T_TABLE, ids=lambda row: row["dof"])
def test_t_is_as_tabulated(row):
    """Values from the incomplete beta function; as JCGM 100:2008, table G.2, where that has them."""
    for column, value in row.items():
        if column != "dof":
            found = student_quantile(float(column[1:]), float(row["dof"]))
            assert found == pytest.approx(float(value), abs=0.51e-4)


@pytest.mark.parametrize("dof", [1.0, 1.5, 2.0, 7.25, 16.75, 100.0, 499.0, 501.0, 1e4, 1e6])
@pytest.mark.parametrize("p", [0.5, 0.6827, 0.95, 0.99, 0.9999])
def test_t_of_any_degrees_of_freedom_is_as_scipy_has_it(dof, p):
    assert student_quantile(p, dof) == pytest.approx(scipy.stats.t.isf((1.0 - p) / 2.0, dof), rel=2e-9)


@pytest.mark.parametrize(("a", "b", "x"), [(0.5, 0.5, 0.3), (9.0, 0.5, 0.99), (30.0, 9.0, 0.8), (1.0, 1.0, 0.25)])
def test_the_incomplete_beta_function_is_as_scipy_has_it(a, b, x):
    assert incomplete_beta(a, b, x) == pytest.approx(scipy.special.betainc(a, b, x), rel=1e-12)


@pytest.mark.parametrize(("f", "over", "under"), [(1.18, 4, 20), (0.434, 18, 60), (21.0, 8, 180), (0.0, 2, 3)])
def test_the_tail_of_f_is_as_scipy_has_it(f, over, under):
    assert f_tail(f, over, under) == pytest.approx(scipy.stats.f.sf(f, over, under), rel=1e-11)


def test_the_tail_of_t_far_out_keeps_its_digits():
    assert student_tail(50.0, 18) == pytest.approx(2.0 * scipy.stats.t.sf(50.0, 18), rel=1e-10)


@pytest.mark.parametrize("row", RANGES, ids=lambda row: row["n"])
def test_the_constants_of_ranges_are_as_tabulated(row):
    """d₂, d₃ (L. H. C. Tippett 1925) to the six digits printed; d₂* as in the average-range method."""
    d2, d3 = range_constants(int(row["n"]))
    assert d2 == pytest.approx(float(row["d2"]), abs=1.1e-6)
    assert d3 == pytest.approx(float(row["d3"]), abs=1.1e-6)
    assert single_range_constant(int(row["n"])) == pytest.approx(float(row["d2star_g1"]), abs=1.1e-5)


def test_grubbs_statistic_and_critical_value_are_as_in_the_handbook():
    """G = 2.4687, and 2.032 is critical on one side at 5 % (e-Handbook 1.3.5.17.1, from memory)."""
    found = grubbs_test(MASSES)
    assert (found.index, found.is_outlier) == (7, True)
    assert found.statistic == pytest.approx(2.4687, abs=1e-4)
    assert grubbs_critical(8, sides=1) == pytest.approx(2.032, abs=5e-4)


@pytest.mark.parametrize(("count", "two_sided"), [(5, 1.715), (10, 2.290)])
def test_grubbs_critical_values_are_as_in_the_usual_table(count, two_sided):
    """Two-sided, 5 %: as printed in ISO 5725-2, table of Grubbs' test (from memory)."""
    assert grubbs_critical(count) == pytest.approx(two_sided, abs=6e-4)


def test_the_pooled_deviation_is_that_of_the_analysis_of_variance():
    """A residual standard deviation of scipy's one-way model is the same pooled estimate."""
    samples = [[0.1, 0.4, 0.2], [5.0, 5.3], [9.1, 9.0, 9.4, 9.2]]
    variance = sum(scipy.stats.tvar(sample) * (len(sample) - 1) for sample in samples) / 6
    found = pooled(samples)
    assert found.dof == 6
    assert found.standard_deviation == pytest.approx(variance**0.5, rel=1e-12)
