"""How far off the corner found is on virtual machines whose tool and plate are known exactly."""

from __future__ import annotations

import random

import pytest

from gingerly import Corner, Limits, OutsideCorner, Position, Wishes
from gingerly.kinematics import speed_mm_s, stopping_distance
from support.bench import bench, corner_routine, scene, spot

EXACT = {"plate_tolerance": 0.0, "tool_tolerance": 0.0, "runout": 0.0, "seating_gap": 0.0, "edge_form": 0.0}


def _world(draw: random.Random) -> dict[str, object]:
    """A machine of its own: step, acceleration, sampling and reaction drawn from what small machines have."""
    sample_s = draw.choice([0.0005, 0.001, 0.002])
    return {
        "ideal": False,
        "seed": draw.randrange(10**9),
        "resolution": draw.choice([0.000625, 0.0015625, 0.0025, 0.00625]),
        "acceleration": draw.uniform(100.0, 800.0),
        "sample_interval_s": sample_s,
        "stop_reaction_s": draw.uniform(0.001, 0.01),
        "latch_s": Limits(0.0, sample_s),
        "offset_resolution": 0.0001,
        **EXACT,
    }


@pytest.mark.parametrize("worlds", [200, pytest.param(1000, marks=pytest.mark.thorough)])
@pytest.mark.asyncio
async def test_corners_are_found_within_a_step_and_the_scatter_of_the_latch(worlds):
    """Each axis is off by no more than one motor step and what the slow feed passes while the latch is open.

    A position latched at speed v within T of the touch lies at most v·T too far on; the mean of it is taken off,
    and rounding to steps adds half a step at the contact and half at the storage. The tool is never pushed
    further than allowed.
    """
    draw = random.Random(20260101)
    for number in range(worlds):
        options, corner = _world(draw), draw.choice(list(Corner))
        machine = bench(**options)
        async with machine:
            truth = machine.adapter.stage(scene(corner, name=f"blank {number}"))
            result = await machine.attempt(corner_routine(corner))
            deepest = machine.adapter.deepest_penetration
            facts = machine.facts
        told = f"world {number}: {options}"
        assert result.fault is None, f"{told}\n{result.fault.story()}"
        plan = machine.plan(corner_routine(corner), facts.envelope.high).next(()).plan
        scatter = speed_mm_s(plan.slow_feed) * (facts.sample_interval_s + facts.latch_s.high)
        allowed = facts.resolution + scatter + facts.offset_resolution
        for found, true in zip(result.outcome.offsets[0].new, truth, strict=True):
            assert abs(found - true) <= allowed, told
        assert deepest <= plan.overtravel + 1e-9, told


@pytest.mark.asyncio
@pytest.mark.parametrize("corner", list(Corner))
async def test_a_swapped_lip_would_show(corner):
    """At every corner the lip that hangs over each wall is the right one of two unequal ones."""
    machine = bench()
    async with machine:
        truth = machine.adapter.stage(scene(corner))
        result = await machine.probe(corner_routine(corner))
    assert result.outcome.offsets[0].new == pytest.approx(truth, abs=0.004)


@pytest.mark.asyncio
@pytest.mark.parametrize("corner", list(Corner))
async def test_bare_stock_gives_the_same_corner(corner):
    """Directly on conductive stock, with no plate at all."""
    from dataclasses import replace

    from support.bench import STOCK

    bare = replace(STOCK, conductive=True)
    machine = bench()
    async with machine:
        truth = machine.adapter.stage(scene(corner, stock=bare, plate=None))
        routine = OutsideCorner(spot=spot(corner, stock=bare, plate=None), offset=3)
        result = await machine.probe(routine)
    assert result.outcome.offsets[0].new == pytest.approx(truth, abs=0.004)


@pytest.mark.asyncio
async def test_touched_faces_read_what_the_part_says():
    """A faced-off top, a turned blank, an allowance: each face reads its own work coordinate."""
    machine = bench()
    async with machine:
        truth = machine.adapter.stage(scene())
        routine = OutsideCorner(spot=spot(), offset=1, reads=Position(-10.0, 5.0, 0.3))
        result = await machine.probe(routine)
    assert result.outcome.offsets[0].new == pytest.approx(truth.minus(Position(-10.0, 5.0, 0.3)), abs=0.004)


@pytest.mark.asyncio
async def test_the_overshoot_of_the_fast_feed_is_the_formula_of_uniform_acceleration():
    """The tool runs on by v·t + v²/(2a) after a contact (kinematics of uniform acceleration), a step more at most."""
    machine = bench(machine={"wishes": Wishes(fast_feed=240.0)})
    async with machine:
        machine.adapter.stage(scene())
        await machine.probe(corner_routine())
        deepest, facts = machine.adapter.deepest_penetration, machine.facts
    worst = stopping_distance(
        240.0, acceleration=facts.acceleration, reaction_s=facts.stop_reaction_s + facts.sample_interval_s
    )
    assert 0.0 < deepest <= worst + facts.resolution
