"""NIST Statistical Reference Datasets: univariate summaries, one-way analysis of variance, linear regression.

Data and certified values: NIST StRD, Statistical Engineering Division. Doubles cannot hold every data set: what
they hold is worked out in exact rational arithmetic, and the code must reproduce that to its last digits.
"""

import math
from fractions import Fraction

import pytest

from gingerly.fits import fit_powers
from gingerly.statistics import mean, one_way, standard_deviation
from support.reference import digits, read_json, read_rows

UNIVARIATE = read_json("strd_univariate.json")["sets"]
ANOVA = read_json("strd_anova.json")["sets"]
LINEAR = read_json("strd_linear.json")["sets"]
POWERS = {"Norris": (0, 1), "Pontius": (0, 1, 2), "NoInt1": (1,), "NoInt2": (1,)}

BEYOND_DOUBLES = {"NumAcc4": 8.0}
"""Certified digits that are left when the data are rounded to doubles, where these are fewer than nine."""


def univariate_data(name):
    entry = UNIVARIATE[name]
    if "data" in entry:
        return [float(value) for value in entry["data"]]
    if "rule" in entry:
        rule = entry["rule"]
        return [float(rule["first"])] + [float(value) for value in rule["then_repeat_500_times"]] * 500
    return [float(row["digit"]) for row in read_rows(entry["data_file"])]


def anova_data(name):
    """Return the groups; the constructed sets are a constant plus 0.4, 0.3, 0.5, … ± 0.1."""
    entry = ANOVA[name]
    if "groups" in entry:
        return [[float(value) for value in group] for group in entry["groups"]]
    constant, count = Fraction(entry["rule"]["constant"]), entry["rule"]["replicates"]
    swing = [0] + [-1 if index % 2 else 1 for index in range(1, count)]
    return [[float(constant + Fraction(c + s, 10)) for s in swing] for c in (4, 3, 5, 3, 5, 3, 5, 3, 5)]


def exact_one_way(groups):
    """Return F in rational arithmetic from the very doubles that are given."""
    groups = [[Fraction(value) for value in group] for group in groups]
    count = sum(len(group) for group in groups)
    middle = sum(sum(group) for group in groups) / count
    means = [sum(group) / len(group) for group in groups]
    between = sum(len(group) * (m - middle) ** 2 for group, m in zip(groups, means, strict=True))
    within = sum(sum((value - m) ** 2 for value in group) for group, m in zip(groups, means, strict=True))
    return between / (len(groups) - 1) / (within / (count - len(groups)))


def test_every_set_is_here():
    assert (len(UNIVARIATE), len(ANOVA), len(LINEAR)) == (9, 11, 4)


@pytest.mark.parametrize("name", UNIVARIATE)
def test_mean_and_standard_deviation_have_nine_certified_digits_where_doubles_hold_them(name):
    data, certified = univariate_data(name), UNIVARIATE[name]["certified"]
    assert len(data) == UNIVARIATE[name]["n"]
    assert digits(mean(data), certified["mean"]) >= 14.0
    assert digits(standard_deviation(data), certified["sd"]) >= BEYOND_DOUBLES.get(name, 9.0)


@pytest.mark.parametrize("name", UNIVARIATE)
def test_the_standard_deviation_of_the_doubles_themselves_has_every_digit(name):
    data = univariate_data(name)
    exact = [Fraction(value) for value in data]
    middle = sum(exact) / len(exact)
    variance = sum((value - middle) ** 2 for value in exact) / (len(exact) - 1)
    assert digits(standard_deviation(data), math.sqrt(variance)) >= 14.5


@pytest.mark.parametrize("name", ["SiRstv", "SmLs01", "SmLs02", "SmLs03", "AtmWtAg"])
def test_f_has_nine_certified_digits_where_doubles_hold_them(name):
    table, certified = one_way(anova_data(name)), ANOVA[name]["certified"]
    assert (table.dof_between, table.dof_within) == (certified["df_between"], certified["df_within"])
    # 107.8681568 ± 0.00001 in doubles leaves this set (AtmWtAg) nine digits and a little.
    assert digits(table.f, certified["F"]) >= 9.0
    assert digits(table.squares_between, certified["ss_between"]) >= 9.0
    assert digits(table.squares_within, certified["ss_within"]) >= 9.0
    assert digits(table.explained, certified["R2"]) >= 9.0
    assert digits(table.residual, certified["residual_sd"]) >= 9.0


@pytest.mark.parametrize("name", ANOVA)
def test_f_of_the_doubles_themselves_has_every_digit(name):
    """Also where a constant of 10⁶ or 10¹² leaves the doubles few certified digits."""
    groups = anova_data(name)
    assert digits(one_way(groups).f, exact_one_way(groups)) >= 13.0


@pytest.mark.parametrize("name", LINEAR)
def test_regression_has_twelve_certified_digits(name):
    entry = LINEAR[name]
    fit = fit_powers([float(v) for v in entry["x"]], [float(v) for v in entry["y"]], POWERS[name])
    certified = [entry["certified"]["params"][key] for key in sorted(entry["certified"]["params"])]
    for found, u, one in zip(fit.coefficients, fit.uncertainties(), certified, strict=True):
        assert digits(found, one["estimate"]) >= 12.0
        assert digits(u, one["sd"]) >= 12.0
    assert digits(fit.scatter, entry["certified"]["residual_sd"]) >= 12.0
    assert digits(fit.explained, entry["certified"]["R2"]) >= 12.0
