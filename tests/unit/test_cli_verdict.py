"""The last word on a whole run: whether the machine was moved, and whether it stands still."""

from __future__ import annotations

import errno
import io
import json
import sys
from dataclasses import replace

import pytest

from gingerly import batch
from gingerly.batch import Summary
from gingerly.cli.session import Watch, show
from gingerly.cycle import State
from gingerly.driver.events import Ordered
from gingerly.geometry import ORIGIN
from gingerly.messages.commands import Look, Traverse
from gingerly.messages.faults import Declined, LinkLost, OffsetNotKept, OutsideEnvelope, Standstill
from support.jobs import sound

MOVED = Watch(moved=True, standstill=Standstill.CONFIRMED)
MAYBE = "standstill is not confirmed: the machine may still be moving, use the machine's own stop"


@pytest.fixture(scope="module")
def declined() -> Summary:
    """Three parts are done; before the fourth the tool is not changed."""
    return batch.run_blocking(sound().with_options(operator={"answers": {"change tool": "no"}}))


@pytest.fixture(scope="module")
def good() -> Summary:
    return batch.run_blocking(sound())


def verdict(capsys: pytest.CaptureFixture[str], summary: Summary, watch: Watch) -> tuple[int, str]:
    capsys.readouterr()
    code = show(summary, watch, as_json=True)
    out, told = capsys.readouterr()
    assert json.loads(out)["exit_code"] == code
    return code, " ".join(told.split())


def ended_before_its_parts(summary: Summary, fault: Exception) -> Summary:
    """As a batch ends that is refused when the tool was raised, or brought somewhere, for it already."""
    first, *others = (replace(entry, result=None, fault=None) for entry in summary.parts)
    return replace(summary, parts=(replace(first, fault=fault), *others))  # type: ignore[arg-type]


def test_after_parts_that_moved_nobody_says_of_the_whole_run_that_nothing_did(
    declined: Summary, capsys: pytest.CaptureFixture[str]
) -> None:
    assert declined.parts[3].fault is not None
    assert declined.parts[3].fault.standstill is Standstill.UNMOVED
    code, told = verdict(capsys, declined, MOVED)
    assert code == 1
    assert told == "ended with a fault (Declined): the machine stands still; nothing was moved since the last part."


def test_the_same_of_one_that_was_interrupted(declined: Summary, capsys: pytest.CaptureFixture[str]) -> None:
    cut_off = replace(declined, interrupted=True)
    at_a_question = Watch(moved=True, standstill=Standstill.UNMOVED)
    code, told = verdict(capsys, cut_off, at_a_question)
    assert code == 130
    assert told == "interrupted: the machine stands still; nothing was moved since the last part."


def test_a_tool_that_was_raised_before_the_parts_was_moved(
    good: Summary, capsys: pytest.CaptureFixture[str]
) -> None:
    told = verdict(capsys, ended_before_its_parts(good, OffsetNotKept()), MOVED)[1]
    assert "the machine stands still; nothing was moved since the step that came before the first part" in told


def test_what_is_refused_after_a_motion_was_not_refused_before_anything_moved(
    good: Summary, capsys: pytest.CaptureFixture[str]
) -> None:
    refused = ended_before_its_parts(good, OutsideEnvelope())
    assert verdict(capsys, refused, Watch())[0] == 3
    assert verdict(capsys, replace(refused, moved_besides=True), MOVED)[0] == 1


def test_what_may_still_be_moving_after_the_tool_was_brought_is_not_said_to_stand(
    good: Summary, capsys: pytest.CaptureFixture[str]
) -> None:
    """Homing or a jog that nobody saw end, and then a no: the part itself moved nothing."""
    maybe = Watch(moved=True, standstill=Standstill.UNCONFIRMED)
    assert MAYBE in verdict(capsys, ended_before_its_parts(good, Declined()), maybe)[1]


def test_whether_the_machine_stands_is_told_even_where_nobody_takes_the_data(
    declined: Summary, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full(io.StringIO):
        def write(self, text: str) -> int:
            raise OSError(errno.ENOSPC, "no space left")

    monkeypatch.setattr(sys, "stdout", Full())
    with pytest.raises(OSError, match="no space"):
        show(declined, MOVED, as_json=True)
    assert "nothing was moved since the last part" in " ".join(capsys.readouterr().err.split())


def test_where_nothing_was_moved_that_is_said(good: Summary, capsys: pytest.CaptureFixture[str]) -> None:
    told = verdict(capsys, ended_before_its_parts(good, Declined()), Watch())[1]
    assert told == "ended with a fault (Declined): nothing was moved."


def test_an_interruption_between_the_parts_tells_how_what_moved_then_has_ended(
    good: Summary, capsys: pytest.CaptureFixture[str]
) -> None:
    """Raised after an interruption, shown a new zero: no part holds the fault."""
    watch = Watch(moved=True, standstill=Standstill.UNCONFIRMED)
    assert verdict(capsys, replace(good, interrupted=True), watch)[1] == f"interrupted: {MAYBE}."
    assert verdict(capsys, replace(good, interrupted=True), MOVED)[1].endswith("stands still (confirmed).")


def test_a_machine_that_may_be_moving_is_not_hidden_by_what_comes_after(
    good: Summary, capsys: pytest.CaptureFixture[str]
) -> None:
    lost = replace(good.parts[0], fault=LinkLost(standstill=Standstill.UNCONFIRMED))
    summary = replace(good, parts=(lost, *good.parts[1:]), after=Declined())
    assert verdict(capsys, summary, MOVED)[1] == f"ended with a fault (LinkLost, Declined): {MAYBE}."


def test_a_motion_counts_once_it_is_ordered_and_a_look_is_none() -> None:
    watch = Watch()
    watch.observe(Ordered(State.CHECKING, Look(0.0, 1.0), 0.0))
    assert not watch.moved
    watch.observe(Ordered(State.TRAVERSING, Traverse(ORIGIN, None, 1.0), 0.0))
    assert watch.moved
