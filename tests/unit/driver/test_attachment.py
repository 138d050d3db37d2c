"""What outlives a run while the test lead is on, and what voids it."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields, replace
from typing import get_args

import pytest

from gingerly import Axis, Position, Stands, Tool
from gingerly.cycle import State
from gingerly.driver.attachment import Attachment, Found
from gingerly.driver.events import Event, Events, FaceFound, RunEnded, RunStarted
from gingerly.driver.result import Result, refused
from gingerly.explore.scenarios import CORNER, PIN
from gingerly.messages.faults import NoContact, OffsetState, OutsideEnvelope, Standstill
from gingerly.messages.outcome import Proof
from gingerly.messages.touches import Place
from gingerly.routines.course import CircuitCheck
from support.bench import bench, probe_corner
from support.story import corner, deviating, surface, tell, tool_change

OTHER = Tool.pin("3 mm", free_length="30 mm", name="other")
PROVED = Proof(frozenset(Place), restarts=0)


def _after(story, *, metal=6.0):
    """An attachment that a run of this story has left."""
    attachment = Attachment()
    attachment.assume()
    attachment.remember(story.session.setup.course, story.outcome, metal=metal)
    return attachment


def test_a_run_leaves_its_proof_the_length_of_its_tool_and_its_zero():
    attachment = _after(tell(corner(hand_over=False)))
    assert attachment.on
    assert attachment.proof == PROVED
    assert attachment.touched_with == PIN
    assert attachment.zeros[2].origin == pytest.approx(CORNER)
    assert attachment.zeros[2].axes == frozenset(Axis)
    assert attachment.zeros[2].above == pytest.approx(0.0, abs=1e-9)


def test_only_faces_from_above_have_a_height_over_the_zero():
    """Of the top and the two walls, and the top once more for the lead's sake: two."""
    story = tell(corner(hand_over=False))
    found = Found(story.session.setup.course, story.outcome.faces, 6.0)
    assert found.heights == (pytest.approx(CORNER.z), pytest.approx(CORNER.z))


def test_nothing_is_attached_before_anything_was_done():
    assert not Attachment().on


def test_a_release_ends_the_attachment():
    """Said in the run or between two runs, it takes the proof with it; the tool's length stays known."""
    in_the_run = _after(tell(corner()))
    between = _after(tell(corner(hand_over=False)))
    between.released()
    for attachment in (in_the_run, between):
        assert not attachment.on
        assert attachment.proof is None
        assert attachment.touched_with == PIN


@pytest.mark.parametrize("turn", [1, 2])
def test_after_a_fault_nobody_knows_the_tools_length(turn):
    """The tool may have been pushed up, or the position may be another; before the top was touched, or after."""
    attachment = _after(tell(corner(hand_over=False)))
    story = tell(corner(), deviating(State.APPROACHING, "no contact", turn=turn))
    assert len(story.outcome.faces) == turn - 1
    attachment.remember(story.session.setup.course, story.outcome)
    assert attachment.on
    assert (attachment.proof, attachment.touched_with) == (None, None)


def test_a_circuit_check_alone_says_nothing_of_the_tools_length():
    attachment = _after(tell(corner(hand_over=False)))
    outcome = replace(tell(corner(hand_over=False)).outcome, faces=(), offsets=())
    attachment.remember(CircuitCheck((Place.TIP,)), outcome)
    assert attachment.touched_with == PIN


def test_walls_alone_say_nothing_of_the_tools_length():
    story, attachment = tell(corner(hand_over=False)), Attachment()
    walls = tuple(face for face in story.outcome.faces if face.direction.z == 0.0)
    attachment.remember(story.session.setup.course, replace(story.outcome, faces=walls))
    assert attachment.touched_with is None


def test_a_moved_plate_voids_the_proof_and_a_changed_tool_its_length_too():
    moved, changed, anew = (_after(tell(corner(hand_over=False))) for _ in range(3))
    moved.void_proof()
    changed.tool_changed()
    anew.begin_anew()
    assert (moved.proof, moved.touched_with, bool(moved.zeros)) == (None, PIN, True)
    assert (changed.proof, changed.touched_with, bool(changed.zeros)) == (None, None, True)
    assert (anew.proof, anew.touched_with, bool(anew.zeros)) == (None, None, False)


@pytest.mark.parametrize(("then", "kept"), [(PIN, True), (OTHER, False), (None, True)])
def test_another_tool_than_before_was_changed_whether_or_not_anybody_said_so(then, kept):
    attachment = Attachment()
    attachment.use(PIN)
    attachment.proof = PROVED
    attachment.use(then)
    assert (attachment.proof == PROVED) is kept
    assert attachment.tool == (then or PIN), "a run without a tool of its own says nothing of it"


def test_the_same_tool_told_once_more_is_no_other_one():
    attachment = Attachment()
    attachment.use(PIN)
    attachment.proof = PROVED
    attachment.use(replace(PIN))
    assert attachment.proof == PROVED


def test_the_first_tool_of_an_attachment_voids_nothing():
    attachment = Attachment()
    attachment.proof = PROVED
    attachment.use(PIN)
    assert attachment.proof == PROVED


def test_a_surface_alone_says_nothing_of_what_lies_above_its_zero():
    """X and Y come from elsewhere, and with them what is below."""
    assert _after(tell(surface(hand_over=False))).zeros[2].above is None


def test_a_surface_after_a_corner_replaces_what_was_found_from_above():
    attachment = _after(tell(corner(hand_over=False)))
    story = tell(surface(hand_over=False))
    attachment.remember(story.session.setup.course, story.outcome, metal=6.0)
    zero = attachment.zeros[2]
    assert zero.axes == frozenset(Axis)
    assert len(zero.found) == 1
    assert zero.above == pytest.approx(0.0, abs=1e-9)


def test_what_two_runs_found_for_one_offset_counts_together():
    """Z from the top first, then X and Y: what lies above the zero is known from then on."""
    attachment, story = _after(tell(surface(hand_over=False))), tell(corner(hand_over=False))
    level = tuple(pair for pair in story.outcome.found if pair[0] is not Axis.Z)
    attachment.remember(story.session.setup.course, replace(story.outcome, found=level), metal=6.0)
    zero = attachment.zeros[2]
    assert zero.axes == frozenset(Axis)
    assert len(zero.found) == 2
    assert zero.above == pytest.approx(0.0, abs=1e-9)


def test_a_tool_change_moves_a_known_zero_together_with_its_faces():
    """Nothing above it changes: origin and faces move alike. Offsets that were not set here stay unknown."""
    attachment = _after(tell(corner(hand_over=False)))
    story = tell(tool_change(before=CORNER.z + 6.0 - 1.25))
    shifted = replace(
        story.outcome,
        found=(),
        offsets=(OffsetState(2, CORNER, CORNER.plus(Position(0.0, 0.0, 1.25)), Stands.NEW, None),),
    )
    attachment.remember(story.session.setup.course, shifted)
    assert set(attachment.zeros) == {2}
    assert attachment.zeros[2].origin.z == pytest.approx(CORNER.z + 1.25)
    assert attachment.zeros[2].above == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("stands", [stands for stands in Stands if stands is not Stands.NEW])
def test_an_offset_that_does_not_stand_as_new_is_no_zero(stands):
    story = tell(corner(hand_over=False))
    (offset,) = story.outcome.offsets
    attachment = Attachment()
    attachment.remember(
        story.session.setup.course, replace(story.outcome, offsets=(replace(offset, stands=stands),))
    )
    assert attachment.zeros == {}


def test_each_of_several_offsets_is_a_zero_or_none_by_itself():
    story, attachment = tell(corner(hand_over=False)), Attachment()
    (offset,) = story.outcome.offsets
    offsets = (replace(offset, stands=Stands.OLD), replace(offset, number=5))
    attachment.remember(story.session.setup.course, replace(story.outcome, offsets=offsets))
    assert set(attachment.zeros) == {5}


# ---- results and events -------------------------------------------------------------------------------------


def test_a_run_that_did_not_begin_left_everything_as_it_was():
    fault = OutsideEnvelope("too far", position=CORNER)
    outcome = refused(fault)
    assert (outcome.fault, outcome.standstill, outcome.position) == (fault, Standstill.UNMOVED, CORNER)
    assert (outcome.touches, outcome.faces, outcome.found, outcome.offsets) == (0, (), (), ())
    assert (outcome.released, outcome.unconfirmed, outcome.proof) == (False, (), None)


def test_a_result_raises_its_fault_and_has_no_budget_then():
    story = tell(corner(), deviating(State.APPROACHING, "no contact"))
    result = Result("bench", "corner", 1.0, story.outcome, story.session.setup.course)
    with pytest.raises(NoContact):
        result.raised()
    assert isinstance(result.fault, NoContact)
    assert (dict(result.budgets), dict(result.statements)) == ({}, {})


def test_a_result_that_ended_well_is_itself_and_states_what_was_found():
    story = tell(corner())
    result = Result("bench", "corner", 1.0, story.outcome, story.session.setup.course)
    assert result.raised() is result
    assert result.fault is None
    assert set(result.statements) == set(result.budgets) == {"X", "Y", "Z"}


def test_an_observer_that_has_left_is_told_nothing_more():
    events, told = Events(), []
    assert not events
    leave = events.subscribe(told.append)
    assert events
    events.emit(RunStarted("bench", "corner", 0.0))
    leave()
    events.emit(RunEnded(refused(OutsideEnvelope("too far")), 1.0))
    assert [type(event) for event in told] == [RunStarted]
    assert not events


@pytest.mark.asyncio
async def test_each_face_is_told_as_it_is_found():
    """One after the other, the same that the result holds."""
    machine, told = bench(), []
    machine.events.subscribe(lambda event: told.append(event.face) if isinstance(event, FaceFound) else None)
    result, _ = await probe_corner(machine)
    assert tuple(told) == result.outcome.faces


@pytest.mark.parametrize("kind", get_args(Event))
def test_no_observer_can_change_what_the_next_one_is_told(kind):
    """Events are frozen: all observers are handed the same one."""
    event = kind(*(None for _ in fields(kind)))
    with pytest.raises(FrozenInstanceError):
        event.at_s = 1.0
