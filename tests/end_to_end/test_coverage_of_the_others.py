"""The ± of the routines that `test_coverage.py` does not rehearse holds too, and every one of their runs ends well.

Where the place, the tool and the metal may truly be anywhere that the job allows for, no wall lies outside its window:
not obliquely, where a place is less well known than on either axis, nor in a bore hardly wider than the tool.
"""

from __future__ import annotations

import math
import os

import pytest

from gingerly import job as jobs
from gingerly.rehearse import Script, account, rehearse
from support.rehearsals import MACHINE

pytestmark = pytest.mark.thorough

RUNS = int(os.environ.get("GINGERLY_RUNS", "150"))
CHANCE = 3.5 * math.sqrt(0.95 * 0.05 / RUNS)
"""Three and a half standard deviations of the share inside (binomial distribution)."""

PADDED = 1.1 + 0.2 * math.sqrt(200.0 / RUNS)
"""A 95 % point of 200 errors is itself known within some 10 % only."""

HOLLOW = "centre = { x = 50, y = 40 }\ndeep = 15"
ROUND = "centre = { x = 55, y = 45 }\ndiameter = 24"
PARTS = {
    "single edge, plate": 'routine = "single edge"\naxis = "X"\nplate = "corner"',
    "single edge, bare, far from the corner": 'routine = "single edge"\naxis = "Y"\nalong = 60\nplate = "none"',
    "inside corner": (
        'routine = "inside corner"\nmeets_at = { x = 80, y = 70 }\nwhich = "back right"\nsizes = { x = 50, y = 45 }\n'
        "deep = 15\nat = { x = 12, y = 12 }"
    ),
    "slot middle": f'routine = "slot middle"\naxis = "Y"\n{HOLLOW}\nwidth = 20\nlength = 50',
    "pocket middle": f'routine = "pocket middle"\n{HOLLOW}\nsizes = {{ x = 40, y = 30 }}',
    "rib middle": (
        'routine = "rib middle"\naxis = "X"\ncentre = { x = 55, y = 45 }\nwidth = 16\nlength = 50\nheight_of_rib = 12'
    ),
    "block middle": (
        'routine = "block middle"\ncentre = { x = 55, y = 45 }\nsizes = { x = 30, y = 24 }\nheight_of_block = 12'
    ),
    "boss centre, 3 touches": f'routine = "boss centre"\n{ROUND}\nheight_of_boss = 12\ntouches = 3',
    "bore centre, 3 touches": f'routine = "bore centre"\n{HOLLOW}\ndiameter = 24\ntouches = 3',
    "bore centre, 8 touches": f'routine = "bore centre"\n{HOLLOW}\ndiameter = 24\ntouches = 8',
    "a bore hardly wider than the tool": f'routine = "bore centre"\n{HOLLOW}\ndiameter = 10',
}
SET_WITH_TOP = "\nwith_top = true"


@pytest.mark.parametrize("part", PARTS)
def test_95_percent_of_the_errors_of_every_routine_lie_inside_and_no_run_fails(part: str) -> None:
    """At the defaults for home-made parts; the interval is not padded, and the mean error is nothing but chance."""
    told = {"doubts": "", "backlash": "0.02", "noise": "0", "wishes": "{ retouches = 2 }", "guard": "none"}
    text = MACHINE.format(**told, part=PARTS[part] + SET_WITH_TOP)
    found = account(rehearse(Script(job=jobs.loads(text, source=part), seed=5), RUNS, workers=1))
    assert found.success.count == found.runs, found.faults
    for axis in found.axes:
        assert axis.inside is not None
        assert axis.stated is not None
        assert axis.inside.value == pytest.approx(0.95, abs=CHANCE), axis
        assert axis.stated <= PADDED * axis.covering, axis
        assert abs(axis.mean) <= 3.5 * axis.standard_deviation / math.sqrt(axis.count), axis
