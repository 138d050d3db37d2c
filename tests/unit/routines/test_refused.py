"""What makes no sense in a routine is refused when it is written down, or before anything moves, and says why."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from gingerly import (
    Axis,
    Limits,
    PlateCalibration,
    Position,
    ReactionTime,
    Repeatability,
    RibMiddle,
    SkewedCorner,
    SlotMiddle,
    SurfaceGrid,
    ToolChange,
    ToolDiameter,
    UnsuitablePlate,
    UnsuitableTool,
)
from gingerly.budgets.touched import TouchedFace
from gingerly.messages.faults import ImplausibleContact
from gingerly.messages.touches import Contact, Face, Finding, Touch, Unusable
from gingerly.routines.self_check import SelfCheck

DOWN = Position(0.0, 0.0, -1.0)


@pytest.mark.parametrize(
    ("kind", "given", "said"),
    [
        (Repeatability, {"touches": 1}, "takes 2 to 100 touches, not 1"),
        (Repeatability, {"touches": 101}, "takes 2 to 100 touches, not 101"),
        (ReactionTime, {"feeds": (100.0,)}, "two different feeds"),
        (ReactionTime, {"feeds": (100.0, 100.0)}, "two different feeds"),
        (ReactionTime, {"feeds": (100.0, 0.0)}, "greater than 0 mm/min"),
        (ReactionTime, {"feeds": (100.0, math.inf)}, "greater than 0 mm/min"),
        (ReactionTime, {"rounds": 0}, "0 rounds: at least 1"),
        (ReactionTime, {"rounds": 26}, "100 touches in all at most"),
        (ToolChange, {"before": -50.0}, "at least one work offset"),
        (ToolChange, {"before": -50.0, "offsets": (1, 1)}, "different numbers from 1 to 9"),
        (ToolChange, {"before": -50.0, "offsets": (0,)}, "different numbers from 1 to 9"),
        (ToolDiameter, {"width": 20.0, "axis": Axis.Z}, "across X or Y, not Z"),
        (RibMiddle, {"centre": (60.0, 45.0), "axis": Axis.Z, "width": 8.0, "length": 40.0, "height": 5.0}, "rib"),
        (SlotMiddle, {"centre": (60.0, 45.0), "axis": Axis.Z, "width": 20.0, "length": 40.0, "deep": 5.0}, "slot"),
        (SkewedCorner, {"long_wall": Axis.Z}, "across X or Y, not Z"),
        (SurfaceGrid, {"uneven": 0.0}, "by more than 0 mm"),
        (SurfaceGrid, {"uneven": math.inf}, "by more than 0 mm"),
    ],
)
def test_what_makes_no_sense_cannot_even_be_written_down(bare, kind, given, said):
    with pytest.raises(ValueError, match=said):
        kind(spot=bare(), **given)


def test_a_machine_checks_its_circuit_on_a_bare_reference_whose_place_is_known(spot, bare, site):
    """On a plate it would touch what a person may have left anywhere."""
    with pytest.raises(UnsuitablePlate, match="fixed, bare reference"):
        SelfCheck(spot=spot()).plan(site())
    assert SelfCheck(spot=bare()).plan(site()).name == "self check"


def test_without_a_plate_there_is_none_to_be_measured(bare, site):
    with pytest.raises(UnsuitablePlate, match="there is no plate to be measured"):
        PlateCalibration(spot=bare()).plan(site())


def test_a_reaction_time_is_not_looked_for_faster_than_the_tool_bears(bare, site):
    fast = bare().touch(site(), "top").plan.fast_feed
    with pytest.raises(UnsuitableTool, match="50 mm/min too fast"):
        ReactionTime(spot=bare(), feeds=(100.0, fast + 50.0)).plan(site())


def test_the_slope_of_contact_against_speed_is_how_late_it_was_latched(bare, site):
    """Two feeds give the slope alone; how sure it is takes a third touch."""
    routine = ReactionTime(spot=bare(), feeds=(50.0, 100.0), rounds=1)
    course = routine.plan(site())
    faces = []
    for number, feed in enumerate((50.0, 100.0)):
        at = Position(0.0, 0.0, -50.0 - 0.004 * feed / 60.0)
        faces.append(Face(f"touch {number}", at, DOWN, (Contact(at, feed, 5.0),)))
    step = course.next(tuple(faces))
    assert isinstance(step, Finding)
    assert dict(step.measures) == {"latch_s": pytest.approx(0.004, abs=1e-9)}


def test_contacts_at_one_speed_have_no_slope(bare, site):
    """However that came about, it is told as a contact that cannot be, and nothing is concluded."""
    course = ReactionTime(spot=bare(), feeds=(50.0, 100.0), rounds=1).plan(site())
    at = Position(0.0, 0.0, -50.0)
    step = course.next((Face("touch", at, DOWN, (Contact(at, 50.0, 5.0),)),) * 2)
    assert isinstance(step, Unusable)
    assert step.fault is ImplausibleContact


def test_a_tools_diameter_shows_across_y_as_well(bare, site):
    """The first wall is touched along the axis that was asked for."""
    for axis in (Axis.X, Axis.Y):
        course = ToolDiameter(spot=bare(), width=90.0 if axis is Axis.Y else 120.0, axis=axis).plan(site())
        walls = [step for step in course.foreseen() if isinstance(step, Touch)][1:]
        assert {
            max(Axis, key=lambda one: abs(wall.direction[one])) for wall in walls if wall.direction.z == 0.0
        } == {axis}


def test_a_direction_that_is_no_unit_vector_is_refused(bare, site):
    with pytest.raises(ValueError, match="length 1, not 2"):
        TouchedFace(axis=Axis.X, inward=1, plan=bare().touch(site(), "top").plan, along=(2.0, 0.0))


def test_a_machine_cannot_latch_a_contact_before_it_is_made(site):
    with pytest.raises(ValueError, match="latch_s cannot begin at"):
        replace(site().facts, latch_s=Limits(-0.001, 0.002))
