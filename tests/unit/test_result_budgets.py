"""Every result says how far off it may be: a budget and two statements for each axis found."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from gingerly import (
    Axis,
    BoreCentre,
    Corner,
    Limits,
    OutsideCorner,
    SingleEdge,
    SkewedCorner,
    Surface,
    ToolChange,
    Wishes,
)
from gingerly.budgets import CERTAIN, DEFAULTS, NOTHING, Judge, face_budget, feature_budget, middle_budget
from gingerly.fits import fit_circle
from gingerly.uncertainty import Arcsine, Flat
from gingerly_mock import Bore
from support.bench import PIN, STOCK, bench, corner_routine, scene, spot

pytestmark = pytest.mark.asyncio
BARE = replace(STOCK, conductive=True)


async def result_of(routine, doubts=DEFAULTS, *, feature=None, skew=0.0, corner=Corner.FRONT_LEFT, **options):
    """The result of one routine on an ideal machine, and the true corner."""
    machine = bench(machine={"doubts": doubts}, **options)
    plate = routine.spot.plate
    async with machine:
        truth = machine.adapter.stage(scene(corner, plate=plate, stock=routine.spot.stock, skew=skew, within=0.5))
        if feature is not None:
            machine.adapter.mill(feature)
        return await machine.probe(routine), truth


async def test_a_corner_has_a_budget_and_both_statements_for_each_axis():
    result, _ = await result_of(corner_routine())
    assert list(result.budgets) == list(result.statements) == ["X", "Y", "Z"]
    names = {source.name for source in result.budgets["X"].sources}
    assert {"runout", "tool radius", "lip a", "seating", "form of the face", "skew", "resolution"} <= names
    stated = result.statements["X"]
    assert stated.expanded == pytest.approx(stated.k * stated.u)
    assert 0.03 < stated.half_width < 0.05
    assert "lip b" in {source.name for source in result.budgets["Y"].sources}
    assert "plate thickness" in {source.name for source in result.budgets["Z"].sources}


async def test_the_budget_of_a_corner_is_that_of_its_faces():
    """Each axis follows its own face alone, just as it is: nothing is lost on the way through the routine."""
    result, _ = await result_of(corner_routine())
    course, judge = result.course, result.course.judge
    for number, axis in ((1, "X"), (3, "Y"), (0, "Z")):
        touch = course.touches(result.outcome.faces)[number]
        assert result.budgets[axis].u == pytest.approx(judge.stored(judge.budget(touch)).u, rel=1e-9)


@pytest.mark.parametrize("corner", list(Corner))
async def test_what_is_one_sided_is_in_what_is_found(corner):
    """A plate that is said to sit 0.04 mm off each face: what is found lies 0.04 mm further on."""
    gap = replace(CERTAIN, seating=Flat(0.0, 0.04))
    routine = corner_routine(corner)
    plain, given = [(await result_of(routine, doubts, corner=corner))[0] for doubts in (CERTAIN, gap)]
    shift = given.outcome.offsets[0].new.minus(plain.outcome.offsets[0].new)
    inward = (*corner.inward, -1)
    assert shift == pytest.approx(tuple(0.04 * sign for sign in inward), abs=1e-9)
    assert given.outcome.faces == plain.outcome.faces


async def test_backlash_moves_what_is_found_to_the_middle_of_where_work_may_be_approached():
    """Touched towards plus, with work approached from either side: half of the middle of the backlash back."""
    backlash = {"backlash": 0.08, "true_backlash": 0.06}
    result, truth = await result_of(corner_routine(), replace(CERTAIN, backlash=Flat(0.0, 0.06)), **backlash)
    # The truth lies in the middle of the play.
    assert dict(result.outcome.found)[Axis.X] == pytest.approx(truth.x, abs=0.004)
    assert dict(result.outcome.found)[Axis.Y] == pytest.approx(truth.y, abs=0.004)


async def test_the_tools_radius_cancels_in_a_bore_and_its_runout_does_not():
    spot_ = replace(spot(plate=None, stock=BARE), within=0.8)
    routine = BoreCentre(spot=spot_, centre=(50.0, 40.0), diameter=24.0, deep=15.0, offset=1)
    doubts = replace(CERTAIN, radius=Flat(0.5), runout=Arcsine(0.02))
    result, _ = await result_of(routine, doubts, feature=Bore(50.0, 40.0, 24.0, 15.0))
    by_name = {source.name: source for source in result.budgets["X"].sources}
    assert by_name["tool radius"].contribution < 0.001
    # However far beside the middle the tool went down: what is left is the rounding of slopes to six digits.
    assert (by_name["runout"].sensitivity, by_name["runout"].across) == pytest.approx((1.0, 0.0), abs=1e-5)
    wide = {source.name: source for source in result.budgets["diameter"].sources}
    assert wide["tool radius"].contribution == pytest.approx(2.0 * 0.5 / math.sqrt(3.0), rel=1e-5)


async def test_the_budget_of_a_bore_is_that_of_its_circle():
    """The same as the fit's own influence on the centre gives, without shifting a face."""
    spot_ = replace(spot(plate=None, stock=BARE), within=0.8)
    routine = BoreCentre(spot=spot_, centre=(50.0, 40.0), diameter=24.0, deep=15.0, touches=5, offset=1)
    result, _ = await result_of(routine, feature=Bore(50.0, 40.0, 24.0, 15.0))
    faces, judge = result.outcome.faces[1:], result.course.judge
    touches = result.course.touches(result.outcome.faces)[1:]
    fit = fit_circle([face.position[:2] for face in faces])
    weights = [float(row[0]) for row in fit.influence]
    theirs = feature_budget(weights, [judge.budget(touch) for touch in touches])
    # The fit counts along its radii, the touches along their own lines, up to 0.7 mm off the middle: 0.3 %.
    assert result.budgets["X"].u == pytest.approx(theirs.u, rel=0.003)


async def test_a_skewed_corner_does_not_doubt_the_skew_that_it_measures():
    routine = SkewedCorner(spot=spot(), offset=1)
    result, _ = await result_of(routine, skew=math.radians(0.3))
    assert "skew" not in {source.name for source in result.budgets["X"].sources}
    assert result.budgets["rotation"].u > 0.0


async def test_a_single_edge_far_from_the_corner_doubts_the_skew_by_its_distance():
    near, far = [
        (await result_of(SingleEdge(spot=spot(plate=None, stock=BARE), axis=Axis.X, along=along, offset=1)))[0]
        for along in (20.0, 60.0)
    ]
    by = [next(s for s in one.budgets["X"].sources if s.name == "skew").contribution for one in (near, far)]
    assert by[1] == pytest.approx(3.0 * by[0])


async def test_a_surface_repeats_less_well_where_its_contacts_scatter():
    """Contacts that scatter by 0.02 mm are seen, pooled, and in the budget by Student's distribution."""
    machine = bench(machine={"doubts": CERTAIN, "wishes": Wishes(retouches=10, spread=0.3)}, contact_noise=0.02)
    async with machine:
        machine.adapter.stage(scene())
        first = await machine.probe(Surface(spot=spot(), offset=1))
        second = await machine.probe(Surface(spot=spot(), offset=1))
    (one,), (two,) = (
        [source for source in result.budgets["Z"].sources if source.name.startswith("scatter")]
        for result in (first, second)
    )
    assert (one.degrees, two.degrees) == (9, 18)
    assert second.statements["Z"].half_width == pytest.approx(2.1 * 0.02 / math.sqrt(10.0), rel=0.35)


async def test_extrapolated_to_no_speed_the_reaction_time_does_not_matter():
    """Late by 8 ms that nobody knows of, at 100 mm/min and more: still found within a few steps."""
    late = {"latch_s": Limits(0.0, 0.02), "stop_reaction_s": 0.03, "latch_lag_s": 0.008, "stop_delay_s": 0.012}
    machine = bench(machine={"doubts": CERTAIN, "wishes": Wishes(uncertainty=0.003)}, **late)
    async with machine:
        truth = machine.adapter.stage(scene())
        result = await machine.probe(corner_routine())
    assert result.course.touches(result.outcome.faces)[1].plan.extrapolated
    assert result.outcome.offsets[0].new == pytest.approx(truth, abs=0.006)
    assert "reaction time left over" not in {source.name for source in result.budgets["X"].sources}


async def test_after_a_fault_there_is_nothing_to_state():
    machine = bench({"what": "lead off", "contact": 2})
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(corner_routine())
    assert result.fault is not None
    assert (result.budgets, result.statements) == ({}, {})


async def test_a_tool_change_is_a_difference_in_which_the_plate_cancels():
    machine = bench(machine={"doubts": DEFAULTS})
    async with machine:
        machine.adapter.stage(scene())
        before = (await machine.probe(ToolChange(spot=spot()))).outcome.faces[0].position.z
        machine.tool_changed()
        change = await machine.probe(ToolChange(spot=spot(), before=before, offsets=(1,)))
    budget = change.budgets["Z"]
    thickness = [source for source in budget.sources if source.name == "plate thickness"]
    assert sum(source.contribution for source in thickness) == 0.0
    assert budget.correction == 0.0
    assert change.statements["Z"].half_width > 0.0


async def test_the_middle_of_two_faces_follows_each_by_half():
    low, high = (face_budget(about(inward), bench().facts) for inward in (1, -1))
    assert middle_budget(low, high).u < low.u


def about(inward):
    from gingerly.budgets import TouchedFace
    from gingerly.planner import plan_touch

    return TouchedFace(axis=Axis.X, inward=inward, plan=plan_touch(bench().facts, PIN))


async def test_a_judge_without_doubt_corrects_nothing():
    result, _ = await result_of(OutsideCorner(spot=spot(), offset=1), CERTAIN)
    judge = Judge(bench().facts, CERTAIN)
    touches = result.course.touches(result.outcome.faces)
    for touch, face in zip(touches, result.outcome.faces, strict=True):
        assert judge.corrected(touch, face) == face
    assert NOTHING.u == 0.0
