"""What one look at a snapshot turns a reply into, and what it leaves alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly.cycle import State, cycle
from gingerly.cycle.triage import snapshot_of, triage
from gingerly.explore.scenarios import FACTS, HERE
from gingerly.geometry import Position
from gingerly.messages.commands import Answer, Sense, Traverse
from gingerly.messages.facts import Home, SpindleKnowledge
from gingerly.messages.replies import (
    Alarmed,
    Answered,
    Arrived,
    Blind,
    Displaced,
    Early,
    Foreign,
    Missed,
    OffsetWritten,
    Restarted,
    Seen,
    TimedOut,
    Touched,
    Turning,
    Unhomed,
)
from gingerly.messages.snapshot import Circuit, InForce, Snapshot, Spindle
from support.story import surface

PLAIN = Snapshot(HERE, True)
THERE = HERE.plus(Position(10.0, 0.0, 0.0))


def _session(*, state=State.CHECKING, command=None, seen=PLAIN, **facts):
    session, _ = cycle().start(surface(facts=replace(FACTS, **facts)))
    session.state, session.snapshot = state, seen
    session.command = command or session.command
    return session


def _kind(snapshot, **session):
    return type(triage(_session(**session), Seen(snapshot), None))


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({}, Seen),
        ({"alarm": True}, Alarmed),
        ({"alarm": None}, Alarmed),
        ({"restarts": 1}, Restarted),
        ({"homed": False}, Unhomed),
        ({"homed": None}, Unhomed),
        ({"spindle": Spindle.TURNING}, Turning),
        ({"spindle": None}, Turning),
        ({"in_force": None}, Foreign),
        ({"in_force": InForce(inch=True)}, Foreign),
        ({"circuit": None}, Blind),
        ({"circuit": Circuit.CLOSED}, Seen),
        ({"idle": False}, Displaced),
        ({"position": HERE._replace(x=float("nan"))}, Displaced),
        ({"position": THERE}, Displaced),
    ],
)
def test_a_machine_that_tells_everything_is_believed_only_as_it_was_left(changes, found):
    """Each thing that is not as it should be has a reply of its own."""
    assert _kind(replace(PLAIN, **changes)) is found


@pytest.mark.parametrize(
    ("changes", "facts"),
    [
        ({"alarm": None}, {"alarm_known": False}),
        ({"homed": None}, {"home": Home.NONE}),
        ({"homed": False}, {"home": Home.NONE}),
        ({"spindle": None}, {"spindle": SpindleKnowledge.BY_HAND}),
        ({"in_force": None}, {"in_force_known": False}),
        ({"circuit": None}, {"circuit_known": False}),
    ],
)
def test_what_the_facts_say_cannot_be_told_is_missed_by_nobody(changes, facts):
    """None is no trouble where it was announced."""
    assert _kind(replace(PLAIN, **changes), **facts) is Seen


@pytest.mark.parametrize(
    ("changes", "facts", "found"),
    [
        ({"alarm": True}, {"alarm_known": False}, Alarmed),
        ({"spindle": Spindle.TURNING}, {"spindle": SpindleKnowledge.BY_HAND}, Turning),
        ({"spindle": None}, {"spindle": SpindleKnowledge.COMMANDED}, Turning),
        ({"in_force": InForce(override=0.5)}, {"in_force_known": False}, Foreign),
    ],
)
def test_what_is_told_all_the_same_is_heard(changes, facts, found):
    """A machine that says more than its facts promise is not ignored."""
    assert _kind(replace(PLAIN, **changes), **facts) is found


def test_what_is_in_force_is_told_in_words():
    seen = replace(PLAIN, in_force=InForce(tool_length=3.0, inch=True))
    found = triage(_session(), Seen(seen), None)
    assert found == Foreign(seen, "a tool length offset of 3.000 mm, inch units")


def test_the_controllers_own_words_go_with_its_alarm():
    seen = replace(PLAIN, alarm=True, alarm_detail="limit X")
    assert triage(_session(), Seen(seen), None) == Alarmed(seen, "limit X")


def test_a_restart_is_seen_only_against_an_earlier_look():
    """The first look of a run has nothing to compare with; fewer restarts than before are one too."""
    assert _kind(replace(PLAIN, restarts=4), seen=None) is Seen
    assert _kind(replace(PLAIN, restarts=4), seen=replace(PLAIN, restarts=5)) is Restarted


def test_the_first_look_expects_the_tool_where_the_course_was_planned():
    """Planned at one place and begun at another, every window would be wrong."""
    assert _kind(PLAIN, seen=None) is Seen
    assert _kind(replace(PLAIN, position=THERE), seen=None) is Displaced


@pytest.mark.parametrize(("reply", "alarm"), [(Missed, False), (Touched, True)])
def test_an_alarm_that_a_miss_latches_by_its_nature_is_a_miss(reply, alarm):
    """Some controllers alarm when a sense meets nothing; the same alarm after a contact is one."""
    session = _session(state=State.APPROACHING, command=Sense(THERE, 300.0, 9.0), alarm_on_miss=True)
    rest = replace(PLAIN, position=THERE, alarm=True)
    found = triage(session, Missed(rest) if reply is Missed else Touched(THERE, rest), None)
    assert type(found) is (Alarmed if alarm else Missed)


def test_any_other_machine_that_misses_into_an_alarm_has_an_alarm():
    session = _session(state=State.APPROACHING, command=Sense(THERE, 300.0, 9.0))
    assert type(triage(session, Missed(replace(PLAIN, position=THERE, alarm=True)), None)) is Alarmed


@pytest.mark.parametrize("state", [State.STOPPING, State.RETREATING, State.RECHECKING])
def test_while_a_run_is_being_ended_nothing_is_renamed(state):
    """The table's ending looks for itself, and must hear what came."""
    snapshot = replace(PLAIN, alarm=True, idle=False, circuit=None)
    assert triage(_session(state=state), Seen(snapshot), None) == Seen(snapshot)


@pytest.mark.parametrize("reply", [Answered(Answer.YES), OffsetWritten(2), TimedOut("late")])
def test_a_reply_without_a_snapshot_passes_as_it_is(reply):
    assert triage(_session(), reply, 0.0) is reply
    assert snapshot_of(reply) is None


@pytest.mark.parametrize(
    "reply",
    [
        *(kind(PLAIN) for kind in (Seen, Arrived, Missed, Turning, Unhomed, Blind, Alarmed, Restarted)),
        *(kind(PLAIN, "") for kind in (Foreign, Displaced, Early)),
        Touched(HERE, PLAIN),
    ],
)
def test_every_reply_that_brings_a_snapshot_gives_it(reply):
    """What is known of the machine is never lost with the name of the trouble."""
    assert snapshot_of(reply) is PLAIN


@pytest.mark.parametrize(("away", "found"), [(0.0, Missed), (0.5, Displaced), (-0.5, Displaced)])
def test_a_miss_must_have_gone_all_the_way(away, found):
    """A sense that ends without contact before its end, or beyond it, is unexplained."""
    session = _session(state=State.APPROACHING, command=Sense(THERE, 300.0, 9.0))
    rest = replace(PLAIN, position=THERE.plus(Position(away, 0.0, 0.0)))
    assert type(triage(session, Missed(rest), None)) is found


@pytest.mark.parametrize(("circuit", "found"), [(Circuit.OPEN, Displaced), (Circuit.CLOSED, Arrived)])
def test_a_traverse_may_be_cut_short_by_a_closed_circuit_alone(circuit, found):
    """A guard stops it there, and the table says what that means; an open circuit explains nothing."""
    session = _session(state=State.TRAVERSING, command=Traverse(THERE, 300.0, 9.0))
    halfway = replace(PLAIN, position=HERE.plus(Position(5.0, 0.0, 0.0)), circuit=circuit)
    assert type(triage(session, Arrived(halfway), None)) is found


@pytest.mark.parametrize(
    ("along", "aside", "found"),
    [
        (0.0, 0.0, Arrived),
        (5.0, 0.0, Arrived),
        (10.0, 0.0, Arrived),
        (5.0, 0.5, Displaced),
        (10.5, 0.0, Displaced),
        (-0.5, 0.0, Displaced),
    ],
)
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_back_off_cut_short_must_have_stayed_on_its_line(along, aside, found, way):
    """The longer back-off leads on from there; beside the line, before or beyond it, nothing is known."""
    to = HERE.plus(Position(10.0 * way, 0.0, 0.0))
    session = _session(state=State.BACKING_OFF, command=Traverse(to, 300.0, 9.0))
    rest = replace(PLAIN, position=HERE.plus(Position(along * way, aside, 0.0)), circuit=Circuit.CLOSED)
    assert type(triage(session, Arrived(rest), None)) is found


def test_a_back_off_of_no_length_ends_where_it_is():
    session = _session(state=State.BACKING_OFF, command=Traverse(Position(*HERE), 300.0, 9.0))
    assert type(triage(session, Arrived(replace(PLAIN, circuit=Circuit.CLOSED)), None)) is Arrived


@pytest.mark.parametrize(("aside", "found"), [(0.0, Touched), (0.5, Displaced)])
def test_after_a_contact_the_machine_rests_on_the_line_it_sensed_along(aside, found):
    """Where on it is the table's business, how far beside it is not."""
    session = _session(state=State.APPROACHING, command=Sense(THERE, 300.0, 9.0))
    rest = replace(PLAIN, position=HERE.plus(Position(5.0, aside, 0.0)))
    assert type(triage(session, Touched(rest.position, rest), None)) is found


@pytest.mark.parametrize(("elapsed_s", "found"), [(1.59, Early), (1.61, Arrived), (None, Arrived)])
def test_a_motion_cannot_be_over_before_four_fifths_of_distance_over_feed(elapsed_s, found):
    """10 mm at 300 mm/min take 2 s at least, four fifths of which are 1.6 s; unmeasured, nothing is said."""
    session = _session(state=State.TRAVERSING, command=Traverse(THERE, 300.0, 9.0))
    assert type(triage(session, Arrived(replace(PLAIN, position=THERE)), elapsed_s)) is found


def test_a_look_may_be_as_quick_as_it_likes():
    """Only motions have a shortest time."""
    assert _kind(PLAIN) is Seen
    assert triage(_session(), Seen(PLAIN), 0.0) == Seen(PLAIN)


def test_an_untold_circuit_is_seen_also_where_nothing_tells_what_is_in_force():
    """A circuit that is no longer told must never pass for a closed one, which would be a contact."""
    untold = replace(PLAIN, circuit=None, in_force=None)
    assert _kind(untold, in_force_known=False) is Blind
    assert _kind(untold, in_force_known=False, circuit_known=False) is Seen
