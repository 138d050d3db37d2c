"""Parts on one blank are touched on the very same blank, at whichever of its corners, and under whichever plate."""

from __future__ import annotations

import math

import pytest

from gingerly import Axis, batch
from gingerly import job as jobs
from gingerly.batch import PartResult

JOB = """
[machine]
adapter = "mock"
name = "garden mill"
options = { seed = 3, ideal = true, tool_length_range = 0.4 }

[tools.pin]
diameter = 4
free_length = 22

[tools.peg]
diameter = 5
free_length = 22

[plates.brass]
size_a = 48
size_b = 44
height = 13
recess_a = 36
recess_b = 33
recess_depth = 5

[defaults]
tool = "pin"
plate = "brass"
stock = { size_x = 150, size_y = 100, thickness = 20 }

[[parts]]
name = "front"
routine = "outside corner"
place = { x = 60, y = 40, z = -45 }
offset = 1
simulated = { skew_deg = 0.4 }

[[parts]]
name = "back"
routine = "outside corner"
corner = "back right"
place = { x = 210, y = 140, z = -45 }
offset = 2

[[parts]]
name = "bare"
routine = "surface"
plate = "none"
stock = { size_x = 150, size_y = 100, thickness = 20, conductive = true }
place = { x = 60, y = 40, z = -45 }
offset = 3

[[parts]]
name = "right"
routine = "outside corner"
tool = "peg"
corner = "front right"
place = { x = 210, y = 40, z = -45 }
offset = 4

[[parts]]
name = "next"
routine = "outside corner"
new_blank = true
place = { x = 60, y = 40, z = -45 }
offset = 5
"""

NEAR = 0.02
"""Millimetres: two motor steps, and what a turned blank's rounding of the corner adds."""


@pytest.fixture(scope="module")
def found() -> dict[str, PartResult]:
    summary = batch.run_blocking(jobs.loads(JOB))
    assert summary.complete, summary.faults
    return {entry.part.name: entry for entry in summary.parts}


def way(found: dict[str, PartResult], one: str, other: str) -> tuple[float, float]:
    ends = [dict(found[name].truth) for name in (one, other)]
    return ends[1][Axis.X] - ends[0][Axis.X], ends[1][Axis.Y] - ends[0][Axis.Y]


def test_two_corners_of_one_blank_lie_as_far_apart_as_its_diagonal(found: dict[str, PartResult]) -> None:
    assert math.hypot(*way(found, "front", "back")) == pytest.approx(math.hypot(150, 100), abs=1e-6)


def test_the_sides_of_one_blank_stand_square_however_it_is_turned(found: dict[str, PartResult]) -> None:
    (along_x, along_y), (up_x, up_y) = way(found, "front", "right"), way(found, "right", "back")
    assert along_y != 0.0
    assert along_x * up_x + along_y * up_y == pytest.approx(0.0, abs=1e-6)


def test_one_blank_has_one_top_for_every_corner_plate_and_tool(found: dict[str, PartResult]) -> None:
    top = {name: dict(entry.truth)[Axis.Z] for name, entry in found.items()}
    assert top["back"] == pytest.approx(top["front"], abs=1e-6)
    assert top["bare"] == pytest.approx(top["front"], abs=1e-6)
    assert 0.0 < abs(top["right"] - top["front"]) <= 0.4, "the other tool's length, counted once"


def test_what_is_found_there_is_the_truth(found: dict[str, PartResult]) -> None:
    for name in ("front", "back", "bare"):
        assert all(abs(error) <= NEAR for _, error in found[name].errors), name


def test_a_new_blank_lies_elsewhere(found: dict[str, PartResult]) -> None:
    assert math.hypot(*way(found, "front", "next")) > 0.05
