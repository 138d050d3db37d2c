"""A work offset is written whole or not at all, read back, and restored where it is not kept."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import ControllerRefused, Interrupted, LinkLost, OffsetNotKept, Position, Stands, Standstill
from gingerly.cycle import State
from gingerly.explore.scenarios import CORNER, FACTS, paper_at
from gingerly.geometry import Axis
from gingerly.messages.commands import ReadOffset, WriteOffset
from support.story import corner, deviating, several, surface, tell, tool_change


def test_all_axes_are_written_in_one_command_and_read_back():
    """One write for the corner, between two readings."""
    story = tell(corner())
    (write,) = story.ordered(WriteOffset)
    assert [axis for axis, _ in write.axes] == [Axis.X, Axis.Y, Axis.Z]
    assert len(story.ordered(ReadOffset)) == 2
    (state,) = story.outcome.offsets
    assert (state.stands, state.new) == (Stands.NEW, CORNER)


def test_untouched_axes_stay_as_they_were():
    """A surface writes Z alone, and what is read back must still hold the old X and Y."""
    paper = paper_at()
    paper.offsets[2] = Position(11.0, 22.0, 33.0)
    story = tell(surface(), paper=paper)
    (write,) = story.ordered(WriteOffset)
    assert [axis for axis, _ in write.axes] == [Axis.Z]
    assert story.outcome.offsets[0].new == Position(11.0, 22.0, CORNER.z)


@pytest.mark.parametrize("deviation", ["write ignored", "written wrong"])
def test_an_offset_that_is_not_kept_is_restored(deviation):
    """What does not read back as meant is put back to the old values, and the fault says what stands."""
    story = tell(corner(), deviating(State.COMMITTING, deviation))
    assert isinstance(story.fault, OffsetNotKept)
    assert story.fault.done == "wrote the old values back"
    assert story.ordered(WriteOffset)[1].axes == tuple(
        (axis, story.ordered(WriteOffset)[0].old[axis]) for axis in Axis
    )
    assert story.fault.offsets[0].stands is Stands.OLD


def test_an_offset_that_cannot_be_restored_is_reported_as_it_stands():
    """A controller that keeps neither the new nor the old values has its reading told."""
    bends = [deviating(State.COMMITTING, "written wrong"), deviating(State.RESTORING, "written wrong")]
    story = tell(corner(), several(*bends))
    (state,) = story.fault.offsets
    assert state.stands is Stands.NEITHER
    assert "it reads" in str(state)


def test_a_refused_write_leaves_the_old_values_and_says_so():
    """After a refusal the offset is read before the run ends."""
    story = tell(corner(), deviating(State.COMMITTING, "refused"))
    assert isinstance(story.fault, ControllerRefused)
    assert story.fault.code == "17"
    assert story.fault.offsets[0].stands is Stands.OLD


def test_an_interrupted_write_that_happened_is_told_as_new():
    """Ctrl-C between the write and its answer: what stands is read, not guessed."""
    story = tell(corner(), deviating(State.COMMITTING, "done, then interrupted"))
    assert isinstance(story.fault, Interrupted)
    assert story.fault.offsets[0].stands is Stands.NEW


def test_a_link_lost_while_writing_leaves_the_offset_unknown():
    """Nobody can say what stands when the link is gone, so nobody does."""
    story = tell(corner(), deviating(State.COMMITTING, "done, then link lost"))
    assert isinstance(story.fault, LinkLost)
    assert story.fault.offsets[0].stands is Stands.UNKNOWN
    assert story.fault.standstill is Standstill.UNCONFIRMED


def test_a_machine_that_cannot_read_offsets_leaves_an_unconfirmed_result():
    """Written but not readable is never told as set."""
    story = tell(corner(facts=replace(FACTS, offsets_readable=False)))
    assert story.outcome.fault is None
    assert story.outcome.offsets[0].stands is Stands.UNCONFIRMED
    assert story.outcome.unconfirmed == ("the machine cannot read its work offsets back",)


def test_what_is_only_found_needs_no_offset_that_can_be_read():
    """A machine that cannot tell its offsets still finds a face, and writes nothing."""
    story = tell(surface(offset=None, facts=replace(FACTS, offsets_readable=False)))
    assert story.session.state is State.DONE
    assert not story.ordered(WriteOffset)


def test_a_tool_change_shifts_a_set_by_one_difference():
    """Every named offset moves by the change in length, and by nothing else."""
    paper = paper_at()
    story = tell(tool_change(before=CORNER.z + 6.0 - 1.25), paper=paper)
    assert [state.number for state in story.outcome.offsets] == [1, 2, 5]
    for state in story.outcome.offsets:
        assert state.new.minus(state.old) == pytest.approx((0.0, 0.0, 1.25))


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_a_set_is_shifted_whole_or_not_at_all(turn):
    """Whichever of the three is not kept, those before it are put back as well, each once."""
    paper = paper_at()
    before = {number: paper.offset(number) for number in (1, 2, 5)}
    story = tell(tool_change(), deviating(State.COMMITTING, "write ignored", turn=turn), paper=paper)
    assert isinstance(story.fault, OffsetNotKept)
    written = [write.number for write in story.ordered(WriteOffset)]
    assert written == [1, 2, 5][:turn] + [1, 2, 5][:turn][::-1]
    assert {state.number: state.stands for state in story.fault.offsets} == dict.fromkeys((1, 2, 5), Stands.OLD)
    assert {number: paper.offset(number) for number in (1, 2, 5)} == before


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_after_trouble_between_the_writes_every_offset_is_read_once_more(turn):
    """From the first to the last, whichever of them was being read back."""
    story = tell(tool_change(), deviating(State.CONFIRMING, "interrupted", turn=turn))
    assert isinstance(story.fault, Interrupted)
    assert [read.number for read in story.ordered(ReadOffset)] == [1, 2, 5, *[1, 2, 5][:turn], 1, 2, 5]


@pytest.mark.parametrize(("readable", "deviation"), [(True, None), (False, None), (True, "write ignored")])
def test_once_the_last_offset_was_dealt_with_it_is_still_its_turn(readable, deviation):
    """Written, confirmed, or read once more after trouble: whoever asks later whose turn it is finds one."""
    setup = replace(tool_change(), facts=replace(FACTS, offsets_readable=readable))
    story = tell(setup, deviating(State.COMMITTING, deviation, turn=3) if deviation else None)
    assert story.session.work.number == 5


def test_a_write_that_was_interrupted_and_cannot_be_read_is_told_as_unknown():
    """Nothing is read where nothing can be; the run only makes sure that the machine stands."""
    facts = replace(FACTS, offsets_readable=False)
    story = tell(corner(facts=facts), deviating(State.COMMITTING, "interrupted"))
    assert isinstance(story.fault, Interrupted)
    assert story.fault.offsets[0].stands is Stands.UNKNOWN
    assert not story.ordered(ReadOffset)


def test_a_release_that_is_not_confirmed_leaves_the_run_unreleased():
    """Everything is set, but a no (or nobody) at the hand-over keeps the result unreleased."""
    for deviation in ("said no", "nobody answered"):
        story = tell(corner(), deviating(State.HANDING_OVER, deviation))
        assert story.outcome.fault is None
        assert not story.outcome.released
    assert tell(corner()).outcome.released


def test_an_interruption_at_the_hand_over_keeps_what_was_set():
    """Ctrl-C at the last question: the new values stand, and the fault says so."""
    story = tell(corner(), deviating(State.HANDING_OVER, "interrupted"))
    assert isinstance(story.fault, Interrupted)
    assert story.fault.offsets[0].stands is Stands.NEW
    assert story.fault.standstill is Standstill.CONFIRMED


def test_an_offset_that_was_put_back_and_not_read_since_is_unknown():
    """Confirmed once, written back because its neighbour was not kept: only a reading tells what stands."""
    bends = [deviating(State.CONFIRMING, "reads wrong once", turn=2), deviating(State.RECHECKING, "link lost")]
    story = tell(tool_change(), several(*bends))
    assert story.fault.offsets[0].stands is Stands.UNKNOWN
    assert story.violation is None
