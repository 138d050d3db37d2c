"""How much of rounding a mean keeps, against rounding carried out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gingerly.statistics.rounding import rounding_kept


@pytest.mark.parametrize("width", [0.1, 0.5, 0.9, 1.0, 1.5, 3.3])
@pytest.mark.parametrize("count", [2, 4, 9])
def test_the_formula_is_what_rounding_does(width, count):
    """200,000 means of readings spread over `width` steps and rounded; within 1 % of one reading's rounding."""
    rng = np.random.default_rng(4)
    places = rng.uniform(0.0, 1.0, (200_000, 1)) + rng.uniform(0.0, width, (200_000, count))
    left = np.mean(np.round(places) - places, axis=1)
    assert float(np.std(left)) * math.sqrt(12.0) == pytest.approx(rounding_kept(width, count), abs=0.01)


def test_readings_in_one_place_are_rounded_alike_and_over_whole_steps_each_for_itself():
    assert rounding_kept(0.0, 16) == pytest.approx(1.0, abs=0.002)
    assert rounding_kept(1.0, 16) == pytest.approx(0.25, abs=1e-9)
    assert rounding_kept(0.7, 1) == 1.0
