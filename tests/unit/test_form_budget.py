"""How far off a form may be: what is stated bounds it, whether there truly is a form or not."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from scipy import stats

from gingerly import Axis, BoreCentre, PlateCalibration, SurfaceGrid, ToolDiameter
from gingerly.budgets import DEFAULTS, NOTHING, TouchedFace, face_budget
from gingerly.budgets.form import form_budget
from gingerly.fits import fit_circle, fit_plane
from gingerly.geometry import Position
from gingerly.messages.touches import Contact, Face
from gingerly.planner import plan_touch
from gingerly.routines.round_feature import rounded
from gingerly.routines.surface_grid import _flattened
from gingerly.statistics.ranges import range_quantile
from gingerly.uncertainty import Arcsine
from gingerly.uncertainty.dice import drawn
from gingerly_mock import Bore
from support.bench import PIN, PLACE, PLATE, STOCK, bench, scene, spot

FACTS = replace(bench().facts, backlash=0.02)
PLAN = plan_touch(FACTS, PIN)
BARE = replace(STOCK, conductive=True)


@pytest.mark.parametrize(
    ("count", "published"), [(2, 2.77), (3, 3.31), (4, 3.63), (5, 3.86), (8, 4.29), (10, 4.47), (20, 5.01)]
)
def test_the_range_of_normal_readings_is_that_of_the_tables(count, published):
    """Upper 5 % points of the range, σ known (Pearson and Hartley, Biometrika Tables for Statisticians, vol. 1,
    from memory), and the studentized range of a general statistics library with degrees of freedom without end."""
    assert range_quantile(0.95, count) == pytest.approx(published, abs=0.005)
    assert range_quantile(0.95, count) == pytest.approx(
        stats.studentized_range.ppf(0.95, count, math.inf), abs=1e-5
    )


def test_a_range_takes_two_readings():
    with pytest.raises(ValueError, match=r"2 readings, not 0\.95 and 1"):
        range_quantile(0.95, 1)


def found(x, y, z, way):
    at = Position(x, y, z)
    return Face("wall", at, way, (Contact(at, 100.0, 5.0),) * 3)


def round_case(count, form, error):
    """A bore of radius 9 mm, out of round by `form` as an oval, found with one error for each touch."""
    angles = [math.tau * number / count for number in range(count)]
    radii = [9.0 + form / 2.0 * math.cos(2.0 * angle) for angle in angles]
    ways = [Position(math.cos(angle), math.sin(angle), 0.0) for angle in angles]
    true = [found(r * way.x, r * way.y, 0.0, way) for r, way in zip(radii, ways, strict=True)]
    faces = tuple(
        found(face.position.x - e * face.direction.x, face.position.y - e * face.direction.y, 0.0, face.direction)
        for face, e in zip(true, error, strict=True)
    )
    fits = [fit_circle([face.position[:2] for face in of]).form for of in (true, faces)]
    return rounded(tuple(true)), fits


def flat_case(count, form, error):
    """A face of count × count places, one of which stands out by `form`, found with one error for each touch."""
    down = Position(0.0, 0.0, -1.0)
    points = [(20.0 * (n % count), 20.0 * (n // count), form if n == 0 else 0.0) for n in range(count * count)]
    faces = [found(x, y, z - e, down) for (x, y, z), e in zip(points, error, strict=True)]
    return _flattened(tuple(faces)), [fit_plane(points).form, fit_plane([face.position for face in faces]).form]


def errors(dice, budgets):
    """One draw of everything in doubt: by how much the true coordinate of each face lies beyond the one found."""
    common = {}
    for budget in budgets:
        for source in budget.sources:
            if source.shared is not None and source.shared not in common:
                angle = dice.uniform(0.0, math.tau)
                size = (
                    source.shape.amplitude
                    if isinstance(source.shape, Arcsine)
                    else drawn(dice, source.shape.centred())
                )
                common[source.shared] = size, angle if isinstance(source.shape, Arcsine) else None

    def amount(source):
        if source.shared is None:
            return source.sensitivity * drawn(dice, source.shape.centred())
        size, angle = common[source.shared]
        if angle is None:
            return source.sensitivity * size
        return size * (source.sensitivity * math.cos(angle) + source.across * math.sin(angle))

    return [sum(amount(source) for source in budget.sources) for budget in budgets]


CASES = [
    *(
        pytest.param(round_case, count, form, id=f"round {count} {form}")
        for count in (4, 5, 8)
        for form in (0.0, 0.1)
    ),
    *(pytest.param(flat_case, count, form, id=f"flat {count} {form}") for count in (2, 3) for form in (0.0, 0.1)),
]


@pytest.mark.thorough
@pytest.mark.parametrize(("case", "count", "form"), CASES)
def test_the_form_found_lies_within_what_is_stated_of_the_true_one(case, count, form):
    """In 95 % of 400 draws at least, less three standard deviations of that share, whether there is a form or none."""
    doubts = replace(DEFAULTS, form=NOTHING, spindle_growth=NOTHING)
    if case is flat_case:
        abouts = [TouchedFace(axis=Axis.Z, inward=-1, plan=PLAN)] * count**2
    else:
        ways = [(math.cos(a), math.sin(a)) for a in (math.tau * n / count for n in range(count))]
        abouts = [TouchedFace(axis=Axis.X, inward=1, plan=PLAN, along=way) for way in ways]
    budgets = [face_budget(about, FACTS, doubts) for about in abouts]
    fitted, _ = case(count, form, [0.0] * len(budgets))
    half = form_budget(fitted, budgets, [about.way for about in abouts]).stated().half_width
    dice, inside = random.Random(count), 0
    for _ in range(400):
        _, (true, seen) = case(count, form, errors(dice, budgets))
        inside += abs(seen - true) <= half
    assert inside / 400 >= 0.95 - 3.0 * math.sqrt(0.95 * 0.05 / 400)


def test_what_acts_on_all_touches_alike_is_no_error_of_a_form_and_an_uneven_backlash_is():
    """The radius, the spring and the runout go into size and middle of a circle; a backlash makes it an oval."""
    ways = [(math.cos(a), math.sin(a)) for a in (math.tau * n / 8 for n in range(8))]
    abouts = [TouchedFace(axis=Axis.X, inward=1, plan=PLAN, along=way) for way in ways]
    fitted, _ = round_case(8, 0.0, [0.0] * 8)
    budget = form_budget(fitted, [face_budget(about, FACTS) for about in abouts], ways)
    names = {source.name for source in budget.sources}
    assert not names & {"tool radius", "spring", "runout", "reaction time left over", "form of the face"}
    assert {"X backlash", "Y backlash", "resolution, greatest of 8"} <= names


def test_three_touches_leave_nothing_to_have_a_form():
    fitted, _ = round_case(3, 0.0, [0.0] * 3)
    with pytest.raises(ValueError, match="3 places leave nothing of a fit with 3 unknowns"):
        form_budget(fitted, [], [])


async def result_of(routine, blank, feature=None):
    machine = bench(machine={"doubts": DEFAULTS})
    async with machine:
        machine.adapter.stage(blank)
        if feature is not None:
            machine.adapter.mill(feature)
        return await machine.probe(routine)


@pytest.mark.asyncio
async def test_a_bore_states_its_form_and_a_grid_its_flatness_its_tilt_and_its_shims():
    bare = replace(spot(plate=None, stock=BARE), within=0.8)
    bore = BoreCentre(spot=bare, centre=(50.0, 40.0), diameter=24.0, deep=15.0)
    blank = scene(stock=BARE, plate=None, within=0.5)
    found_bore = await result_of(bore, blank, Bore(50.0, 40.0, 24.0, 15.0))
    grid = await result_of(SurfaceGrid(spot=bare, supports=((10.0, 10.0), (90.0, 70.0))), blank)
    assert 0.0 < found_bore.statements["out of round"].half_width < 0.02
    assert {"flatness", "tilt along X", "tilt along Y", "shim 1", "shim 2"} <= set(grid.statements)
    assert 0.0 < grid.statements["flatness"].half_width < 0.02


@pytest.mark.asyncio
async def test_what_a_calibration_looks_for_is_none_of_its_own_doubts():
    """A tool's diameter does not depend on what was thought of its radius, nor a plate's sizes on what was stated."""
    blank = scene(stock=BARE, plate=None, within=0.5)
    bare = replace(spot(plate=None, stock=BARE), within=0.8)
    width = await result_of(ToolDiameter(spot=bare, width=110.0, half_turn=True), blank)
    seated = replace(spot(plate=PLATE, stock=BARE), within=0.8, place=PLACE)
    plate = await result_of(PlateCalibration(spot=seated), scene(stock=BARE, within=0.5))
    for result, names in ((width, {"tool radius"}), (plate, {"plate thickness", "lip a", "lip b"})):
        for budget in result.budgets.values():
            assert not {source.name for source in budget.sources if source.contribution > 0.0} & names
    assert {"diameter", "runout along X"} == set(width.budgets)
    assert {"top", "lip a", "lip b"} == set(plate.budgets)


@pytest.mark.asyncio
async def test_a_plate_is_measured_against_bare_metal_that_skew_has_moved_and_no_gap_lies_under():
    """Lip a is touched 15 mm from the corner and the wall itself where the plate has ended: skew acts on what lies
    between. The gap under the plate is taken off its top once, by its middle of 0.01 mm; the bare top has none."""
    seated = replace(spot(plate=PLATE, stock=BARE), within=0.8, place=PLACE)
    found = await result_of(PlateCalibration(spot=seated), scene(stock=BARE, within=0.5))
    lip, bare = (found_at(found, name).position.y for name in ("X wall", "bare X wall"))
    skew, gap = named(found.budgets["lip a"], "skew"), named(found.budgets["top"], "seating")
    assert skew.sensitivity == pytest.approx(bare - lip, abs=1e-3)
    assert abs(skew.sensitivity) > 25.0
    assert abs(gap.sensitivity) == pytest.approx(1.0)
    assert found.statements["top"].correction == pytest.approx(-0.01, abs=1e-6)


@pytest.mark.asyncio
async def test_a_wall_touched_again_after_half_a_turn_has_the_same_form():
    """So it cancels in the runout, and does not average out in the diameter: each wall's counts fully."""
    bare = replace(spot(plate=None, stock=BARE), within=0.8)
    blank = scene(stock=BARE, plate=None, within=0.5)
    found = await result_of(ToolDiameter(spot=bare, width=110.0, half_turn=True), blank)
    forms = {
        name: [source.sensitivity for source in budget.sources if source.name == "form of the face"]
        for name, budget in found.budgets.items()
    }
    assert forms["runout along X"] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert [abs(share) for share in forms["diameter"]] == pytest.approx([1.0, 1.0], abs=1e-6)


def named(budget, name):
    """The one source of this name."""
    (found,) = [source for source in budget.sources if source.name == name]
    return found


def found_at(result, name):
    """The face that the touch of this name found."""
    (found,) = [face for face in result.outcome.faces if face.touch == name]
    return found
