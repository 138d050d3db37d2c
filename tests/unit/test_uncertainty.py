"""Budgets: signs, what is shared, what is refused, and how they are shown."""

import math

import pytest

from gingerly.uncertainty import (
    Arcsine,
    Budget,
    Flat,
    Normal,
    Source,
    Student,
    Trapezoid,
    Triangular,
    TwoValued,
    combined,
    covariance,
    coverage_factor,
    coverage_interval,
    effective_dof,
    joint_means,
    sensitivities,
    simulated,
)


def source(name, shape, sensitivity=1.0, **more):
    return Source(name=name, shape=shape, sensitivity=sensitivity, **more)


def face(inward):
    """A face touched along `inward`: its own scatter, the tool's radius, the runout."""
    return Budget(
        (
            source("scatter", Normal(0.002)),
            source("radius", Flat(0.01), inward, shared="radius", batch=True),
            source("runout", Arcsine(0.015), shared="runout", batch=True),
        )
    )


def test_the_tools_radius_cancels_in_the_middle_of_a_slot_and_runout_stays():
    middle = combined([(0.5, face(-1)), (0.5, face(1))])
    by_name = {one.name: one.contribution for one in middle.sources if one.name != "scatter"}
    assert by_name == {"radius": 0.0, "runout": pytest.approx(0.015 / math.sqrt(2.0))}
    assert middle.u == pytest.approx(math.hypot(0.002 / math.sqrt(2.0), 0.015 / math.sqrt(2.0)))


def test_runout_cancels_in_the_width_of_a_slot_and_the_radius_counts_twice():
    width = combined([(-1.0, face(-1)), (1.0, face(1))])
    assert width.u == pytest.approx(math.hypot(0.002 * math.sqrt(2.0), 2.0 * 0.01 / math.sqrt(3.0)))


def test_sources_without_a_key_stay_independent():
    own = Budget((source("scatter", Normal(3.0)),))
    assert combined([(1.0, own), (-1.0, own)]).u == pytest.approx(3.0 * math.sqrt(2.0))


def test_runout_seen_on_both_axes_is_one_thing_of_fixed_size():
    """(X + Y)/√2 sees the component along the diagonal: again an arcsine of the same amplitude."""
    x = Budget((source("runout", Arcsine(0.02), shared="runout"),))
    y = Budget((source("runout", Arcsine(0.02), 0.0, across=1.0, shared="runout"),))
    half = math.sqrt(0.5)
    diagonal = combined([(half, x), (half, y)])
    assert covariance(x, y) == 0.0
    assert covariance(y, y) == pytest.approx(y.u**2)
    assert diagonal.half_width() == pytest.approx(Arcsine(0.02).half_width(0.95), rel=1e-12)
    assert covariance(diagonal, x) == pytest.approx(half * 0.02**2 / 2.0)


def test_sources_that_share_a_key_must_share_a_shape():
    with pytest.raises(ValueError, match="share 'radius' but differ"):
        combined([(1.0, face(1)), (1.0, Budget((source("radius", Flat(0.02), shared="radius"),)))])


def test_a_one_sided_source_shifts_the_result_by_its_middle():
    seating = Budget((source("seating", Flat.between(0.0, 0.02), -1.0),))
    assert seating.correction == pytest.approx(-0.01)
    assert seating.u == pytest.approx(0.01 / math.sqrt(3.0))
    assert seating.half_width() == pytest.approx(0.0095)


def test_what_a_batch_has_in_common_is_told_apart_from_each_parts_own():
    budget = face(1)
    width = combined([(-1.0, face(-1)), (1.0, face(1))])
    assert width.of_the_batch().u == pytest.approx(2.0 * 0.01 / math.sqrt(3.0))
    assert budget.of_each_part().u == pytest.approx(0.002)
    assert math.hypot(budget.of_each_part().u, budget.of_the_batch().u) == pytest.approx(budget.u)


def test_a_budget_of_nothing_is_certain():
    stated = Budget(()).stated()
    assert (stated.u, stated.half_width, stated.expanded, stated.rules) == (0.0, 0.0, 0.0, "nothing")
    assert Budget((source("known", Flat(0.0, 0.3)),)).stated().correction == 0.3
    assert Budget(()).shares() == ()


def test_a_table_shows_every_source_and_both_statements():
    table = face(1).table()
    for text in ("scatter", "radius", "runout", "arcsine", "batch", "JCGM 100", "JCGM 101", "95 %"):
        assert text in table
    assert table.index("runout") < table.index("radius") < table.index("scatter")


def test_shares_of_the_variance_sum_to_one_the_largest_first():
    shares = face(1).shares()
    assert math.fsum(share for _, share in shares) == pytest.approx(1.0)
    assert [name for name, _ in shares] == ["runout", "radius", "scatter"]


def test_two_touches_alone_make_a_wide_interval():
    """One degree of freedom: t = 12.7 (JCGM 100:2008, table G.2, from memory)."""
    budget = Budget((source("scatter", Student(0.001, 1)),))
    assert budget.stated().k == pytest.approx(12.71, abs=0.005)
    assert budget.half_width() == pytest.approx(0.01271, abs=5e-6)


def test_degrees_of_freedom_of_a_student_shape_count_in_the_effective_ones():
    budget = Budget((source("scatter", Student(1.0, 4)), source("other", Normal(1.0))))
    assert budget.dof == pytest.approx(16.0)
    assert Budget((source("a", Normal(1.0), dof=4), source("b", Normal(1.0)))).dof == pytest.approx(16.0)
    assert effective_dof([]) == math.inf


def test_the_coverage_factor_takes_the_next_lower_whole_degrees():
    assert coverage_factor(0.95, 5.99) == coverage_factor(0.95, 5.0)
    assert coverage_factor(0.95, 5.0 - 1e-12) == coverage_factor(0.95, 5.0)
    assert coverage_factor(0.95, 0.5) == coverage_factor(0.95, 1.0)
    assert coverage_factor(0.95) == pytest.approx(1.959964, abs=1e-6)


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (lambda: Normal(-1.0), "standard uncertainty"),
        (lambda: Normal(math.nan), "standard uncertainty"),
        (lambda: Flat(math.inf), "half width"),
        (lambda: Flat.between(1.0, 0.0), "above the upper"),
        (lambda: Arcsine(-0.1), "amplitude"),
        (lambda: Trapezoid(1.0, 1.5), "from 0 to 1"),
        (lambda: TwoValued(-1.0), "amplitude"),
        (lambda: Student(1.0, 0.5), "at least 1"),
        (lambda: Normal.expanded(0.01, k=0.0), "coverage factor"),
        (lambda: source("a", Normal(1.0), math.nan), "must be finite"),
        (lambda: source("a", Normal(1.0), dof=0.0), "degrees of freedom of a"),
        (lambda: source("a", Normal(1.0), across=1.0), "only an arcsine"),
        (lambda: coverage_interval([Normal(1.0)], 0.3), "coverage probability"),
        (lambda: joint_means([[1.0, 2.0], [1.0]]), "same number of readings"),
        (lambda: simulated(lambda a: a, [Normal(1.0)], trials=100), "too few"),
        (lambda: simulated(lambda a: a * math.inf, [Normal(1.0)]), "not finite"),
    ],
)
def test_what_cannot_be_reckoned_is_refused_in_words(act, why):
    with pytest.raises(ValueError, match=why):
        act()


def test_standard_uncertainties_from_limits_are_the_guides():
    """a/√3, a/√6, a/√2, a·√((1 + β²)/6), U/k: JCGM 100:2008, 4.3 (from memory)."""
    shapes = (Flat(1.0), Triangular(1.0), Arcsine(1.0), Trapezoid(1.0, 0.5), Normal.expanded(3.0, k=3.0))
    wanted = (0.577350, 0.408248, 0.707107, math.sqrt(1.25 / 6.0), 1.0)
    assert [shape.u for shape in shapes] == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(
    "shape", [Normal(1.0, 0.5), Flat(1.0, 0.5), Arcsine(1.0, 0.5), Trapezoid(1.0, 0.2, 0.5), TwoValued(1.0, 0.5)]
)
def test_drawn_values_have_the_shapes_mean_and_spread(shape):
    """Seeded; 100,000 draws, three standard deviations of mean and standard deviation."""
    found = simulated(lambda values: values, [shape], trials=100_000, seed=4)
    assert found.mean == pytest.approx(0.5, abs=3.0 * shape.u / math.sqrt(1e5))
    assert found.u == pytest.approx(shape.u, rel=3.0 / math.sqrt(2e5))


def test_an_input_that_is_known_has_no_sensitivity():
    found = sensitivities(lambda v: (v[0] * v[1], v[0] - v[1]), (2.0, 3.0), (0.1, 0.0))
    assert found == ((pytest.approx(3.0), 0.0), (pytest.approx(1.0), 0.0))


def test_a_simulation_is_the_same_for_the_same_seed():
    assert simulated(lambda a: a, [Normal(1.0)], seed=9) == simulated(lambda a: a, [Normal(1.0)], seed=9)


def test_a_heavy_tail_beside_a_flat_term_states_its_slack():
    found = coverage_interval([Student(1.0, 1), Student(0.5, 1), Flat(0.5)])
    assert 0.0 < found.slack < 1e-3
    # Two Cauchy distributions add to one of the summed scale; the flat term adds next to nothing.
    assert found.half_width == pytest.approx(1.5 * 12.7062, rel=2e-3)


def test_either_of_two_values_beside_a_flat_term_is_a_pair_of_boxes():
    """±1 and ±0.2: half the mass in each box, so 95 % of it reaches 0.9 of the way through: 0.8 + 0.95·0.4."""
    found = coverage_interval([TwoValued(1.0), Flat(0.2)])
    assert found.half_width == pytest.approx(1.18, abs=1e-4)
    assert coverage_interval([TwoValued(1.0)]).half_width == 1.0


def test_students_distribution_of_many_degrees_is_normal():
    assert coverage_interval([Student(1.0, 1e8), Flat(0.5)]).half_width == pytest.approx(
        coverage_interval([Normal(1.0), Flat(0.5)]).half_width, rel=1e-6
    )


def test_drawn_students_values_have_the_tails_of_the_distribution():
    """Seeded; ±2.5706 holds 95 % at 5 degrees of freedom (JCGM 100:2008, table G.2), here within 1 %."""
    found = simulated(lambda values: values, [Student(1.0, 5, 3.0)], trials=400_000, seed=2)
    assert found.middle == pytest.approx((3.0 - 2.5706, 3.0 + 2.5706), abs=0.026)


def test_a_shape_about_another_middle_is_the_same_shape():
    for shape in (Normal(1.0, 2.0), Flat(1.0, 2.0), Arcsine(1.0, 2.0), TwoValued(1.0, 2.0), Student(1.0, 4, 2.0)):
        assert (shape.centred().middle, shape.centred().u) == (0.0, shape.u)
        assert (shape.scaled(-2.0).middle, shape.scaled(-2.0).u) == (-4.0, 2.0 * shape.u)
    assert Trapezoid(1.0, 0.3, 2.0).centred() == Trapezoid(1.0, 0.3)


def test_a_sum_of_values_from_lists_alone_states_that_it_knows_nothing():
    """Four places, ±1 ± 0.3: such a sum has no density, the series never ends, and the slack says so."""
    assert coverage_interval([TwoValued(1.0), TwoValued(0.3)]).slack == 1.0
