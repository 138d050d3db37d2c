"""What the cycle does about each trouble of a touch, told on paper."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import (
    CircuitAlreadyClosed,
    CircuitUnknown,
    ContactsDisagree,
    ControllerRestarted,
    ForeignState,
    ImplausibleContact,
    Interrupted,
    NoAnswer,
    NoContact,
    PlateMoved,
    PositionJumped,
    PositionUnknown,
    SpindleTurning,
    Standstill,
    StillClosed,
    TooEarly,
    UnexpectedContact,
    UnsteadyContact,
)
from gingerly.cycle import State
from gingerly.explore.scenarios import CORNER, FACTS
from gingerly.geometry import Axis, Limits, Position
from gingerly.kinematics import speed_mm_s
from gingerly.messages.commands import Ask, Finish, Look, Sense, Stop, Traverse, WriteOffset
from gingerly.messages.replies import Arrived, Seen
from gingerly.messages.snapshot import Circuit
from support.story import HELD, corner, deviating, several, surface, tell


def test_a_surface_run_touches_once_fast_and_twice_slowly():
    """The plan of a touch is one fast sense and two slow ones, each followed by a back-off."""
    story = tell(surface())
    assert story.outcome.fault is None
    feeds = [round(command.feed) for command in story.ordered(Sense)]
    assert feeds == [647, 150, 150]


def test_a_corner_finds_the_stock_where_it_lies():
    """From tool radius, lips and plate thickness follows the corner itself."""
    story = tell(corner())
    assert dict(story.outcome.found) == pytest.approx(
        {Axis.X: CORNER.x, Axis.Y: CORNER.y, Axis.Z: CORNER.z}, abs=1e-9
    )
    assert story.violation is None


def test_no_contact_retreats_along_the_path_and_writes_nothing():
    """A sense without contact ends the run back at clearance, with the old offset untouched."""
    story = tell(surface(), deviating(State.APPROACHING, "no contact"))
    assert isinstance(story.fault, NoContact)
    assert story.states[-3:] == [State.STOPPING, State.RETREATING, State.FAULTED]
    assert story.session.snapshot.position.z == 0.0
    assert not story.ordered(WriteOffset)
    assert "pushed up to" in story.fault.detail


def test_no_contact_with_an_alarm_latched_moves_no_further():
    """Where a miss leaves an alarm, no retreat is ordered."""
    facts = replace(FACTS, alarm_on_miss=True)

    def miss_into_alarm(state, command, paper):
        if state is State.APPROACHING:
            paper.changed["alarm"] = True
        return deviating(State.APPROACHING, "no contact")(state, command, paper)

    story = tell(surface(facts=facts), miss_into_alarm)
    assert isinstance(story.fault, NoContact)
    assert State.RETREATING not in story.states


def test_a_contact_before_its_window_is_unexpected_and_taken_back():
    """A circuit that closes far above the plate sends the tool back along the line just travelled."""
    story = tell(surface(), deviating(State.APPROACHING, "contact far too early"))
    assert isinstance(story.fault, UnexpectedContact)
    assert story.after(State.STOPPING)[0] == story.ordered(Traverse)[-1]
    assert story.session.snapshot.position.z == 0.0


def test_a_closed_circuit_on_the_way_is_unexpected_contact():
    """A traverse that ends with the circuit closed stops there, and only its own line is taken back."""
    story = tell(corner(), deviating(State.TRAVERSING, "short and closed", turn=4))
    assert isinstance(story.fault, UnexpectedContact)
    assert story.fault.standstill is Standstill.CONFIRMED
    assert story.violation is None


def test_a_circuit_that_stays_closed_gets_one_longer_back_off():
    """Still closed after the back-off: once more back to where the approach began, and there the run ends."""
    story = tell(surface(), deviating(State.BACKING_OFF, "circuit stuck closed"))
    assert isinstance(story.fault, StillClosed)
    assert story.states.count(State.BACKING_OFF) == 2


def test_a_back_off_that_leaves_its_line_with_the_circuit_closed_moves_no_further():
    """The longer back-off would lead along a line that nobody has travelled, through whatever closes the circuit."""

    def aside(state, command, paper):
        if state is not State.BACKING_OFF:
            return None
        rest = paper.answer(command).rest
        here = rest.position.plus(Position(5.0, 0.0, 0.0))
        return Arrived(replace(rest, position=here, circuit=Circuit.CLOSED))

    story = tell(surface(), aside)
    assert isinstance(story.fault, PositionJumped)
    assert [type(command) for command in story.after(State.BACKING_OFF)] == [Stop, Finish]
    assert State.RETREATING not in story.states


def test_a_bounce_is_counted_and_repeated():
    """A contact that is open again after settling does not count, and the touch goes on."""
    story = tell(surface(), deviating(State.CONTACT, "circuit open in one look"))
    assert story.outcome.fault is None
    assert len(story.ordered(Sense)) == 4


def test_bounces_end_when_the_extras_are_spent():
    """A contact that never lasts ends as unsteady after the planned extras."""
    story = tell(surface(), lambda state, command, paper: _open_look(state, command, paper))
    assert isinstance(story.fault, UnsteadyContact)
    assert len(story.ordered(Sense)) == 4


def _open_look(state, command, paper):
    if state is not State.CONTACT:
        return None
    from gingerly.messages.snapshot import Circuit

    return Seen(replace(paper.snapshot(), circuit=Circuit.OPEN))


def test_one_contact_that_disagrees_costs_an_extra_touch():
    """Two slow contacts that differ too much are followed by another, and the latest two count."""
    story = tell(surface(), deviating(State.RETOUCHING, "contact that does not agree"))
    assert story.outcome.fault is None
    assert len(story.ordered(Sense)) == 4
    assert story.outcome.faces[0].position.z == pytest.approx(CORNER.z + 6.0)


def test_contacts_that_never_agree_end_the_run():
    """Scatter beyond the spread ends in a fault once the extras are spent."""
    swing = [deviating(State.RETOUCHING, "contact that does not agree", turn=turn) for turn in (1, 3, 5)]
    story = tell(surface(), several(*swing))
    assert isinstance(story.fault, ContactsDisagree)
    assert not story.ordered(WriteOffset)


def test_contacts_that_march_mean_that_the_plate_moved():
    """Contacts each further on than the one before are never averaged."""
    giving = [deviating(State.RETOUCHING, "plate gives way", turn=turn) for turn in (1, 2, 3, 4, 5)]
    story = tell(surface(), several(*giving))
    assert isinstance(story.fault, PlateMoved)


@pytest.mark.parametrize("deviation", ["ran on too far", "contact too far on"])
def test_a_contact_where_none_can_be_is_implausible(deviation):
    """A contact beyond its window, or with more run-on than allowed, ends the run."""
    story = tell(surface(), deviating(State.APPROACHING, deviation))
    assert isinstance(story.fault, ImplausibleContact)
    assert not story.ordered(WriteOffset)


def test_a_machine_that_rests_beside_its_line_has_jumped():
    """A sense must end on its own line, whatever the circuit says."""
    story = tell(surface(), deviating(State.APPROACHING, "contact beside the line"))
    assert isinstance(story.fault, PositionJumped)


def test_a_retouch_gives_up_a_little_beyond_the_contacts():
    """With the lead off between two touches the tool pushes no further than the plan's reach."""
    story = tell(surface(), deviating(State.RETOUCHING, "lead off"))
    assert isinstance(story.fault, NoContact)
    touch_plan = story.session.touch.plan
    assert story.ordered(Sense)[-1].to.z == pytest.approx(CORNER.z + 6.0 - touch_plan.reach)


@pytest.mark.parametrize(
    ("deviation", "fault"),
    [
        ("restarted", ControllerRestarted),
        ("spindle turning", SpindleTurning),
        ("spindle not told", SpindleTurning),
        ("homing lost", PositionUnknown),
        ("tool length offset in force", ForeignState),
        ("elsewhere", PositionJumped),
        ("still moving", PositionJumped),
        ("circuit not told", CircuitUnknown),
        ("sooner than can be", TooEarly),
        ("timed out", NoAnswer),
    ],
)
def test_trouble_on_the_way_stops_the_machine(deviation, fault):
    """Whatever a snapshot gives away on the way is answered with a stop, and nothing is written."""
    story = tell(surface(), deviating(State.TRAVERSING, deviation))
    assert isinstance(story.fault, fault)
    assert isinstance(story.after(State.TRAVERSING)[0], Stop)
    assert not story.ordered(WriteOffset)
    assert story.violation is None


def test_an_answer_sooner_than_the_feed_allows_is_not_believed():
    """A motion reported as over in less time than distance / feed was not made as ordered."""
    from gingerly.cycle import cycle
    from gingerly.explore.scenarios import paper_at

    session, command = cycle().start(surface())
    paper = paper_at()
    cycle().advance(session, paper.answer(command), 0.001)
    traverse = session.command
    needed = session.snapshot.position.distance(traverse.to) / speed_mm_s(FACTS.rapid_feed)
    cycle().advance(session, paper.answer(traverse), 0.5 * needed)
    assert session.blame.fault is TooEarly


def test_an_interruption_stops_and_goes_nowhere():
    """After Ctrl-C the machine is stopped where it is; nobody wants it to move then."""
    story = tell(surface(), deviating(State.APPROACHING, "done, then interrupted"))
    assert isinstance(story.fault, Interrupted)
    assert isinstance(story.after(State.APPROACHING)[0], Stop)
    assert len([c for c in story.after(State.APPROACHING) if isinstance(c, Traverse | Sense)]) == 0


def test_a_closed_circuit_at_the_beginning_orders_no_motion():
    """A circuit that is closed before anything was touched ends the run at once."""
    story = tell(surface(), deviating(State.CHECKING, "circuit stuck closed"))
    assert isinstance(story.fault, CircuitAlreadyClosed)
    assert story.fault.standstill is Standstill.UNMOVED
    assert [type(command) for command in story.commands[:-1]] == [Look]


def test_a_machine_that_cannot_tell_the_circuit_needs_a_waiver():
    """Without a person's waiver a machine that is blind to the circuit moves nothing."""
    blind = replace(FACTS, circuit_known=False)
    story = tell(surface(facts=blind), lambda s, c, paper: paper.changed.update(circuit=None))
    assert isinstance(story.fault, CircuitUnknown)
    assert not story.ordered(Traverse)


def test_a_blind_run_with_a_waiver_is_done_but_unconfirmed():
    """With the waiver the operator's word stands for the circuit, and the result says so."""
    blind = replace(FACTS, circuit_known=False)
    setup = surface(facts=blind, blind_waiver=True, proof=None)
    story = tell(setup, lambda s, c, paper: paper.changed.update(circuit=None))
    assert story.outcome.fault is None
    assert "operator's word" in story.outcome.unconfirmed[0]
    assert len(story.ordered(Ask)) == 3


def test_the_reaction_time_that_two_feeds_imply_must_lie_within_the_facts():
    """A fast contact further on than the latch bounds allow disagrees with the slow ones."""
    facts = replace(FACTS, latch_s=Limits(0.0, 0.002))
    late = replace(surface(facts=facts, proof=HELD))

    def fast_contact_late(state, command, paper):
        return deviating(State.APPROACHING, "contact that does not agree")(state, command, paper)

    assert isinstance(tell(late, fast_contact_late).fault, ContactsDisagree)
    assert tell(late).outcome.fault is None
