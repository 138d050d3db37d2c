"""How long fits and budgets take. Run on demand: ``pytest tests/benchmarks --benchmark-enable``."""

import math

import numpy as np

from gingerly.fits import fit_circle, fit_plane
from gingerly.uncertainty import Arcsine, Budget, Flat, Source, Student, Triangular

COUNT = 10_000


def _points():
    rng = np.random.default_rng(1)
    angles = rng.uniform(0.0, 2.0 * math.pi, COUNT)
    radii = 20.0 + rng.normal(0.0, 0.01, COUNT)
    return np.column_stack([radii * np.cos(angles), radii * np.sin(angles), rng.normal(0.0, 0.01, COUNT)]).tolist()


def test_a_circle_through_ten_thousand_points(benchmark):
    """Wanted: below 50 ms."""
    points = [(x, y) for x, y, _ in _points()]
    assert benchmark(fit_circle, points).radius > 19.9


def test_a_plane_through_ten_thousand_points(benchmark):
    """Wanted: below 50 ms."""
    assert benchmark(fit_plane, _points()).form < 0.1


def test_a_new_budget_of_eleven_sources_stated_both_ways(benchmark):
    """Wanted: at least 400 a second. Each has another scatter, so that nothing is remembered."""
    scatters = iter(range(10**9))

    def state():
        shapes = [
            Student(0.002309 + 1e-9 * next(scatters), 18),
            Triangular(0.001),
            Arcsine(0.00125),
            Arcsine(0.015),
            *(Flat(half) for half in (0.0002, 0.002, 0.002, 0.01, 0.01, 0.01, 0.02618)),
        ]
        return Budget(tuple(Source(name=str(i), shape=shape) for i, shape in enumerate(shapes))).stated()

    assert benchmark(state).half_width > 0.04
