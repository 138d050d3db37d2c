"""The stop test: what a rising tool does when it is touched, when it is stopped, and when nothing stops it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import (
    AlarmActive,
    CircuitNotChecked,
    ControllerRefused,
    ImplausibleContact,
    LinkLost,
    NotStopped,
    Place,
    Position,
    Standstill,
    StartOutsideWindow,
    UnexpectedContact,
    UnsteadyContact,
)
from gingerly.cycle import Cycle, Setup, State
from gingerly.cycle.conditions import is_untold
from gingerly.cycle.stop_test import OWN_STOP, STOP_TEST, expanded, own_stop_cycle, stop_test_cycle
from gingerly.explore.explorer import Explorer
from gingerly.explore.features import stop_test_scenarios
from gingerly.explore.paper import Paper
from gingerly.explore.scenarios import FACTS, HERE, PIN, SITE
from gingerly.geometry import Axis
from gingerly.messages.commands import Sense, Stop, Traverse
from gingerly.routines.stop_test import StopTest, in_words
from support.story import HELD, deviating, tell

LOW = HERE._replace(z=-60.0)
TOUCHED_AT = -54.0
"""Where the controlled point is when a person touches lead and plate together."""

TEST = StopTest(tool=PIN)
LOW_SITE = replace(SITE, here=LOW)


def told(bend=None, *, overrun=0.02, **changes):
    """The first half on paper: the tool rises and is touched."""
    setup = Setup(
        **{
            "facts": FACTS,
            "course": TEST.plan(LOW_SITE),
            "here": LOW,
            "proof": HELD,
            "hand_over": False,
            **changes,
        }
    )
    paper = Paper(LOW, {Axis.Z: TOUCHED_AT}, overrun=overrun)
    return tell(setup, bend, paper=paper, table=stop_test_cycle())


def pressed(bend=None, *, touched_at=1e3):
    """The second half on paper: the tool rises, and what happens then is up to `bend`."""
    setup = Setup(facts=FACTS, course=TEST.plan_own_stop(LOW_SITE), here=LOW, proof=HELD, hand_over=False)
    return tell(setup, bend, paper=Paper(LOW, {Axis.Z: touched_at}), table=own_stop_cycle())


def while_rising(name):
    return deviating(State.APPROACHING, name)


# ---- the touch ----------------------------------------------------------------------------------------------


def test_a_touch_stops_the_rising_tool_and_the_run_ends_there():
    """One sense upwards, no other motion, and how far it ran on is told."""
    story = told()
    assert story.outcome.fault is None
    assert [command.to for command in story.ordered(Sense)] == [Position(LOW.x, LOW.y, -40.0)]
    assert story.ordered(Traverse) == []
    assert dict(story.outcome.measures) == pytest.approx({"ran on": 0.02})
    assert story.outcome.touches == 1


def test_a_tool_that_no_touch_stops_is_called_so():
    """It has risen all the way, and stands there."""
    story = told(while_rising("no contact"))
    assert isinstance(story.fault, NotStopped)
    assert "by 20.000 mm, and no touch of test lead and plate stopped it" in story.fault.detail
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


# ---- the machine's own stop ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("alarm standing", ("alarm after", 20.0)),
        ("short and open", ("standstill after", 10.0)),
        ("timed out", ("silence after", 0.0)),
        ("restarted", ("restart", 0.0)),
        ("homing lost", ("homing lost", 0.0)),
    ],
)
def test_a_stop_is_noticed_by_whatever_it_shows_and_the_machine_is_seen_to_stand(name, found):
    """What is a fault everywhere else is what this test is for; the machine is told to stop all the same."""
    story = pressed(while_rising(name))
    assert story.outcome.fault is None
    assert story.outcome.measures == (found,)
    assert story.outcome.standstill is Standstill.CONFIRMED
    assert len(story.ordered(Stop)) == 1
    assert story.outcome.proof is None


def test_a_stop_that_nothing_tells_of_is_called_so_with_what_follows_from_it():
    story = pressed()
    assert isinstance(story.fault, NotStopped)
    assert "home the machine after every use of its stop" in story.fault.detail


@pytest.mark.parametrize(("name", "fault"), [("refused", ControllerRefused), ("link lost", LinkLost)])
def test_a_refusal_or_a_lost_link_is_no_stop(name, fault):
    """The one may come before any motion; after the other nobody knows whether the machine stands."""
    assert isinstance(pressed(while_rising(name)).fault, fault)


def test_a_touch_while_the_stop_is_tried_is_unexpected():
    assert isinstance(pressed(touched_at=TOUCHED_AT).fault, UnexpectedContact)


def test_an_alarm_before_the_tool_rises_is_no_stop():
    assert isinstance(pressed(deviating(State.CHECKING, "alarm standing")).fault, AlarmActive)


def test_a_machine_that_is_never_seen_to_stand_has_not_been_stopped():
    story = pressed(while_rising("moving for good"))
    assert story.outcome.fault is not None
    assert story.outcome.standstill is Standstill.UNCONFIRMED


# ---- both ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("scenario", stop_test_scenarios(), ids=lambda scenario: scenario.name)
def test_no_single_fault_of_a_stop_test_breaks_an_invariant_or_moves_the_tool_down(scenario):
    """Every deviation at every step ends soundly."""
    findings = Explorer(scenario, faults=1).explore()
    assert findings.counterexample is None, findings.counterexample.story()
    assert findings.runs > 10


def test_a_tool_too_near_to_the_top_is_refused_for_both_rises():
    with pytest.raises(
        StartOutsideWindow, match=r"can rise by 5\.000 mm, .* needs 40\.000 mm: bring it 35\.000 mm lower"
    ) as caught:
        TEST.plan(replace(SITE, here=HERE._replace(z=-5.0)))
    assert "free air" in caught.value.advice


@pytest.mark.parametrize("wrong", [{"height": 4.0}, {"feed": 0.0}, {"feed": float("nan")}])
def test_a_rise_or_a_feed_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match="stop test"):
        StopTest(tool=PIN, **wrong)


def test_what_was_found_is_told_in_words():
    said = in_words((("ran on", 0.0125), ("alarm after", 7.25), ("restart", 0.0)))
    assert said[0] == "a touch stops the motion: the tool ran on 0.013 mm after it"
    assert said[1] == "the machine's own stop is noticed, by an alarm, after 7.250 mm of rise"
    assert said[2].endswith("what it says of its position is not to be trusted")


def test_the_circuit_is_checked_on_the_bench():
    assert TEST.plan(LOW_SITE).places == TEST.plan_own_stop(LOW_SITE).places == (Place.BENCH,)


UNTOLD = 4
"""The row of a machine that cannot tell its circuit: no such machine is explored here."""


@pytest.mark.parametrize(("name", "own"), [("stop test", STOP_TEST), ("own stop", OWN_STOP)])
def test_no_row_of_either_table_can_be_left_out(name, own):
    """Without any one of its own some run with two deviations, the circuit checked or not, finds no rule."""
    scenarios = [scenario for scenario in stop_test_scenarios() if scenario.name.startswith(name)]
    rows, spared = expanded(own), []
    for at in sorted(set(range(1, len(own))) - {UNTOLD}):  # the first row is the beginning itself
        table = Cycle((*rows[:at], *rows[at + 1 :]))
        if all(Explorer(one, faults=2, table=table).explore().counterexample is None for one in scenarios):
            spared.append((rows[at].state, rows[at].when.__name__))
    assert own[UNTOLD].when is is_untold
    assert spared == []
