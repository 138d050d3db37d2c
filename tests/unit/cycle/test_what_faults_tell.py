"""What a fault tells must be true: where the machine was last believed to stand, and what was really done."""

from __future__ import annotations

from dataclasses import replace

from gingerly import LinkLost, OffsetNotKept, PositionJumped
from gingerly.cycle import State
from gingerly.explore.scenarios import CORNER
from gingerly.messages.commands import Traverse
from gingerly.messages.replies import Arrived, Disconnected
from support.story import HERE, corner, deviating, surface, tell


def _jumping(state, command, paper):
    """The first traverse ends 5 mm beside where it was to end."""
    if not isinstance(command, Traverse):
        return None
    return Arrived(replace(paper.snapshot(), position=command.to._replace(x=command.to.x + 5.0)))


def test_the_last_trusted_position_is_the_one_before_the_jump():
    """A position that is not to be believed is told as found, not as trusted."""
    story = tell(surface(), _jumping)
    assert isinstance(story.fault, PositionJumped)
    assert story.fault.position == HERE
    assert "5.000 mm away" in story.fault.detail


def test_a_stop_that_nobody_heard_is_told_as_tried():
    """With the link gone, nobody can say that the machine was told anything."""
    story = tell(surface(), _cut_in_motion)
    assert isinstance(story.fault, LinkLost)
    assert story.fault.done.startswith("tried to stop the machine, and was not heard")


def _cut_in_motion(state, command, paper):
    cut = isinstance(command, Traverse) or state is State.STOPPING
    return Disconnected("the cable is out") if cut else None


def test_a_stop_that_was_answered_is_told_as_done():
    story = tell(surface(), deviating(State.TRAVERSING, "timed out"))
    assert "told the machine to stop" in story.fault.done


def test_an_offset_that_was_not_kept_is_told_with_both_values_and_what_was_done():
    """What was meant, what was read, and that the old values were written back."""
    story = tell(corner(), deviating(State.COMMITTING, "write ignored"))
    assert isinstance(story.fault, OffsetNotKept)
    assert f"{CORNER} was meant, X2.000 Y2.000 Z3.000 was read" in story.fault.detail
    assert story.fault.done == "wrote the old values back"
