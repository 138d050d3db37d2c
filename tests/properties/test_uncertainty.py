"""Intervals of combined sources: they scale, grow, hold what they promise, and are not padded."""

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gingerly.statistics import pooled
from gingerly.uncertainty import (
    Arcsine,
    Budget,
    Flat,
    Normal,
    Source,
    Student,
    Triangular,
    combined,
    covariance,
    coverage_interval,
)

SIZES = st.floats(1e-4, 0.05)
SHAPES = st.one_of(
    SIZES.map(Normal),
    SIZES.map(Flat),
    SIZES.map(Arcsine),
    SIZES.map(Triangular),
    st.tuples(SIZES, st.integers(3, 40)).map(lambda pair: Student(*pair)),
)
SUMS = st.lists(SHAPES, min_size=2, max_size=8)


@settings(deadline=None)
@given(SUMS, st.floats(1e-3, 1e3), st.sampled_from([0.5, 0.9, 0.95, 0.99]))
def test_an_interval_scales_with_its_sources(shapes, factor, p):
    one = coverage_interval(shapes, p)
    other = coverage_interval([shape.scaled(-factor) for shape in shapes], p)
    assert other.half_width == pytest.approx(factor * one.half_width, rel=1e-4)


@settings(deadline=None)
@given(SUMS)
def test_an_interval_grows_with_its_probability(shapes):
    widths = [coverage_interval(shapes, p).half_width for p in (0.5, 0.6827, 0.9, 0.95, 0.99)]
    assert widths == sorted(widths)
    assert widths[0] > 0.0


@settings(deadline=None)
@given(SUMS)
def test_an_interval_never_leaves_what_its_sources_can_reach(shapes):
    found = coverage_interval(shapes, 0.99)
    assert found.half_width <= math.fsum(shape.reach for shape in shapes)
    assert 0.0 <= found.slack < 5e-4


@settings(deadline=None)
@given(SUMS)
def test_95_percent_lies_within_what_chebyshev_and_students_tails_allow(shapes):
    """Chebyshev: at most 4.5 standard deviations; Student's own is √(ν/(ν − 2)) times its scale."""
    square = sum(
        shape.u**2 * (shape.dof / (shape.dof - 2.0) if isinstance(shape, Student) else 1.0) for shape in shapes
    )
    assert coverage_interval(shapes).half_width <= math.sqrt(square / 0.05)


@settings(deadline=None)
@given(SUMS)
def test_the_order_of_sources_does_not_matter(shapes):
    forth, back = coverage_interval(shapes), coverage_interval(shapes[::-1])
    assert forth.half_width == pytest.approx(back.half_width, rel=1e-7)


@given(st.lists(st.tuples(SHAPES, st.floats(-3, 3), st.floats(-3, 3)), min_size=1, max_size=6))
def test_the_covariance_is_what_the_variance_of_a_sum_shows(rows):
    """Var(A + B) = Var A + Var B + 2 Cov(A, B), all sources shared."""
    one, other = (
        Budget(
            tuple(
                Source(name=str(i), shape=row[0], sensitivity=row[which], shared=str(i))
                for i, row in enumerate(rows)
            )
        )
        for which in (1, 2)
    )
    both = combined([(1.0, one), (1.0, other)])
    expected = one.u**2 + other.u**2 + 2.0 * covariance(one, other)
    assert both.u**2 == pytest.approx(expected, abs=1e-15, rel=1e-9)


def drawn(shape, rng):
    if isinstance(shape, Arcsine):
        return shape.middle + shape.amplitude * math.sin(rng.uniform(-math.pi, math.pi))
    return rng.uniform(shape.middle - shape.reach, shape.middle + shape.reach)


SETTINGS = {
    "runout rules": (Arcsine(0.02), Flat(0.004), 0.002),
    "a flat tolerance rules": (Arcsine(0.002), Flat(0.03), 0.002),
    "scatter rules": (Arcsine(0.002), Flat(0.004), 0.02),
}


@pytest.mark.parametrize("name", SETTINGS)
def test_95_percent_of_random_truths_lie_inside_and_the_interval_is_not_padded(name):
    """2,500 seeded jobs, each with its own scatter of 18 degrees of freedom, pooled from readings, and mean of 3.

    The share inside lies within 95 % ± 1.3 % (three of its own standard deviations), and the mean half width is
    at most 1.1 times the smallest fixed one that would have held 95 % of the errors.
    """
    runout, flat, sigma = SETTINGS[name]
    rng = random.Random(name)
    errors, widths = [], []
    for _ in range(2500):
        s = pooled([[rng.gauss(0.0, sigma) for _ in range(3)] for _ in range(9)])
        shapes = (Student(s.standard_deviation / math.sqrt(3.0), s.dof), runout, flat, Flat(0.003))
        scatter = rng.gauss(0.0, sigma) / math.sqrt(3.0)
        errors.append(abs(scatter + sum(drawn(shape, rng) for shape in shapes[1:])))
        widths.append(coverage_interval(shapes).half_width)
    inside = sum(error <= width for error, width in zip(errors, widths, strict=True)) / len(errors)
    smallest = sorted(errors)[math.ceil(0.95 * len(errors)) - 1]
    assert inside == pytest.approx(0.95, abs=0.013)
    assert sum(widths) / len(widths) <= 1.1 * smallest
