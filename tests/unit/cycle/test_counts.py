"""Retries are counted to the last one, every count begins at nothing, and what is said at the end was counted."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields, replace

import pytest

from gingerly import ImplausibleContact, NoContact, Stands, Standstill
from gingerly.cycle import Setup, State, Unhandled, cycle
from gingerly.cycle import notes as n
from gingerly.cycle.conditions import enough
from gingerly.cycle.session import Blame, Work
from gingerly.cycle.table import CYCLE
from gingerly.explore.scenarios import FACTS, HERE, paper_at
from gingerly.geometry import Position
from gingerly.messages.commands import Ask, Look, Sense, Traverse, WriteOffset
from gingerly.messages.facts import Home
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import Arrived, Seen, Started
from gingerly.messages.snapshot import Circuit, Spindle
from gingerly.messages.touches import Finding, Leg, Place, Unusable
from gingerly.routines.course import CircuitCheck
from support.story import HELD, corner, deviating, several, surface, tell, tool_change

LOOKS = 20
"""How often a run looks again, as it is set up; more than that is trouble."""


def _held(state, circuit, looks, *, turn=1):
    """Hold the circuit for so many looks from the `turn`-th time on that the run comes to wait in `state`."""
    visits, left, before = 0, looks, None

    def bend(at, command, paper):
        nonlocal visits, left, before
        visits += at is state and before is not state
        before = at
        held = at is state and visits == turn and isinstance(command, Look) and left > 0
        left -= held
        paper.stuck = circuit if held else None

    return bend


@pytest.mark.parametrize(
    ("state", "circuit", "turn"),
    [
        (State.AWAITING_CLOSED, Circuit.OPEN, 1),
        (State.AWAITING_OPENED, Circuit.CLOSED, 1),
        (State.AWAITING_CLOSED, Circuit.OPEN, 2),
    ],
)
def test_a_person_is_given_twenty_looks_and_one_at_each_step_of_the_check(state, circuit, turn):
    """Each step begins its own count; after the last look that is allowed the run ends before any motion."""
    enough = tell(corner(proof=None), _held(state, circuit, LOOKS, turn=turn))
    too_many = tell(corner(proof=None), _held(state, circuit, LOOKS + 1, turn=turn))
    assert enough.outcome.fault is None
    assert too_many.fault.standstill is Standstill.UNMOVED
    assert not too_many.ordered(Traverse)


def test_looks_spent_at_one_place_are_not_missing_at_the_next():
    """Nearly all of them at the tip, nearly all again at the flank."""
    waits = [
        _held(State.AWAITING_CLOSED, Circuit.OPEN, LOOKS, turn=1),
        _held(State.AWAITING_CLOSED, Circuit.OPEN, LOOKS, turn=2),
    ]

    def bend(at, command, paper):
        stuck = None
        for wait in waits:
            wait(at, command, paper)
            stuck = stuck or paper.stuck
        paper.stuck = stuck

    assert tell(corner(proof=None), bend).outcome.fault is None


def test_steadily_open_is_open_in_three_looks_in_a_row():
    """After the last yes, before the first motion."""
    story = tell(surface(proof=None))
    kinds = [type(command) for command in story.commands]
    asked = max(i for i, kind in enumerate(kinds) if kind is Ask and i < kinds.index(Traverse))
    assert kinds[asked + 1 : kinds.index(Traverse)] == [Look] * 3


def test_a_run_is_set_up_with_half_an_hour_of_patience_and_twenty_looks():
    """What a run relies on where nobody chose otherwise."""
    setup = Setup(facts=FACTS, course=CircuitCheck((Place.TIP,)))
    assert (setup.patience_s, setup.looks, setup.steady, setup.look_again_s) == (1800.0, LOOKS, 3, 0.2)
    assert (setup.hand_over, setup.blind_waiver, setup.proof, setup.here) == (True, False, None, None)


@pytest.mark.parametrize(("looks", "standstill"), [(21, Standstill.UNCONFIRMED), (20, Standstill.CONFIRMED)])
def test_standstill_is_waited_for_in_as_many_looks_and_no_more(looks, standstill):
    """A machine that does not come to rest is not said to stand; the count is the ending's own."""
    left = looks

    def moving(at, command, paper):
        nonlocal left
        if at is State.STOPPING:
            paper.changed["idle"] = left <= 0
            left -= 1
            return None
        return deviating(State.APPROACHING, "interrupted")(at, command, paper) if at is State.APPROACHING else None

    assert tell(surface(), moving).fault.standstill is standstill


@pytest.mark.parametrize(("setup", "touches"), [(surface(), 1), (corner(), 4)])
def test_touches_are_counted_once_each(setup, touches):
    """A corner's four are the top, a wall, the top again for the lead, and the other wall."""
    outcome = tell(setup).outcome
    assert outcome.touches == len(outcome.faces) == touches


@pytest.mark.parametrize("spent", [3, 4])
def test_extras_are_spent_to_the_last(spent):
    """Three lost contacts cost three more senses; the fourth ends the run."""
    lost = [deviating(State.CONTACT, "circuit open in one look", turn=turn) for turn in range(1, spent + 1)]
    story = tell(surface(), several(*lost))
    assert (story.outcome.fault is None) is (spent == 3)
    assert len(story.ordered(Sense)) == (6 if spent == 3 else 4)


def test_extras_spent_at_one_touch_are_not_missing_at_the_next():
    """Each touch begins its own count."""
    lost = [deviating(State.CONTACT, "circuit open in one look", turn=turn) for turn in (1, 2, 3, 7, 8, 9)]
    story = tell(corner(), several(*lost))
    assert story.outcome.fault is None


# ---- what is said at the end --------------------------------------------------------------------------------


def test_the_position_at_the_end_is_the_one_last_seen():
    story = tell(surface())
    assert (
        story.outcome.position
        == story.session.snapshot.position
        == HERE._replace(x=story.outcome.position.x, y=story.outcome.position.y, z=0.0)
    )


def test_a_run_that_never_saw_the_machine_knows_no_position():
    """The link is lost at the first look."""
    story = tell(
        surface(), several(*[deviating(State.CHECKING, "link lost"), deviating(State.STOPPING, "link lost")])
    )
    assert story.outcome.position is None
    assert story.fault.position is None
    assert story.fault.standstill is Standstill.UNMOVED


@pytest.mark.parametrize(
    ("bends", "done", "z"),
    [
        ([(State.CHECKING, "alarm standing")], "no motion was ordered", -5.0),
        ([(State.TRAVERSING, "timed out")], "told the machine to stop", -5.0),
        (
            [(State.TRAVERSING, "timed out"), (State.STOPPING, "timed out")],
            "tried to stop the machine, and was not heard; then: TimedOut",
            -5.0,
        ),
        ([(State.TRAVERSING, "elsewhere")], "told the machine to stop", -5.0),
        ([(State.APPROACHING, "no contact")], "went back along its path to X169.750 Y120.250 Z0.000", -55.5),
        (
            [(State.APPROACHING, "no contact"), (State.RETREATING, "circuit stuck closed")],
            "went back along its path to X169.750 Y120.250 Z0.000",
            -55.5,
        ),
        ([(State.COMMITTING, "write ignored")], "wrote the old values back", 0.0),
    ],
)
def test_what_was_done_is_told_in_full_and_nothing_else(bends, done, z):
    """And where the machine was when its position was last to be believed."""
    fault = tell(surface(), several(*[deviating(*bend) for bend in bends])).fault
    assert (fault.done, fault.position.z) == (done, z)


def test_a_way_back_that_was_begun_is_told_also_where_trouble_ended_it():
    story = tell(
        corner(),
        several(
            deviating(State.APPROACHING, "no contact", turn=2), deviating(State.RETREATING, "link lost", turn=2)
        ),
    )
    assert story.fault.done.startswith("went back along its path to ")


def test_a_course_that_cannot_go_on_names_its_own_fault():
    """Where the machine stood then goes with it, and the proof is void."""
    session = _under_way()
    session.coming, session.trusted = Unusable(ImplausibleContact, "2 mm apart"), HERE
    n.blame_course(session, ARRIVED)
    assert session.blame == Blame(ImplausibleContact, session.state, "2 mm apart", position=HERE)
    assert session.proof is None


def test_a_fork_goes_its_own_way():
    """What happens to it leaves the session as it was, and it begins with all that the session knows."""
    session, _ = cycle().start(surface())
    twin = session.fork()
    cycle().advance(twin, Seen(paper_at().snapshot()))
    assert (session.state, session.trail, session.snapshot) == (State.CHECKING, (), None)
    assert (twin.state, twin.setup) == (State.TRAVERSING, session.setup)


def test_what_a_session_holds_cannot_be_changed_in_place():
    """Or a fork would change the run that it was forked from. What a run is set up with is given by name."""
    blame = Blame(NoContact, State.APPROACHING, "nothing met")
    for held in (surface(), Work(2, (), False), blame, CYCLE[0], Unhandled(State.READY, Started())):
        with pytest.raises(FrozenInstanceError):
            setattr(held, fields(held)[0].name, None)
    with pytest.raises(TypeError):
        Setup(FACTS, CircuitCheck((Place.TIP,)))


@pytest.mark.parametrize(("waived", "told"), [(True, ("the circuit check was waived",)), (False, ())])
def test_a_proof_that_was_waived_is_told_at_the_end_of_every_run_that_relies_on_it(waived, told):
    proof = Proof(HELD.places, restarts=0, waived=waived)
    assert tell(surface(proof=proof, hand_over=False)).outcome.unconfirmed == told


def test_several_offsets_that_are_written_are_told_each_in_its_turn():
    """One write each, in the order asked for, whether or not anybody can read them."""
    for readable in (True, False):
        story = tell(replace(tool_change(), facts=replace(FACTS, offsets_readable=readable)))
        told = [(offset.number, offset.stands) for offset in story.outcome.offsets]
        stands = Stands.NEW if readable else Stands.UNCONFIRMED
        assert told == [(1, stands), (2, stands), (5, stands)]
        assert [write.number for write in story.ordered(WriteOffset)] == [1, 2, 5]


# ---- the only way back --------------------------------------------------------------------------------------


DOWN = Position(20.0, 20.0, -25.0)


def _under_way(to=DOWN):
    """A session on its way straight down from where it stood free."""
    session, _ = cycle().start(surface())
    session.trail = (Leg(HERE.plus(Position(-9.0, 0.0, 0.0))), Leg(HERE))
    session.motion = Sense(to, 300.0, 9.0)
    return session


ARRIVED = Arrived(paper_at().snapshot())
DOWNWARD, SIDEWAYS = Position(0.0, 0.0, -1.0), Position(1.0, 0.0, 0.0)
LEAVE = surface().course.next(()).plan.leave_feed
SLACK = FACTS.position_slack
RUN_ON = surface().course.next(()).plan.overtravel


@pytest.mark.parametrize(
    ("x", "z", "on_line"),
    [
        (0.0, -5.0, True),
        (0.0, -15.0, True),
        (0.0, -25.0, True),
        (0.0, -5.0 + SLACK - 1e-6, True),
        (0.0, -5.0 + SLACK + 1e-6, False),
        (0.0, -25.0 - SLACK - RUN_ON + 1e-6, True),
        (0.0, -25.0 - SLACK - RUN_ON - 1e-6, False),
        (SLACK - 1e-6, -15.0, True),
        (SLACK + 1e-6, -15.0, False),
    ],
)
def test_a_machine_is_on_its_line_between_where_it_began_and_where_it_can_have_run_on_to(x, z, on_line):
    """To within the slack of a reported position at both ends and aside; beyond, no way back is known."""
    assert _under_way().lies_on_line(Position(20.0 + x, 20.0, z)) is on_line


@pytest.mark.parametrize(("aside", "on_line"), [(SLACK - 1e-6, True), (SLACK + 1e-6, False)])
def test_on_a_line_of_no_length_the_machine_must_be_where_it_was(aside, on_line):
    session = _under_way(to=HERE)
    assert session.lies_on_line(HERE.plus(Position(0.0, aside, 0.0))) is on_line


def test_without_a_motion_or_without_a_trail_there_is_no_line():
    resting, lost = _under_way(), _under_way()
    resting.motion, lost.trail = None, ()
    assert not resting.lies_on_line(HERE)
    assert not lost.lies_on_line(HERE)


def test_a_way_without_a_touch_cannot_have_run_on():
    """Only a sense runs on after what it met."""
    session, _ = cycle().start(Setup(facts=FACTS, course=CircuitCheck((Place.TIP,)), here=HERE))
    assert session.overtravel == 0.0
    assert _under_way().overtravel == RUN_ON > 0.0


TRAIL = tuple(Leg(Position(x, 0.0, 0.0), feed=100.0 + x) for x in (1.0, 2.0, 3.0, 4.0))


def test_a_leg_back_to_an_earlier_point_of_the_trail_forgets_what_lay_beyond():
    """From the second of four points on, only the first leads further back."""
    session = _under_way()
    session.trail, session.legs = TRAIL, (Leg(TRAIL[1].to), *TRAIL)
    n.stood(session, ARRIVED)
    assert (session.trail, session.legs) == (TRAIL[:2], TRAIL)


def test_going_back_pops_the_trails_last_point_and_keeps_it_behind():
    """Its feed is that of the next leg back."""
    session = _under_way()
    session.trail = TRAIL
    n.unwind(session, ARRIVED)
    assert (session.trail, session.behind) == (TRAIL[:3], TRAIL[3])


@pytest.mark.parametrize(
    ("ahead", "direction", "joins"),
    [
        (Position(4.0, 0.0, 5.0), DOWNWARD, None),
        (Position(0.0, 0.0, 0.0), DOWNWARD, None),
        (Position(4.0, 0.0, 5.0), SIDEWAYS, LEAVE),
        (TRAIL[0].to, SIDEWAYS, LEAVE),
    ],
)
def test_an_exit_that_is_not_the_trails_end_joins_the_trail(ahead, direction, joins):
    """Straight up off a top as fast as the machine goes; off a wall at the feed for leaving metal."""
    assert _gone_out(ahead, direction).trail == (*TRAIL, Leg(ahead, joins))


def test_an_exit_that_is_the_trails_end_or_the_last_of_the_course_joins_no_trail():
    assert _gone_out(Position(*TRAIL[-1].to), DOWNWARD).trail == TRAIL
    assert _gone_out(Position(0.0, 0.0, 9.0), DOWNWARD, Finding(())).trail == TRAIL


def _gone_out(ahead, direction, coming=None):
    """The session after the way out of a touch with this exit, at the end of the trail, where a touch follows."""
    session = _under_way()
    session.trail, session.coming = TRAIL, coming or session.step
    session.step = replace(session.step, exit=ahead, start=HERE, end=HERE.plus(direction))
    n.gone_out(session, ARRIVED)
    return session


def test_no_contact_is_never_enough():
    """Also where none is to be repeated: a bounce is touched again."""
    session = _under_way()
    session.step = replace(session.step, plan=replace(session.step.plan, retouches=0))
    assert not enough(session, ARRIVED)


def test_a_run_that_goes_on_a_persons_word_takes_its_way_back_too():
    """A circuit that the machine cannot tell is no trouble where that was accepted."""
    facts = replace(FACTS, circuit_known=False)

    def untold(at, command, paper):
        paper.changed.update(circuit=None)

    miss = deviating(State.APPROACHING, "no contact")
    story = tell(surface(facts=facts, blind_waiver=True), several(untold, miss))
    assert State.RETREATING in story.states


def test_the_way_back_from_a_wall_ends_at_clearance_and_pops_one_point_after_the_other():
    """Up the line of the legs, each at the feed it was travelled at, the last one as fast as the machine goes."""
    story = tell(corner(), deviating(State.APPROACHING, "no contact", turn=2))
    back = [c for s, c in zip(story.states, story.commands, strict=True) if s is State.RETREATING]
    assert [step.to.z for step in back] == sorted(step.to.z for step in back)
    assert back[-1].to.z == FACTS.envelope.high.z
    assert story.fault.standstill is Standstill.CONFIRMED
    assert story.violation is None


@pytest.mark.parametrize(
    ("changes", "facts", "back"),
    [
        ({}, {}, True),
        ({"alarm": True}, {}, False),
        ({"alarm": None}, {}, False),
        ({"alarm": None}, {"alarm_known": False}, True),
        ({"alarm": True}, {"alarm_known": False}, False),
        ({"restarts": 1}, {}, False),
        ({"restarts": -1}, {}, False),
        ({"homed": False}, {}, False),
        ({"homed": None}, {}, True),
        ({"homed": False}, {"home": Home.NONE}, True),
        ({"spindle": Spindle.TURNING}, {}, False),
        ({"spindle": None}, {}, True),
        ({"circuit": None}, {}, False),
        ({"circuit": Circuit.CLOSED}, {}, False),
    ],
)
def test_after_a_miss_the_way_back_is_taken_from_a_sound_standstill_alone(changes, facts, back):
    """Whatever the machine then says of itself that is not as it was left keeps it where it is."""

    def bend(at, command, paper):
        if at is State.STOPPING:
            paper.changed.update(changes)
        return deviating(State.APPROACHING, "no contact")(at, command, paper) if at is State.APPROACHING else None

    story = tell(surface(facts=replace(FACTS, **facts)), bend)
    assert (State.RETREATING in story.states) is back


@pytest.mark.parametrize(
    ("trouble", "legs"),
    [
        (None, 4),
        ("elsewhere", 1),
        ("still moving", 1),
        ("circuit stuck closed", 1),
        ("alarm standing", 1),
        ("restarted", 1),
        ("short and open", 1),
        ("link lost", 1),
    ],
)
def test_the_way_back_ends_at_its_first_trouble(trouble, legs):
    """Four points lead back from the wall; a machine that does not reach one soundly goes to no other."""
    bends = [deviating(State.APPROACHING, "no contact", turn=2)]
    if trouble is not None:
        bends.append(deviating(State.RETREATING, trouble))
    story = tell(corner(), several(*bends))
    assert story.states.count(State.RETREATING) == legs
    assert story.violation is None
