"""The circuit is checked before anything relies on it, and hands are clear before anything moves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import CircuitAlreadyClosed, CircuitNotChecked, Declined, Interrupted, NoAnswer, Standstill
from gingerly.cycle import Setup, State, cycle
from gingerly.cycle import notes as n
from gingerly.explore.scenarios import FACTS, HERE, SITE, SPOT
from gingerly.messages.commands import Answer, Ask, Look, Question, Sense, Traverse
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import Answered, Seen
from gingerly.messages.snapshot import Circuit, InForce, Snapshot
from gingerly.messages.touches import Place
from gingerly.routines import OutsideCorner
from gingerly.routines.course import CircuitCheck
from support.story import HELD, corner, deviating, surface, tell


def _questions(story):
    return [command.question for command in story.ordered(Ask)]


def test_a_corner_is_checked_at_tip_and_flank_before_anything_moves():
    """The circuit is seen closed where Z touches and where X and Y touch, and open after each."""
    story = tell(corner(proof=None))
    assert _questions(story)[:4] == [
        Question.CLOSE_AT_TIP,
        Question.OPEN,
        Question.CLOSE_AT_FLANK,
        Question.CLEAR,
    ]
    first_motion = next(i for i, command in enumerate(story.commands) if isinstance(command, Traverse))
    assert sum(isinstance(command, Ask) for command in story.commands[:first_motion]) == 4
    assert story.outcome.proof is None, "released at the end"


def test_the_proof_serves_the_next_run_of_the_same_attachment():
    """Without a release in between, the proof that comes out of one run spares the next one the check."""
    first = tell(corner(proof=None, hand_over=False))
    second = tell(corner(proof=first.outcome.proof))
    assert first.outcome.proof == Proof(frozenset({Place.TIP, Place.FLANK}), restarts=0)
    assert _questions(second) == [Question.RELEASE]


@pytest.mark.parametrize("restarts", [7, -1])
def test_a_proof_from_before_a_restart_is_void(restarts):
    """A controller that restarted between two runs has its circuit checked again, however it counts."""
    story = tell(corner(proof=Proof(HELD.places, restarts=restarts)))
    assert Question.CLOSE_AT_TIP in _questions(story)


def test_a_proof_of_the_tip_does_not_cover_the_flank():
    """What was seen to close at the tip only is checked anew where walls are touched."""
    story = tell(corner(proof=Proof(frozenset({Place.TIP}), restarts=0)))
    assert Question.CLOSE_AT_FLANK in _questions(story)


def test_a_circuit_that_never_closes_moves_nothing():
    """A lead that is not clipped on is found before the machine moves."""
    story = tell(surface(proof=None), deviating(State.AWAITING_CLOSED, "said yes and did nothing"))
    assert isinstance(story.fault, CircuitNotChecked)
    assert story.fault.standstill is Standstill.UNMOVED
    assert not story.ordered(Traverse)
    assert not story.ordered(Sense)


def test_a_circuit_that_stays_closed_after_the_check_moves_nothing():
    """A plate that is left touching, or a chip across the gap, is found before the machine moves."""
    story = tell(surface(proof=None), deviating(State.AWAITING_OPENED, "said yes and did nothing"))
    assert isinstance(story.fault, CircuitAlreadyClosed)
    assert not story.ordered(Traverse)


def test_one_closed_look_begins_the_count_of_open_ones_anew():
    """Steadily open means open in so many looks in a row."""
    setup = surface(proof=None)
    quiet = tell(setup)
    noisy = tell(setup, deviating(State.AWAITING_OPENED, "circuit closed in one look", turn=3))
    assert len(noisy.ordered(Look)) == len(quiet.ordered(Look)) + 2


def test_open_looks_are_spent_like_closed_ones():
    """A circuit that closes every other look is never steadily open, and the twenty-first look ends the run."""

    def flickering(state, command, paper):
        if state is State.AWAITING_OPENED and isinstance(command, Look):
            paper.stuck = Circuit.OPEN if paper.stuck is Circuit.CLOSED else Circuit.CLOSED

    story = tell(surface(proof=None), flickering)
    looks = [c for s, c in zip(story.states, story.commands, strict=True) if s is State.AWAITING_OPENED]
    assert isinstance(story.fault, CircuitAlreadyClosed)
    assert sum(isinstance(command, Look) for command in looks) == 21


def test_a_no_is_told_of_the_question_that_was_put_and_of_none_that_was_still_to_come():
    """Tip first, then flank."""
    story = tell(corner(proof=None), deviating(State.AWAITING_CLOSED, "said no"))
    assert story.fault.detail == "the question 'close at tip' was not answered with yes"


@pytest.mark.parametrize("state", [State.AWAITING_CLOSED, State.AWAITING_OPENED])
@pytest.mark.parametrize("deviation", ["said no", "nobody answered"])
def test_a_no_or_no_answer_declines(state, deviation):
    """Whoever says no, or is not there, ends the run before anything moves."""
    story = tell(surface(proof=None), deviating(state, deviation))
    assert isinstance(story.fault, Declined)
    assert not story.ordered(Traverse)


@pytest.mark.parametrize("state", [State.AWAITING_CLOSED, State.AWAITING_OPENED])
def test_a_machine_that_is_silent_during_the_check_is_no_person_who_declined(state):
    """Whom to look for first, the person or the machine, is what a fault's name is for."""
    story = tell(surface(proof=None), deviating(state, "timed out", turn=2))
    assert isinstance(story.fault, NoAnswer)


def test_a_waived_check_is_on_record():
    """A typed waiver lets the run go on, and the result says so."""
    story = tell(surface(proof=None), deviating(State.AWAITING_CLOSED, "waived"))
    assert story.outcome.fault is None
    assert story.outcome.unconfirmed == ("the circuit check was waived",)


@pytest.mark.parametrize(
    ("told", "bend"),
    [
        (True, deviating(State.AWAITING_CLOSED, "waived")),
        (False, lambda s, c, paper: paper.changed.update(circuit=None)),
    ],
)
def test_what_rests_on_a_persons_word_leaves_a_proof_that_says_so(told, bend):
    """Whether the check was waived or the machine cannot tell its circuit: no later run takes it for one seen."""
    setup = surface(proof=None, hand_over=False, blind_waiver=not told, facts=replace(FACTS, circuit_known=told))
    assert tell(setup, bend).outcome.proof == Proof(frozenset({Place.TIP}), restarts=0, waived=True)


def test_hands_clear_cannot_be_waived():
    """The question whether hands are clear knows only yes."""
    story = tell(surface(proof=None), deviating(State.AWAITING_OPENED, "waived"))
    assert isinstance(story.fault, Declined)


def test_turning_a_flute_to_each_wall_asks_for_clear_hands_again():
    """Before each wall the operator turns a flute to it, then says separately that hands are clear."""
    course = OutsideCorner(spot=SPOT, offset=2, flute_faced=True).plan(SITE)
    story = tell(Setup(facts=FACTS, course=course, here=HERE, proof=HELD))
    assert _questions(story)[:4] == [Question.TURN_FLUTE, Question.CLEAR] * 2
    assert story.violation is None


def test_a_chip_left_by_the_hands_is_found_before_the_next_leg():
    """After hands were at the tool nothing moves unless the circuit is steadily open."""
    course = OutsideCorner(spot=SPOT, offset=2, flute_faced=True).plan(SITE)
    setup = Setup(facts=FACTS, course=course, here=HERE, proof=HELD)

    def chip(state, command, paper):
        if isinstance(command, Ask) and command.question is Question.TURN_FLUTE:
            paper.closed = True
            return Answered(Answer.YES)
        if isinstance(command, Ask) and command.question is Question.CLEAR:
            return Answered(Answer.YES)
        return None

    assert isinstance(tell(setup, chip).fault, CircuitAlreadyClosed)


def test_a_continuity_check_alone_moves_nothing_and_leaves_a_proof():
    """The check by itself ends with the proof that a later run relies on."""
    story = tell(Setup(facts=FACTS, course=CircuitCheck((Place.TIP,)), here=HERE))
    assert story.session.state is State.DONE
    assert story.outcome.proof == Proof(frozenset({Place.TIP}), restarts=0)
    assert not story.ordered(Traverse)


def test_a_check_that_stands_alone_announces_no_motion():
    """Nothing moves after it: a warning that comes in vain is not heeded when it counts."""
    story = tell(Setup(facts=FACTS, course=CircuitCheck((Place.TIP, Place.FLANK)), here=HERE))
    asked = [Question.CLOSE_AT_TIP, Question.OPEN, Question.CLOSE_AT_FLANK, Question.HANDS_AWAY]
    assert (_questions(story), story.session.state) == (asked, State.DONE)


def test_a_check_at_the_bench_ends_with_an_open_circuit_and_asks_for_no_clear_hands():
    """Nothing is seated there, and nothing moves afterwards."""
    story = tell(Setup(facts=FACTS, course=CircuitCheck((Place.BENCH,)), here=HERE))
    assert _questions(story) == [Question.CLOSE_AT_BENCH, Question.OPEN]


@pytest.mark.parametrize("note", [n.seen_closed, n.waive])
def test_what_the_first_touch_needs_of_hands_is_asked_for_once_the_last_place_is_done(note):
    """Seen closed or waived: the flute is turned to the wall, and then the hands are clear."""
    session, _ = cycle().start(surface(proof=None))
    session.step = replace(session.step, question=Question.TURN_FLUTE)
    note(session, Seen(Snapshot(HERE, True)))
    assert session.questions[0] is Question.TURN_FLUTE
    assert session.questions[-1] is Question.CLEAR


@pytest.mark.parametrize("state", [State.AWAITING_CLOSED, State.AWAITING_OPENED])
def test_an_interruption_during_the_check_moves_nothing(state):
    story = tell(surface(proof=None), deviating(state, "interrupted"))
    assert isinstance(story.fault, Interrupted)
    assert not story.ordered(Traverse)


def test_what_the_machine_cannot_tell_of_its_state_is_asked_once_and_marked():
    """A machine that cannot say what is in force has its operator look, and the result rests on that word."""
    facts = replace(FACTS, in_force_known=False)
    first = tell(
        surface(proof=None, facts=facts, hand_over=False), lambda s, c, paper: paper.changed.update(in_force=None)
    )
    assert _questions(first) == [Question.CLOSE_AT_TIP, Question.PLAIN_STATE, Question.CLEAR]
    assert "what is in force" in first.outcome.unconfirmed[0]
    second = tell(
        surface(proof=first.outcome.proof, facts=facts), lambda s, c, paper: paper.changed.update(in_force=None)
    )
    assert _questions(second) == [Question.RELEASE]


def test_a_state_told_in_part_is_asked_for_like_one_not_told_at_all():
    """Most controllers tell some of what is in force; a shift that they leave out falsifies the offset all the same."""
    partly = InForce(shift=None, rotation=None)
    story = tell(surface(proof=None, hand_over=False), lambda s, c, paper: paper.changed.update(in_force=partly))
    assert _questions(story) == [Question.CLOSE_AT_TIP, Question.PLAIN_STATE, Question.CLEAR]
    assert "what is in force" in story.outcome.unconfirmed[0]
