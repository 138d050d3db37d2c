"""The ± of a corner on virtual machines with random truth: it holds what it promises, and is not padded."""

import asyncio
import math
import random

import pytest

from gingerly import Axis, Corner
from gingerly.budgets import NOTHING, Doubts, TouchedFace, face_budget
from gingerly.uncertainty import Arcsine, Flat
from support.bench import bench, corner_routine, scene

pytestmark = pytest.mark.thorough

RUNS = 200
BESIDE = 15.0
ALLOWED = 3.0 * math.sqrt(0.05 * 0.95 / (3 * RUNS))
"""Three standard deviations of the share that lies inside, over all axes."""

SETTINGS = {
    "as it comes": {"runout": 0.015, "plate_tolerance": 0.01, "seating_gap": 0.02, "edge_form": 0.01},
    "runout rules": {"runout": 0.05, "plate_tolerance": 0.01, "seating_gap": 0.02, "edge_form": 0.01},
    "the plate rules": {"runout": 0.002, "plate_tolerance": 0.05, "seating_gap": 0.004, "edge_form": 0.002},
}


def doubts(sizes):
    """What the virtual machine draws from, told as limits."""
    return Doubts(
        radius=Flat(0.002),
        spring=NOTHING,
        screw=NOTHING,
        skew=NOTHING,
        spindle_growth=NOTHING,
        runout=Arcsine(sizes["runout"]),
        thickness=Flat(sizes["plate_tolerance"]),
        lip=Flat(sizes["plate_tolerance"]),
        seating=Flat.between(0.0, sizes["seating_gap"]),
        form=Flat(sizes["edge_form"]),
    )


async def one_run(number, corner, sizes):
    """Return (error, half width) of X, Y and Z of one corner of a machine of its own."""
    machine = bench(ideal=False, seed=number, bounce_s=0.0, machine={"doubts": doubts(sizes)}, **sizes)
    async with machine:
        truth = machine.adapter.stage(scene(corner, name=f"blank {number}"))
        result = await machine.probe(corner_routine(corner))
        plan = machine.plan(corner_routine(corner), machine.facts.envelope.high).next(()).plan
    found, rows = result.outcome.offsets[0].new, []
    for axis, inward in zip(Axis, (*corner.inward, -1), strict=True):
        face = TouchedFace(
            axis=axis,
            inward=inward,
            plan=plan,
            lip=None if axis is Axis.Z else axis.name,
            plate=axis is Axis.Z,
            beside=BESIDE,
        )
        stated = face_budget(face, machine.facts, doubts(sizes)).stated()
        rows.append((truth[axis] - found[axis], stated.half_width))
    return rows


@pytest.mark.parametrize("name", SETTINGS)
def test_95_percent_of_corners_lie_inside_what_is_quoted(name):
    """200 machines, blanks and plates with random truth, all four corners; three axes each."""
    rng, rows = random.Random(name), []
    for number in range(RUNS):
        rows += asyncio.run(one_run(number, rng.choice(list(Corner)), SETTINGS[name]))
    inside = sum(abs(error) <= half_width for error, half_width in rows) / len(rows)
    relative = sorted(abs(error) / half_width for error, half_width in rows)
    assert inside == pytest.approx(0.95, abs=ALLOWED)
    assert relative[math.ceil(0.95 * len(rows)) - 1] >= 1.0 / 1.1
