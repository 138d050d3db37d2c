"""The small tables: which single step of a jog is taken, and what trouble does where nothing is touched."""

from __future__ import annotations

import pytest

from gingerly import CircuitAlreadyClosed, LinkLost, Standstill, UnexpectedContact
from gingerly.cycle import Setup, State
from gingerly.cycle.jog import jog_cycle
from gingerly.cycle.self_check import self_check_cycle
from gingerly.cycle.stop_test import own_stop_cycle, stop_test_cycle
from gingerly.cycle.view import view_cycle
from gingerly.explore.features import every_scenario
from gingerly.explore.paper import Paper
from gingerly.explore.scenarios import FACTS, HERE
from gingerly.geometry import SLACK, Axis, Position
from gingerly.messages.commands import Look, Stop, Traverse
from gingerly.messages.snapshot import Circuit
from gingerly.messages.touches import Leg, Way
from gingerly.routines.jog import JogCourse
from support.story import HELD, deviating, several, tell

SCENARIOS = {scenario.name: scenario for scenario in every_scenario()}
AWAY = Position(100.0, 100.0, -30.0)
EASE = FACTS.position_slack


def _jog(shift, *, closed=True, begun=0.4, bend=None):
    """One step by `shift` from `AWAY`, in a contact met on a line that began `begun` mm further up."""
    back_to = None if begun is None else AWAY.plus(Position(0.0, 0.0, begun))
    course = JogCourse(Way((Leg(AWAY.plus(Position(*shift)), 300.0),)), back_to)
    paper = Paper(AWAY, {Axis.Z: -90.0}, closed=closed)
    setup = Setup(facts=FACTS, course=course, here=AWAY, proof=HELD)
    return tell(setup, bend, paper=paper, table=jog_cycle())


@pytest.mark.parametrize(
    ("shift", "begun", "taken"),
    [
        ((0.0, 0.0, 0.3), 0.4, True),
        ((0.0, 0.0, 0.4), 0.4, True),
        ((0.0, 0.0, 0.4 + 2.0 * SLACK), 0.4, False),
        ((0.0, 0.0, 0.5), 0.4, False),
        ((0.0, 0.0, 2.0 * SLACK), 0.4, True),
        ((0.0, 0.0, 0.0), 0.4, False),
        ((0.0, 0.0, -0.3), 0.4, False),
        ((0.3, 0.0, 0.0), 0.4, False),
        ((EASE * 0.9, 0.0, 0.3), 0.4, True),
        ((EASE * 1.1, 0.0, 0.3), 0.4, False),
        ((EASE * 0.9, 0.0, 0.0), 0.4, False),
        ((0.0, 0.0, 0.3), 0.0, False),
        ((0.0, 0.0, 0.3), None, False),
    ],
)
def test_in_a_contact_only_the_step_back_along_its_line_is_taken(shift, begun, taken):
    """Up to where the line began and not beyond, not on, not aside; and none where nobody knows the line."""
    story = _jog(shift, begun=begun)
    assert bool(story.ordered(Traverse)) is taken
    if not taken:
        assert isinstance(story.fault, CircuitAlreadyClosed)
        assert story.fault.standstill is Standstill.UNMOVED


@pytest.mark.parametrize("shift", [(0.0, 0.0, 0.5), (0.0, 0.0, -0.5), (2.0, 0.0, 0.0)])
def test_in_the_open_every_step_is_taken_and_one_is_all(shift):
    story = _jog(shift, closed=False)
    assert [command.to for command in story.ordered(Traverse)] == [AWAY.plus(Position(*shift))]
    assert story.outcome.fault is None


def test_a_jog_keeps_the_proof_that_it_came_with():
    """What was checked before goes on holding through a step, and is gone with trouble."""
    assert _jog((0.0, 0.0, 0.5), closed=False).outcome.proof == HELD
    troubled = _jog((0.0, 0.0, 0.5), closed=False, bend=deviating(State.TRAVERSING, "refused"))
    assert troubled.outcome.proof is None


@pytest.mark.parametrize(("looks", "standstill"), [(21, Standstill.UNCONFIRMED), (20, Standstill.CONFIRMED)])
@pytest.mark.parametrize("name", ["jog down in the open", "look at zero"])
def test_after_trouble_on_the_way_a_stop_is_ordered_and_standstill_waited_for(name, looks, standstill):
    """Twenty looks and the stop's own answer; then it is not said to stand."""
    scenario, left = SCENARIOS[name], looks

    def bend(at, command, paper):
        nonlocal left
        if at is State.STOPPING:
            paper.changed["idle"] = left <= 0
            left -= 1
        return deviating(State.TRAVERSING, "timed out")(at, command, paper) if at is State.TRAVERSING else None

    story = tell(scenario.setup, bend, paper=scenario.paper(), table=scenario.table())
    assert isinstance(story.after(State.TRAVERSING)[0], Stop)
    assert story.fault.standstill is standstill


@pytest.mark.parametrize("name", ["jog down in the open", "look at zero", "stop test", "own stop", "self check"])
@pytest.mark.parametrize("trouble", ["link lost", "refused", "alarm standing", "elsewhere"])
def test_trouble_at_the_first_look_moves_nothing(name, trouble):
    scenario = SCENARIOS[name]
    bend = deviating(State.CHECKING, trouble)
    story = tell(scenario.setup, bend, paper=scenario.paper(), table=scenario.table())
    assert story.fault.standstill is Standstill.UNMOVED
    assert not story.ordered(Traverse)


@pytest.mark.parametrize("name", ["jog down in the open", "look at zero", "self check"])
def test_a_link_that_stays_lost_ends_the_run_with_standstill_unconfirmed(name):
    scenario = SCENARIOS[name]
    bend = several(deviating(State.TRAVERSING, "link lost"), deviating(State.STOPPING, "link lost"))
    story = tell(scenario.setup, bend, paper=scenario.paper(), table=scenario.table())
    assert isinstance(story.fault, LinkLost)
    assert story.fault.standstill is Standstill.UNCONFIRMED


def test_the_way_to_the_zero_is_walked_leg_by_leg():
    """Up, across, down; the circuit is looked at once before it, and nothing is asked."""
    scenario = SCENARIOS["look at zero"]
    story = tell(scenario.setup, paper=scenario.paper(), table=scenario.table())
    assert [command.to for command in story.ordered(Traverse)] == [leg.to for leg in scenario.setup.course.way.legs]
    assert [type(command) for command in story.commands[:2]] == [Look, Traverse]
    assert story.outcome.fault is None


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_a_circuit_that_closes_on_the_way_to_the_zero_ends_it(turn):
    """The plate was left on after all, or the stock is higher than was thought."""
    scenario = SCENARIOS["look at zero"]
    bend = deviating(State.TRAVERSING, "short and closed", turn=turn)
    story = tell(scenario.setup, bend, paper=scenario.paper(), table=scenario.table())
    assert isinstance(story.fault, UnexpectedContact)
    assert story.violation is None


def test_a_circuit_closed_before_the_way_to_the_zero_moves_nothing():
    scenario = SCENARIOS["look at zero"]
    story = tell(scenario.setup, paper=Paper(HERE, {}, closed=True), table=scenario.table())
    assert isinstance(story.fault, CircuitAlreadyClosed)
    assert not story.ordered(Traverse)


def test_a_machine_that_checks_itself_proves_the_places_of_its_course():
    """After the touch and the way out, and with the restarts that it had then."""
    scenario = SCENARIOS["self check"]
    proof = tell(scenario.setup, paper=scenario.paper(), table=scenario.table()).outcome.proof
    assert proof.places == frozenset(scenario.setup.course.places)
    assert (proof.restarts, proof.waived) == (0, False)


def test_a_self_check_looks_three_times_before_it_moves_and_relies_on_no_earlier_proof():
    scenario = SCENARIOS["self check"]
    story = tell(scenario.setup, paper=scenario.paper(), table=scenario.table())
    assert [type(command) for command in story.commands[:4]] == [Look, Look, Look, Traverse]


def test_a_self_check_that_begins_in_a_closed_circuit_moves_nothing():
    scenario, paper = SCENARIOS["self check"], SCENARIOS["self check"].paper()
    paper.stuck = Circuit.CLOSED
    story = tell(scenario.setup, paper=paper, table=scenario.table())
    assert isinstance(story.fault, CircuitAlreadyClosed)
    assert not story.ordered(Traverse)


@pytest.mark.parametrize("table", [jog_cycle, self_check_cycle, stop_test_cycle, own_stop_cycle, view_cycle])
def test_each_table_is_compiled_once(table):
    """Compiling takes milliseconds, and a jog takes many steps."""
    assert table() is table()
