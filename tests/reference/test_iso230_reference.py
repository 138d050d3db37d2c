"""Positioning repeatability and accuracy by the formulas of ISO 230-2, on a constructed set with known results.

The formulas of the standard are from memory; the set was worked out from them by another program.
"""

import numpy as np
import pytest

from gingerly.statistics import positioning_test, repeatability
from support.reference import read_json

EXAMPLE = read_json("iso230_2_example.json")
WANTED = EXAMPLE["expected"]


@pytest.fixture(scope="module")
def result():
    return positioning_test(EXAMPLE["forward"], EXAMPLE["backward"])


def test_each_position_has_its_mean_deviation_and_repeatability(result):
    assert result.forward.means == pytest.approx(WANTED["mean_fwd"], abs=1e-9)
    assert result.backward.means == pytest.approx(WANTED["mean_bwd"], abs=1e-9)
    assert result.forward.deviations == pytest.approx(WANTED["s_fwd"], abs=1e-9)
    assert result.backward.deviations == pytest.approx(WANTED["s_bwd"], abs=1e-9)
    assert result.forward.repeatabilities == pytest.approx(WANTED["R_i_fwd"], abs=1e-9)
    assert result.backward.repeatabilities == pytest.approx(WANTED["R_i_bwd"], abs=1e-9)
    assert result.reversals == pytest.approx(WANTED["B_i"], abs=1e-9)
    assert result.repeatabilities == pytest.approx(WANTED["R_i"], abs=1e-9)


def test_the_axis_has_its_repeatability_reversal_and_accuracy(result):
    found = {
        "B": result.reversal,
        "B_mean": result.mean_reversal,
        "R_fwd": result.forward.repeatability,
        "R_bwd": result.backward.repeatability,
        "R": result.repeatability,
        "E_fwd": result.forward.systematic,
        "E_bwd": result.backward.systematic,
        "E": result.systematic,
        "M": result.mean_systematic,
        "A_fwd": result.forward.accuracy,
        "A_bwd": result.backward.accuracy,
        "A": result.accuracy,
    }
    assert found == pytest.approx({name: WANTED[name] for name in found}, abs=1e-9)


def test_touches_of_one_spot_give_range_and_four_s():
    """Range and 4·s, checked against numpy; that ISO 230-10 reports the range is from memory."""
    touches = [0.0012, 0.0009, 0.0015, 0.0011, 0.0010, 0.0014, 0.0008, 0.0012, 0.0013, 0.0011]
    found = repeatability(touches)
    assert found.range == pytest.approx(np.ptp(touches), rel=1e-12)
    assert found.four_s == pytest.approx(4.0 * np.std(touches, ddof=1), rel=1e-12)
