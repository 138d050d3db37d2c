"""The stop test: what a rising tool does when it is touched, when it is not, and that it never comes down."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import CircuitNotChecked, ImplausibleContact, NoContact, Position, StartOutsideWindow, UnsteadyContact
from gingerly.cycle import Setup, State
from gingerly.cycle.stop_test import stop_test_cycle
from gingerly.explore.explorer import Explorer
from gingerly.explore.paper import Paper
from gingerly.explore.scenarios import FACTS, HERE, PIN, SITE, Scenario
from gingerly.geometry import Axis
from gingerly.messages.commands import Sense, Traverse
from gingerly.routines.stop_test import StopTest
from support.story import HELD, deviating, tell

LOW = HERE._replace(z=-30.0)
TOUCHED_AT = -24.0
"""Where the controlled point is when a person touches the rising tool."""


def setup(**changes):
    course = StopTest(tool=PIN).plan(replace(SITE, here=LOW))
    return Setup(**{"facts": FACTS, "course": course, "here": LOW, "proof": HELD, "hand_over": False, **changes})


def paper(*, overrun=0.02):
    return Paper(LOW, {Axis.Z: TOUCHED_AT}, overrun=overrun)


def told(bend=None, *, overrun=0.02, **changes):
    return tell(setup(**changes), bend, paper=paper(overrun=overrun), table=stop_test_cycle())


def test_a_touch_stops_the_rising_tool_and_the_run_ends_there():
    """One sense upwards, no other motion, and how far it ran on is told."""
    story = told()
    assert story.outcome.fault is None
    assert [command.to for command in story.ordered(Sense)] == [Position(LOW.x, LOW.y, -10.0)]
    assert story.ordered(Traverse) == []
    assert dict(story.outcome.measures) == pytest.approx({"ran on": 0.02})


def test_a_tool_that_nobody_touches_is_no_proof():
    """It has risen all the way: whether a touch would have stopped it, nobody knows."""
    story = told(deviating(State.APPROACHING, "no contact"))
    assert isinstance(story.fault, NoContact)
    assert story.ordered(Traverse) == []


def test_a_motion_that_runs_on_too_far_is_a_fault():
    """The tool bears 0.3 mm, and it ran on by 0.5."""
    story = told(overrun=0.5)
    assert isinstance(story.fault, ImplausibleContact)
    assert "0.500 mm past it" in story.fault.detail


def test_a_touch_that_does_not_last_is_no_proof():
    """It may have been noise."""
    assert isinstance(told(deviating(State.CONTACT, "circuit open in one look")).fault, UnsteadyContact)


def test_nothing_rises_before_the_circuit_was_checked_standing_still():
    story = told(proof=None)
    assert isinstance(story.fault, CircuitNotChecked)
    assert story.ordered(Sense) == []


def test_no_single_fault_of_a_stop_test_breaks_an_invariant_or_moves_the_tool_down():
    """Every deviation at every step ends soundly."""
    findings = Explorer(Scenario("stop test", setup(), paper, stop_test_cycle), faults=1).explore()
    assert findings.counterexample is None, findings.counterexample.story()
    assert findings.runs > 50


def test_a_tool_too_near_to_the_top_is_refused():
    with pytest.raises(
        StartOutsideWindow, match=r"can rise by 5\.000 mm, .* needs 20\.000 mm: bring it 15\.000 mm lower"
    ):
        StopTest(tool=PIN).plan(replace(SITE, here=HERE))


@pytest.mark.parametrize("wrong", [{"height": 4.0}, {"feed": 0.0}, {"feed": float("nan")}])
def test_a_rise_or_a_feed_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match="stop test"):
        StopTest(tool=PIN, **wrong)
