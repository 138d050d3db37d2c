"""A whole corner through a real pty and a real socket, against a practice controller that is a process of its own.

The judge is the practice controller's own truth: where the stock really lies, what was really written.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from gingerly import Position, Standstill
from support.practice import CORNER, PLACE, SHAPES, TOOL, Hands, Practice, Shelf

WITHIN = 0.06
"""Lip and tool tolerance, runout, seating gap and edge form of the practice machine, added up, in mm."""


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("shape", "link"), [(shape, "tcp") for shape in SHAPES] + [("practice", "pty"), ("chatter", "pty")]
)
async def test_corner_is_found_and_set_in_one_line_whatever_the_controller_sounds_like(
    shelf: Shelf, shape: str, link: str
) -> None:
    """Every shape of profile, on socket and pty, ends with the true corner in work offset 2, and no push."""
    practice = shelf.take(shape, link)
    async with Hands(practice).machine() as machine:
        result = await machine.attempt(CORNER, hand_over=True)
    assert result.fault is None
    assert result.outcome.released
    truth = practice.truth()
    assert practice.offset(2) == pytest.approx(Position(*truth["corner"]), abs=WITHIN)
    assert len(practice.since_set_up("offset")) == 1
    assert truth["deepest"] <= TOOL.overtravel
    assert practice.pushed_on() == []
    modal = truth["modal"]
    assert (modal["distance"], modal["units"], modal["feed mode"]) == ("90", "21", "94")


@pytest.mark.asyncio
async def test_contact_told_after_the_answer_is_found_as_well(tmp_path: Path) -> None:
    """On completion, a contact may come before the command's answer or after it."""
    with Practice(tmp_path, shape="terse", more=("--contact-after-answer",)) as practice:
        async with Hands(practice).machine() as machine:
            result = await machine.attempt(CORNER)
        assert result.fault is None
        assert practice.offset(2) == pytest.approx(Position(*practice.truth()["corner"]), abs=WITHIN)


@pytest.mark.asyncio
@pytest.mark.parametrize("shape", ["practice", "terse", "objects"])
async def test_old_offsets_and_shifts_do_not_move_the_result(shelf: Shelf, shape: str) -> None:
    """Work offsets that stand already, also the selected one, change nothing of where the corner is found."""
    practice = shelf.take(shape)
    async with Hands(practice).machine() as machine:
        for number in (1, 2, 3):
            await machine.adapter.write_offset(number, dict(enumerate(PLACE.times(0.25))))  # type: ignore[arg-type]
        result = await machine.attempt(CORNER)
    assert result.fault is None
    assert practice.offset(2) == pytest.approx(Position(*practice.truth()["corner"]), abs=WITHIN)
    assert result.outcome.standstill is Standstill.CONFIRMED
