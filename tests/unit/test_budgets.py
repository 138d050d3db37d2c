"""The budget of a face: every source with the sign that the metal gives it, and what cancels where."""

import math
from dataclasses import replace

import pytest

from gingerly import Axis, Box, Limits, MachineFacts, Position, Tool, Wishes
from gingerly.budgets import (
    EITHER,
    Doubts,
    Judge,
    TouchedFace,
    face_budget,
    feature_budget,
    middle_budget,
    pooled_scatter,
    touched,
    width_budget,
)
from gingerly.fits import fit_circle
from gingerly.messages.touches import Contact, Face, Touch
from gingerly.planner import plan_touch
from gingerly.statistics.summary import Pooled
from gingerly.uncertainty import Arcsine, Flat, Normal, TwoValued, covariance

FACTS = MachineFacts(
    name="invented",
    envelope=Box(Position(0.0, 0.0, -100.0), Position(300.0, 200.0, 0.0)),
    resolution=0.0025,
    acceleration=500.0,
    top_feed=3000.0,
    rapid_feed=3000.0,
)
PLAN = plan_touch(FACTS, Tool.pin(3.175, free_length=20.0), Wishes(slow_feed=25.0, retouches=3))
SPEED = 25.0 / 60.0


def wall(axis=Axis.X, inward=1, **more):
    return TouchedFace(axis=axis, inward=inward, plan=PLAN, **more)


def predicted(budget, amounts):
    """Return how far, by the budget's sensitivities, the true face lies beyond the one found."""
    known = [one for one in budget.sources if one.name in amounts]
    assert {one.name for one in known} == set(amounts)
    return sum(one.sensitivity * amounts[one.name] for one in known)


@pytest.mark.parametrize("inward", [1, -1])
@pytest.mark.parametrize("axis", [Axis.X, Axis.Y])
def test_every_source_of_a_wall_has_the_sign_that_the_metal_gives_it(axis, inward):
    """A touch told step by step: where the tool really meets the lip, and what the machine makes of it."""
    true, radius, lip, beside = 40.0, 1.5875, 9.5, 15.0
    skew, bulge, gap, thicker, wider, off, yields, late = 1e-3, 3e-3, 0.02, 7e-3, 4e-3, 0.011, 2e-3, 4e-4
    turned = true + (-skew * beside if axis is Axis.X else skew * beside)
    touched = turned - inward * (bulge + gap + lip + thicker)
    spindle = touched - inward * (radius + wider) - off
    latched = spindle + inward * yields + inward * SPEED * late
    found = latched + inward * (radius + lip)
    amounts = {
        "skew": skew,
        "form of the face": bulge,
        "seating": gap,
        "lip A": thicker,
        "tool radius": wider,
        "spring": yields,
        "reaction time left over": late,
    }
    budget = face_budget(wall(axis, inward, lip="A", beside=beside), FACTS)
    assert predicted(budget, amounts) + off == pytest.approx(true - found, abs=1e-12)


def test_every_source_of_a_top_face_has_the_sign_that_the_metal_gives_it():
    true, plate = -30.0, 12.7
    bulge, gap, thicker, yields, late, growth = 3e-3, 0.02, 7e-3, 2e-3, 4e-4, 6e-3
    touched = true + bulge + gap + plate + thicker
    latched = touched - yields - SPEED * late
    found = latched - plate
    amounts = {
        "form of the face": bulge,
        "seating": gap,
        "plate thickness": thicker,
        "spring": yields,
        "reaction time left over": late,
        "spindle growth": growth,
    }
    # A spindle that grew by then must stay that much higher to bring the tip to the same place.
    wanted = true + growth - found
    budget = face_budget(wall(Axis.Z, -1, plate=True), FACTS)
    assert predicted(budget, amounts) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("approach", [1, -1])
@pytest.mark.parametrize("inward", [1, -1])
def test_backlash_counts_only_for_work_approached_the_other_way(approach, inward):
    """Moving towards plus, the slide trails the screw: the same place is commanded `backlash` higher than on the
    way back."""
    commanded = {1: 40.03, -1: 40.0}
    doubts = Doubts(backlash=Flat(0.0, 0.03), approach=(approach, EITHER, -1))
    budget = face_budget(wall(inward=inward), FACTS, doubts)
    assert budget.correction == pytest.approx(commanded[approach] - commanded[inward], abs=1e-12)


def test_backlash_of_an_unknown_side_is_half_known_and_half_not():
    """Work approached from either side is off by nothing or by the whole: ± half of it about half of it."""
    left, right = (face_budget(wall(inward=d), FACTS, Doubts(backlash=Flat(0.0, 0.03))) for d in (-1, 1))
    assert (left.correction, right.correction) == pytest.approx((0.015, -0.015))
    middle, width = middle_budget(left, right), width_budget(left, right)
    assert (middle.correction, width.correction) == pytest.approx((0.0, -0.03), abs=1e-15)
    sides = [next(one for one in budget.sources if one.shared == "X side") for budget in (middle, width)]
    assert sides[0].shape == TwoValued(0.015)
    assert [one.contribution for one in sides] == pytest.approx([0.015, 0.0])


def test_the_backlash_of_the_facts_is_taken_as_the_most():
    budget = face_budget(wall(), replace(FACTS, backlash=0.04))
    assert next(one for one in budget.sources if one.name == "X backlash").shape == Flat.between(0.02, 0.04)
    assert budget.correction == pytest.approx(-0.015)
    down = face_budget(wall(Axis.Z, -1), replace(FACTS, backlash=0.04))
    assert not any("backlash" in one.name for one in down.sources)


def test_in_the_middle_of_a_slot_the_radius_cancels_and_runout_does_not():
    left, right = (face_budget(wall(inward=d), FACTS) for d in (-1, 1))
    middle, width = (
        {one.shared: one.contribution for one in budget.sources if one.shared is not None}
        for budget in (middle_budget(left, right), width_budget(left, right))
    )
    assert (middle["tool radius"], middle["spring"], middle["reaction time"]) == (0.0, 0.0, 0.0)
    assert middle["runout"] == pytest.approx(0.015 / math.sqrt(2.0))
    assert width["runout"] == 0.0
    assert width["tool radius"] == pytest.approx(2.0 * 0.005 / math.sqrt(3.0))


def test_skew_ties_x_to_y_and_runout_does_not():
    x = face_budget(wall(Axis.X, lip="A", beside=15.0), FACTS)
    y = face_budget(wall(Axis.Y, lip="B", beside=10.0), FACTS)
    skew, radius, spring = math.radians(0.1) ** 2 / 3.0, 0.005**2 / 3.0, 0.002**2 / 3.0
    late = (SPEED * 0.0005) ** 2 / 3.0  # ± 1 ms by the facts, less half a sample interval
    assert covariance(x, y) == pytest.approx(-150.0 * skew + radius + spring + late, rel=1e-9)


def test_of_observed_scatter_and_latching_model_the_larger_counts_and_not_both():
    small = face_budget(wall(observed=Pooled(1e-5, 18)), FACTS)
    large = face_budget(wall(observed=Pooled(0.004, 18)), FACTS)
    assert [one.name for one in small.sources][:2] == ["latching, mean of 3", "resolution"]
    assert large.sources[0].name == "scatter observed, mean of 3"
    assert large.sources[0].contribution == pytest.approx(0.004 / math.sqrt(3.0))
    assert not any("latching" in one.name for one in large.sources)


def test_a_single_touch_has_the_flat_latching_of_its_fast_feed():
    fast = plan_touch(FACTS, Tool.pin(3.175, free_length=20.0), Wishes(fast_feed=240.0, retouches=0))
    budget = face_budget(replace(wall(), plan=fast), FACTS)
    assert budget.sources[0].shape == Flat(4.0 * FACTS.sample_interval_s / 2.0)
    twice = face_budget(replace(wall(), plan=replace(fast, retouches=2, slow_feed=240.0)), FACTS)
    assert twice.sources[0].shape.u == pytest.approx(budget.sources[0].shape.u / math.sqrt(2.0))


def test_scatter_is_pooled_over_faces_and_earlier_touches():
    def touched(*distances):
        contacts = tuple(Contact(Position(0.0, 0.0, d), 25.0, d) for d in distances)
        return Face("x", Position(0.0, 0.0, 0.0), Position(1.0, 0.0, 0.0), contacts)

    faces = [touched(5.2, 5.0, 5.002), touched(7.1, 7.0, 7.002)]
    assert pooled_scatter(faces) == Pooled(pytest.approx(0.002 / math.sqrt(2.0)), 2)
    assert pooled_scatter(faces, earlier=[[1.0, 1.002, 1.004]]).dof == 4
    assert pooled_scatter([touched(5.2, 5.0)]) is None


def test_a_calibrated_latch_and_a_certificate_replace_the_defaults():
    doubts = Doubts(
        latch_s=Limits(PLAN.latch_s - 0.0005, PLAN.latch_s + 0.0005),
        lip=Normal.expanded(0.004, k=2.0),
        runout=Arcsine(0.0),
        rehoming=Flat(0.02),
    )
    found = {one.name: one for one in face_budget(wall(lip="A", shortfall=0.1), FACTS, doubts).sources}
    assert found["reaction time left over"].contribution == pytest.approx(0.000120, abs=5e-7)
    assert found["lip A"].contribution == pytest.approx(0.002)
    assert found["runout"].contribution == 0.0
    assert found["X re-homing"].contribution == pytest.approx(0.02 / math.sqrt(3.0))
    assert found["flutes reading short"].correction == pytest.approx(-0.05)


def test_a_touch_of_bare_metal_has_neither_plate_nor_lip_nor_seating():
    names = {
        one.name
        for inward, axis in ((1, Axis.X), (-1, Axis.Z))
        for one in face_budget(wall(axis, inward), FACTS).sources
    }
    assert not names & {"seating", "plate thickness", "skew", "lip A"}


@pytest.mark.parametrize(
    ("act", "why"), [(lambda: wall(inward=0), "along"), (lambda: Doubts(approach=(0, 2, 0)), "approached along")]
)
def test_a_direction_is_plus_or_minus_one(act, why):
    with pytest.raises(ValueError, match=why):
        act()


def test_a_coordinate_is_rounded_when_reported_and_when_stored():
    """Two steps of 0.001 mm: 0.001/√6 (JCGM 100:2008, F.2.2.1, from memory, taken twice)."""
    found = {one.name: one.contribution for one in Judge(FACTS).stored(face_budget(wall(), FACTS)).sources}
    both = math.hypot(found["report rounding"], found["storage rounding"])
    assert both == pytest.approx(0.000408, abs=5e-7)


def test_a_round_wall_met_beside_its_middle_acts_along_its_own_normal():
    """Touched along X where the wall leans by 0.1 rad: a shift r of the wall moves the contact by r/cos 0.1, a
    shift of the tool by (x, y) moves it by x + y·tan 0.1. Of the machine, which moves along X, nothing changes."""
    cos, sin = math.cos(0.1), math.sin(0.1)
    for inward in (1, -1):
        straight = {one.name: one for one in face_budget(wall(inward=inward), FACTS).sources}
        leaning = face_budget(wall(inward=inward, normal=(inward * cos, inward * sin)), FACTS)
        found = {one.name: one for one in leaning.sources}
        assert found["tool radius"].sensitivity == pytest.approx(inward / cos)
        assert (found["runout"].sensitivity, found["runout"].across) == pytest.approx((1.0, math.tan(0.1)))
        assert found["resolution"] == straight["resolution"]


def test_the_centre_of_a_bore_is_free_of_the_radius_and_has_the_whole_runout():
    """Three touches outward, 120° apart, counted along their own directions and weighted by the fit."""
    angles = [math.radians(angle) for angle in (10.0, 130.0, 250.0)]
    ways = [(math.cos(angle), math.sin(angle)) for angle in angles]
    fit = fit_circle([(8.0 * x, 8.0 * y) for x, y in ways])
    faces = [face_budget(wall(along=way), FACTS) for way in ways]
    centre, radius = (feature_budget([row[i] for row in fit.influence], faces) for i in (0, 2))
    found = {one.shared: one for one in centre.sources if one.shared is not None}
    assert found["tool radius"].contribution == pytest.approx(0.0, abs=1e-15)
    assert (found["runout"].sensitivity, found["runout"].across) == pytest.approx((1.0, 0.0), abs=1e-12)
    found = {one.shared: one for one in radius.sources if one.shared is not None}
    assert found["tool radius"].contribution == pytest.approx(0.005 / math.sqrt(3.0))
    assert found["runout"].contribution == pytest.approx(0.0, abs=1e-15)


def test_backlash_of_an_oblique_touch_acts_on_each_axis_by_its_own_way():
    """Towards plus X and minus Y, work approached towards plus on both: X is right, Y is off by the whole."""
    way = (0.8, -0.6)
    doubts = Doubts(backlash=Flat(0.0, 0.02), approach=(1, 1, -1))
    assert face_budget(wall(along=way), FACTS, doubts).correction == pytest.approx(-0.6 * 0.02)


def test_a_touch_tells_which_way_its_face_is_counted():
    def going(x, y, z):
        start, end = Position(0.0, 0.0, 0.0), Position(x, y, z)
        return Touch(name="t", legs=(), start=start, end=end, near=0.0, far=5.0, exit=start, plan=PLAN)

    down, left, oblique = (touched(going(*way)) for way in ((0, 0, -3.0), (-2.0, 0, 0), (3.0, 4.0, 0)))
    assert (down.axis, down.inward, down.along) == (Axis.Z, -1, None)
    assert (left.axis, left.inward, left.along) == (Axis.X, -1, None)
    assert (oblique.inward, oblique.along) == (1, pytest.approx((0.6, 0.8)))
    with pytest.raises(ValueError, match="along Z or across it"):
        touched(going(0.0, 3.0, 4.0))
