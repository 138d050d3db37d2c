"""What a job says about what nobody measured: limits and certificates, never a bare ±."""

from __future__ import annotations

import math

import pytest

from gingerly import job as jobs
from gingerly.budgets import DEFAULTS
from gingerly.geometry import Limits
from gingerly.job import JobError
from gingerly.uncertainty import Arcsine, Flat, Normal
from support.jobs import SOUND


def doubts_of(text):
    return jobs.loads(f"{SOUND}\n[doubts]\n{text}\n").doubts


def test_limits_and_certificates_become_shapes():
    found = doubts_of('lip = { U = "0.004 mm", k = 2 }\nseating = { low = 0, high = 0.03 }\nrunout = 0.02')
    assert found.lip == Normal(0.002)
    assert found.seating == Flat(0.015, 0.015)
    assert found.runout == Arcsine(0.02)


def test_what_is_left_out_has_its_honest_default():
    assert jobs.loads(SOUND).doubts == DEFAULTS
    assert doubts_of("runout = 0.02").lip == DEFAULTS.lip


def test_angles_sides_and_times_are_told_in_their_own_way():
    found = doubts_of(
        "skew_deg = { low = -0.2, high = 0.2 }\napproach = { x = 'plus' }\nlatch_s = { low = 0.001, high = 0.002 }"
    )
    assert found.skew.half == pytest.approx(math.radians(0.2))
    assert found.approach == (1, DEFAULTS.approach[1], DEFAULTS.approach[2])
    assert found.latch_s == Limits(0.001, 0.002)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("lip = 0.01", "doubts.lip"),
        ("lip = { low = 0.01 }", "doubts.lip: say either low and high, or U and k, not low"),
        ("lip = { U = 0.01, k = 2, low = 0 }", "doubts.lip: say either low and high, or U and k"),
        ("lip = { U = 0.01, k = 0 }", "the coverage factor k must be above 0"),
        ("lip = { low = 0.02, high = 0.01 }", "doubts.lip: the lower limit 0.02 is above the upper limit 0.01"),
        ("lips = { low = 0, high = 1 }", "doubts.lips: is not known here"),
    ],
)
def test_what_cannot_be_is_told_with_its_key(text, said):
    with pytest.raises(JobError) as caught:
        doubts_of(text)
    assert said in str(caught.value)
