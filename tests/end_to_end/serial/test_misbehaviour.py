"""All that a controller and its cable can do wrong, at a real process: the right fault, honest words, no push.

Each case is judged by the practice controller's own truth: no motion towards the work while the circuit was closed,
the work offset old or new and never a mixture, and standstill only said to be confirmed where the machine stood.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest

from gingerly import Position, Result, Stands, Standstill
from support.practice import IMPATIENT, SHAPES, SURFACE, Hands, Practice, Shelf

BOUNDED_S = 40.0
"""No run may take longer than this, whatever happens."""

SENSE = 3
"""The third motion of a surface is the fast sense."""

SPOILT_REPLIES = [
    ({"what": "drop", "which": "accepted", "nth": 4}, {""}),
    ({"what": "drop", "which": "accepted", "nth": 5}, {"NoAnswer"}),
    ({"what": "garble", "which": "accepted", "nth": 5}, {"NoAnswer"}),
    ({"what": "interleave", "which": "accepted", "nth": 5}, {"NoAnswer"}),
    ({"what": "delay", "which": "accepted", "nth": 4, "seconds": 1.6}, {"NoAnswer"}),
    ({"what": "delay", "which": "accepted", "nth": 4, "seconds": 0.05}, {""}),
    ({"what": "duplicate", "which": "accepted", "nth": 4, "times": 5}, {""}),
    ({"what": "split", "which": "any", "nth": 5, "times": 5, "seconds": 0.01}, {""}),
    ({"what": "drop", "which": "contact", "nth": 2}, {"NoAnswer"}),
    ({"what": "drop", "which": "done", "nth": 3}, {""}),
    ({"what": "garble", "which": "state", "nth": 9}, {""}),
    ({"what": "drop", "which": "state", "nth": 9, "times": 2}, {""}),
    ({"what": "delay", "which": "state", "nth": 9, "seconds": 1.6}, {"NoAnswer"}),
]
"""On our own profile: what is spoilt, and the faults it may end in; an empty name is a run that ends well.

The fourth command is the fast sense, whose end tells as much as its answer; the fifth sets absolute distances."""


async def run(practice: Practice, *, impatient: bool = False, **mischief: Any) -> Result:
    """Set up a surface, let it go wrong, and return the result; nothing may take longer than is bounded."""
    practice.mischief(**mischief)
    options = IMPATIENT if impatient else {}
    async with asyncio.timeout(BOUNDED_S), Hands(practice).machine(**options) as machine:
        return await machine.attempt(SURFACE)


def judge(practice: Practice, result: Result) -> None:
    """What must hold after every run, however it ended, by the practice controller's own truth."""
    assert practice.pushed_on() == []
    top = practice.truth()["corner"][2]
    x, y, z = practice.offset(2)
    assert (x, y) == (0.0, 0.0)
    assert z == 0.0 or z == pytest.approx(top, abs=0.05)
    if result.outcome.standstill is Standstill.CONFIRMED:
        assert practice.truth()["moving"] is False


def name_of(result: Result) -> str:
    return "" if result.fault is None else result.fault.name


@pytest.mark.asyncio
@pytest.mark.parametrize(("mischief", "faults"), SPOILT_REPLIES)
async def test_spoilt_reply_ends_in_its_fault_or_does_no_harm(
    shelf: Shelf, mischief: dict[str, Any], faults: set[str]
) -> None:
    """A lost or unreadable answer ends in NoAnswer; one that is split, late a little or told twice, in none."""
    practice = shelf.take("practice")
    result = await run(practice, impatient="NoAnswer" in faults, **mischief)
    assert name_of(result) in faults
    judge(practice, result)
    if result.fault is not None:
        assert result.outcome.standstill is Standstill.CONFIRMED


@pytest.mark.asyncio
@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(
    ("mischief", "faults"),
    [
        ({"what": "stuck open", "motion": SENSE}, {"NoContact", "AlarmActive"}),
        ({"what": "stuck closed", "motion": SENSE, "share": 0.5}, {"UnexpectedContact"}),
        ({"what": "write wrong"}, {"OffsetNotKept", ""}),
        ({"what": "drop", "which": "accepted", "nth": 5}, {"NoAnswer"}),
    ],
)
async def test_every_shape_of_profile_meets_the_same_faults(
    shelf: Shelf, shape: str, mischief: dict[str, Any], faults: set[str]
) -> None:
    """A dead lead, a stuck circuit, a wrong write and a lost answer are called by their names on every profile."""
    practice = shelf.take(shape)
    result = await run(practice, impatient="NoAnswer" in faults, **mischief)
    assert name_of(result) in faults
    if mischief["what"] != "write wrong" or shape != "chatter":
        judge(practice, result)


@pytest.mark.asyncio
async def test_missed_contact_stops_at_the_end_of_the_sense_and_comes_back(shelf: Shelf) -> None:
    """With the lead off the tool ends back at the top, the machine stands, and nothing was written."""
    practice = shelf.take("practice")
    result = await run(practice, what="stuck open", motion=SENSE)
    assert name_of(result) == "NoContact"
    assert practice.truth()["position"][2] == 0.0
    assert practice.since_set_up("offset") == []


@pytest.mark.asyncio
async def test_miss_that_latches_an_alarm_says_so_and_clears_nothing(shelf: Shelf) -> None:
    """Where a miss latches an alarm the fault is still NoContact, and the alarm is left for a person."""
    practice = shelf.take("terse")
    result = await run(practice, what="stuck open", motion=SENSE)
    assert name_of(result) == "NoContact"
    assert practice.since_set_up("clear") == []


@pytest.mark.asyncio
@pytest.mark.parametrize("motion", [2, 3, 5])
async def test_reset_in_mid_move_is_a_restart_and_nothing_is_written(shelf: Shelf, motion: int) -> None:
    """A controller that resets in a traverse, a sense or a re-touch ends the run; the old offset stands."""
    practice = shelf.take("practice")
    result = await run(practice, what="reset", motion=motion)
    assert name_of(result) == "ControllerRestarted"
    assert practice.since_set_up("offset") == []
    judge(practice, result)


@pytest.mark.asyncio
@pytest.mark.parametrize(("what", "stands"), [("write ignored", Stands.OLD), ("write wrong", Stands.OLD)])
async def test_offset_that_is_not_kept_is_noticed_and_the_old_one_stands(
    shelf: Shelf, what: str, stands: Stands
) -> None:
    """An ignored or a wrong write is found by reading back; the old origin is restored, and said to stand."""
    practice = shelf.take("practice")
    result = await run(practice, what=what)
    assert name_of(result) == "OffsetNotKept"
    assert practice.offset(2) == Position(0.0, 0.0, 0.0)
    assert result.outcome.offsets[0].stands is stands


@pytest.mark.asyncio
@pytest.mark.parametrize("motion", [2, 3, 4])
@pytest.mark.parametrize("link", ["tcp", "pty"])
async def test_pulled_cable_is_said_honestly(tmp_path: Path, link: str, motion: int) -> None:
    """A link that breaks in mid-move is LinkLost, and nobody claims that the machine stands still."""
    with Practice(tmp_path, link=link, mischief=({"what": "hang up", "motion": motion},)) as practice:
        async with asyncio.timeout(BOUNDED_S), Hands(practice).machine() as machine:
            result = await machine.attempt(SURFACE)
        assert name_of(result) == "LinkLost"
        assert result.outcome.standstill is Standstill.UNCONFIRMED
        assert "machine's own stop" in str(result.fault)
        assert practice.pushed_on() == []


@pytest.mark.asyncio
async def test_replugged_controller_serves_the_next_run(tmp_path: Path) -> None:
    """After a broken link the next connection goes on, once the machine has come to rest by itself."""
    with Practice(tmp_path, mischief=({"what": "hang up", "motion": 2},)) as practice:
        async with Hands(practice).machine() as machine:
            first = await machine.attempt(SURFACE)
        practice.hand("set up")
        async with Hands(practice).machine() as machine:
            second = await machine.attempt(SURFACE)
        assert (name_of(first), name_of(second)) == ("LinkLost", "")


@pytest.mark.asyncio
async def test_emergency_stop_during_a_traverse_is_an_alarm(shelf: Shelf) -> None:
    """The machine's own stop, pressed in mid-move, ends the run as an alarm that is not cleared."""
    practice = shelf.take("practice")
    result = await run(practice, what="alarm", motion=2, detail="emergency stop pressed")
    assert name_of(result) == "AlarmActive"
    assert practice.since_set_up("clear") == []
    judge(practice, result)


@pytest.mark.asyncio
async def test_bouncing_contact_is_repeated_not_believed(shelf: Shelf) -> None:
    """A contact that does not last is dropped and repeated, and the face is still found where it is."""
    practice = shelf.take("practice")
    result = await run(practice, what="bounce", motion=SENSE)
    assert name_of(result) == ""
    assert len(practice.since_set_up("motion")) > 9
    judge(practice, result)


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("what", "detail", "amount"),
    [("foreign state", "shift", 5.0), ("foreign state", "tool length", 3.0), ("foreign state", "override", 0.5)],
)
async def test_what_is_in_force_and_would_falsify_is_noticed_and_left(
    shelf: Shelf, what: str, detail: str, amount: float
) -> None:
    """A shift, a tool length offset or an override stops the run before any motion, and is not cancelled."""
    practice = shelf.take("practice")
    result = await run(practice, what=what, detail=detail, amount=amount)
    assert name_of(result) == "ForeignState"
    assert practice.since_set_up("motion") == []


@pytest.mark.asyncio
@pytest.mark.parametrize("meanwhile", [("G10 L2 P3 X50 Y40",), ("G10 L2 P1 X50 Y40", "G54"), ("G20",)])
async def test_what_another_hand_changed_between_two_looks_leads_nowhere_wrong(
    shelf: Shelf, meanwhile: tuple[str, ...]
) -> None:
    """Positions told in a work system mean something else after its origin, the system or the units were changed."""
    practice = shelf.take("terse")
    async with asyncio.timeout(BOUNDED_S), Hands(practice).machine() as machine:
        await machine.look()
        for line in meanwhile:
            await machine.adapter._link.order(line)  # type: ignore[attr-defined]  # as from the controller's own keys
        told = (await machine.look()).position
    truth = practice.truth()
    assert told.distance(Position(*truth["position"])) < 0.01
    assert truth["modal"]["units"] == "21"
