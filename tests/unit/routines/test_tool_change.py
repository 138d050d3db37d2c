"""A tool change: which sets of offsets it takes, and by how much it shifts them."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import pytest

from gingerly.budgets import DEFAULTS
from gingerly.explore.scenarios import SITE, SPOT
from gingerly.geometry import Axis
from gingerly.messages.touches import Change, Finding, Setting
from gingerly.routines import ToolChange
from gingerly.routines.course import foreseen_face


def _follows(routine):
    """What the routine makes of a face found where it is expected, and the machine Z at that contact."""
    course = routine.plan(replace(SITE, doubts=DEFAULTS))
    face = foreseen_face(course.next(()))
    return course.next((face,)), face.position.z


@pytest.mark.parametrize("longer", [1.25, -1.25])
def test_every_named_offset_is_shifted_by_the_change_in_length(longer):
    """A longer tool meets the face with the machine higher up by as much, and so does every zero."""
    _, z = _follows(ToolChange(spot=SPOT))
    setting, _ = _follows(ToolChange(spot=SPOT, before=z - longer, offsets=(9, 1)))
    assert isinstance(setting, Setting)
    assert [change.number for change in setting.changes] == [9, 1]
    for change in setting.changes:
        assert change == Change(change.number, ((Axis.Z, pytest.approx(longer)),), relative=True)


def test_with_the_first_tool_the_height_is_found_as_it_is_and_nothing_set():
    """Whatever is one-sided about a touch is so with either tool, and corrected for with neither."""
    finding, z = _follows(ToolChange(spot=SPOT, offsets=(1,)))
    assert finding == Finding(((Axis.Z, z),))


def test_a_height_from_before_without_offsets_to_shift_is_refused():
    with pytest.raises(ValueError, match="name at least one work offset"):
        ToolChange(spot=SPOT, before=-50.0)


@pytest.mark.parametrize("offsets", [(0,), (10,), (1, 1), (1, 2, 1), (1, 10), (0, 2)])
def test_an_offset_twice_or_outside_one_to_nine_is_refused(offsets):
    with pytest.raises(ValueError, match="different numbers from 1 to 9"):
        ToolChange(spot=SPOT, before=-50.0, offsets=offsets)


def test_all_nine_offsets_may_be_shifted_at_once():
    assert ToolChange(spot=SPOT, before=-50.0, offsets=tuple(range(1, 10))).offsets[-1] == 9


def test_a_tool_change_is_described_by_name_and_stays_as_it_was_made():
    with pytest.raises(TypeError):
        ToolChange(SPOT)
    with pytest.raises(FrozenInstanceError):
        ToolChange(spot=SPOT).before = -50.0
