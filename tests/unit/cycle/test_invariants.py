"""The monitor that the explorer trusts: orders and ends that break an invariant are seen, whoever gave them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly.cycle import State, cycle
from gingerly.cycle.session import Blame
from gingerly.explore.invariants import MOST_COMMANDS, Monitor
from gingerly.explore.scenarios import FACTS, HERE
from gingerly.geometry import Axis, Position
from gingerly.messages.commands import Look, ReadOffset, Sense, Traverse, WriteOffset
from gingerly.messages.facts import SpindleKnowledge
from gingerly.messages.faults import NoContact, Standstill
from gingerly.messages.replies import OffsetRead, OffsetWritten, Seen
from gingerly.messages.snapshot import Circuit, Snapshot, Spindle
from support.story import HELD, corner, surface, tell

DOWN = HERE.plus(Position(0.0, 0.0, -10.0))
PLAIN = Snapshot(HERE, True)
OLD = Position(1.0, 2.0, 3.0)


def _watched(*, seen=PLAIN, facts=FACTS, **setup):
    """A monitor that has seen the machine at rest, and a session to go with it."""
    made = surface(facts=facts, proof=HELD, **setup)
    session, command = cycle().start(made)
    monitor = Monitor(made)
    monitor.order(command, session)
    monitor.reply(command, Seen(seen))
    assert monitor.violation is None
    return monitor, session


def _broken(monitor):
    return monitor.violation.invariant if monitor.violation is not None else None


@pytest.mark.parametrize(
    ("changes", "facts", "broken"),
    [
        ({}, {}, None),
        ({"alarm": True}, {}, "I1"),
        ({"alarm": None}, {}, "I1"),
        ({"alarm": None}, {"alarm_known": False}, None),
        ({"idle": False}, {}, "I1"),
        ({"spindle": Spindle.TURNING}, {}, "I1"),
        ({"spindle": None}, {"spindle": SpindleKnowledge.MEASURED}, "I1"),
        ({"spindle": None}, {"spindle": SpindleKnowledge.BY_HAND}, None),
        ({"circuit": Circuit.CLOSED}, {}, "I2"),
        ({"circuit": None}, {}, "I2"),
    ],
)
def test_a_sense_is_ordered_to_a_machine_that_was_seen_ready_for_it(changes, facts, broken):
    monitor, session = _watched(seen=replace(PLAIN, **changes), facts=replace(FACTS, **facts))
    monitor.order(Sense(DOWN, 100.0, 9.0), session)
    assert _broken(monitor) == broken


def test_a_second_motion_needs_another_look():
    monitor, session = _watched()
    monitor.order(Traverse(DOWN, 100.0, 9.0), session)
    monitor.order(Traverse(HERE, 100.0, 9.0), session)
    assert _broken(monitor) == "I1"


@pytest.mark.parametrize("deadline", [0.0, -1.0, float("inf"), float("nan")])
def test_a_wait_without_a_bound_is_seen(deadline):
    monitor, session = _watched()
    monitor.order(Look(0.0, deadline), session)
    assert _broken(monitor) == "I7"


def test_a_run_without_an_end_is_seen():
    monitor, session = _watched()
    for _ in range(MOST_COMMANDS):
        monitor.order(Look(0.0, 1.0), session)
    assert _broken(monitor) == "I7"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, "1", None])
def test_what_is_no_number_reaches_no_controller(value):
    for command in (
        Traverse(DOWN._replace(x=value), 100.0, 9.0),
        WriteOffset(2, ((Axis.Z, value),), OLD, OLD, 9.0),
        ReadOffset(value, 9.0),
    ):
        monitor, session = _watched()
        monitor.order(command, session)
        assert _broken(monitor) == "I8"


def _after_touching(setup=None):
    """A monitor and the session of a whole run, at the moment before the offset was written."""
    story = tell(setup or surface())
    monitor = Monitor(story.session.setup)
    session = story.session.fork()
    for state, command, reply in zip(story.states, story.commands, story.replies, strict=False):
        if state is State.COMMITTING:
            return monitor, session, command
        monitor.order(command, session)
        monitor.reply(command, reply)
    raise AssertionError("nothing was written")


def _with_face(session, **changes):
    session.faces = (replace(session.faces[0], **changes), *session.faces[1:])
    return session


def test_the_write_after_a_sound_touch_breaks_nothing():
    monitor, session, write = _after_touching()
    monitor.order(write, session)
    assert _broken(monitor) is None


def test_a_write_that_touches_other_axes_or_begins_elsewhere_is_seen():
    for wrong in ({"new": OLD}, {"old": OLD.plus(Position(7.0, 0.0, 0.0))}):
        monitor, session, write = _after_touching()
        monitor.order(replace(write, **wrong), session)
        assert _broken(monitor) == "I5"


def test_a_write_with_a_touch_left_is_seen():
    monitor, session, write = _after_touching(corner())
    session.faces = session.faces[:2]
    monitor.order(write, session)
    assert _broken(monitor) == "I4"


def test_a_write_with_more_faces_than_touches_is_seen():
    monitor, session, write = _after_touching()
    session.faces = session.faces * 2
    monitor.order(write, session)
    assert _broken(monitor) == "I4"


@pytest.mark.parametrize("wrong", ["fewer", "never met", "outside", "spread"])
def test_a_write_on_contacts_that_were_not_made_so_is_seen(wrong):
    """Fewer than planned, one that was not met, one outside its window, or two that do not agree."""
    monitor, session, write = _after_touching()
    first, *others = session.faces[0].contacts
    contacts = {
        "fewer": (first,),
        "never met": (replace(first, position=OLD), *others),
        "outside": (replace(first, distance=1.0), *others),
        "spread": (first, others[0], replace(others[1], distance=others[1].distance + 0.1)),
    }[wrong]
    monitor.order(write, _with_face(session, contacts=contacts))
    assert _broken(monitor) == "I4"


def test_a_second_write_needs_a_mismatch_and_brings_back_what_stood():
    monitor, session, write = _after_touching()
    monitor.order(write, session)
    monitor.reply(write, OffsetWritten(2))
    again = monitor.fork()
    again.order(write, session)
    assert _broken(again) == "I5"
    monitor.reply(ReadOffset(2, 9.0), OffsetRead(2, OLD))
    restored, wrong = monitor.fork(), monitor.fork()
    back = replace(write, axes=tuple((axis, write.old[axis]) for axis, _ in write.axes))
    restored.order(back, session)
    wrong.order(write, session)
    assert (_broken(restored), _broken(wrong)) == (None, "I5")


@pytest.mark.parametrize(
    ("changes", "broken"),
    [
        ({}, None),
        ({"state": State.CONTACT}, "I6"),
        ({"state": State.FAULTED}, "I6"),
        ({"released": True}, "I11"),
    ],
)
def test_an_end_that_says_more_than_was_seen_is_seen(changes, broken):
    monitor, session = _watched()
    session.state = State.DONE
    for name, value in changes.items():
        setattr(session, name, value)
    monitor.end(session)
    assert _broken(monitor) == broken


@pytest.mark.parametrize(
    ("still", "moved", "broken"), [(True, False, "I6"), (False, True, "I6"), (True, True, None)]
)
def test_standstill_is_said_only_where_it_was_seen(still, moved, broken):
    """Unmoved after a motion, or confirmed without a look at rest: both are seen."""
    monitor, session = _watched()
    session.state, session.blame = State.FAULTED, Blame(NoContact, State.APPROACHING, "")
    session.motion = Traverse(DOWN, 100.0, 9.0) if moved else None
    monitor.moved, monitor.still = True, still
    assert session.standstill is (Standstill.CONFIRMED if moved else Standstill.UNMOVED)
    monitor.end(session)
    assert _broken(monitor) == broken
