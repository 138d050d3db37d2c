"""The adapter by itself, call by call, before a practice controller."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
import pytest_asyncio

from gingerly import Axis, ControllerRefused, NoAnswer, Position, Touched
from gingerly_serial import SerialAdapter
from support.practice import IMPATIENT, SHAPES, Practice, Shelf

HERE = Position(150.0, 100.0, -5.0)


class Faced:
    """A practice controller and an open adapter in front of it."""

    def __init__(self, practice: Practice) -> None:
        self.practice = practice
        self.adapter = SerialAdapter(**practice.options(**IMPATIENT))


@pytest_asyncio.fixture(params=SHAPES)
async def faced(request: pytest.FixtureRequest, shelf: Shelf) -> AsyncIterator[Faced]:
    both = Faced(shelf.take(request.param))
    await both.adapter.open()
    yield both
    await both.adapter.close()


@pytest.mark.asyncio
async def test_distances_are_absolute_again_after_each_sense(faced: Faced) -> None:
    """A program that follows a sense, whatever becomes of us, finds absolute distances in force."""
    found = await faced.adapter.sense(Position(110.0, 70.0, -60.0), 1000.0)
    assert isinstance(found, Touched)
    assert faced.practice.truth()["modal"]["distance"] == "90"


@pytest.mark.asyncio
async def test_after_a_lost_answer_the_next_command_has_its_own(faced: Faced) -> None:
    """A command that nobody answered is given up; the next ones are carried out and have their own answers."""
    faced.practice.mischief(what="drop", which="accepted")
    with pytest.raises(NoAnswer):
        await faced.adapter.write_offset(3, {Axis.X: 1.0})
    for value in (2.0, 3.0):
        await faced.adapter.write_offset(4, {Axis.Y: value})
        assert faced.practice.offset(4).y == value
    rest = await faced.adapter.traverse(HERE, None)
    assert rest.position == pytest.approx(HERE, abs=0.006)


@pytest.mark.asyncio
async def test_target_nearer_than_the_report_allows_is_never_sent(faced: Faced) -> None:
    """Source: NISTIR 6556, 3.5.9.1: a probe's target is more than 0.254 mm away."""
    here = (await faced.adapter.look()).position
    before = len(faced.practice.log("line"))
    with pytest.raises(ControllerRefused, match=r"0\.254"):
        await faced.adapter.sense(here._replace(z=here.z - 0.2), 60.0)
    assert not [entry for entry in faced.practice.log("line")[before:] if "G38.2" in entry["text"]]


@pytest.mark.asyncio
async def test_alarm_is_cleared_only_by_the_call_for_a_person(faced: Faced) -> None:
    """`clear_alarm` sends what the profile names; where it names nothing, that is said."""
    faced.practice.hand("emergency stop")
    # Where the state is pushed, what was on its way already is told first.
    assert any([(await faced.adapter.look()).alarm for _ in range(5)])
    if faced.practice.shape in ("practice", "terse"):
        await faced.adapter.clear_alarm()
        assert not (await faced.adapter.look()).alarm
    else:
        with pytest.raises(ControllerRefused, match="at the machine only"):
            await faced.adapter.clear_alarm()


@pytest.mark.asyncio
async def test_modal_state_is_set_again_after_a_restart(shelf: Shelf) -> None:
    """A controller that has restarted has forgotten its modal state; it is set again before the next command."""
    practice = shelf.take("practice")
    adapter = SerialAdapter(**practice.options())
    await adapter.open()
    practice.mischief(what="reset")
    await adapter.look()
    await adapter.traverse(HERE, None)
    await adapter.close()
    lines = [entry["text"] for entry in practice.since_set_up("line")]
    assert [line.partition(" ")[2] for line in lines] == [
        "G17 G21 G40 G80 G90 G94",
        "G17 G21 G40 G80 G90 G94",
        "G90 G53 G0 X150 Y100 Z-5",
    ]


@pytest.mark.asyncio
async def test_machine_that_moves_or_stands_in_alarm_is_left_as_it_is_by_opening(shelf: Shelf) -> None:
    """Opening sends no line to a controller in alarm, and moves nothing."""
    practice = shelf.take("practice")
    practice.hand("emergency stop")
    adapter = SerialAdapter(**practice.options())
    await adapter.open()
    await adapter.close()
    assert practice.since_set_up("line") == []


@pytest.mark.asyncio
async def test_closing_in_mid_move_stops_the_machine(shelf: Shelf) -> None:
    """Whoever closes the adapter while something moves leaves a machine that stands."""
    import asyncio

    practice = shelf.take("practice")
    adapter = SerialAdapter(**practice.options())
    await adapter.open()
    moving = asyncio.ensure_future(adapter.traverse(Position(0.0, 0.0, 0.0), 100.0))
    await asyncio.to_thread(practice.hand, "await motion 1")
    moving.cancel()
    await asyncio.wait({moving})
    await adapter.close()
    assert practice.truth()["moving"] is False
    assert practice.since_set_up("rest")[0]["stopped"]


# ---- homing -------------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_what_homes_the_machine_is_sent_where_the_profile_says_how_and_its_end_is_waited_for(
    faced: Faced,
) -> None:
    """A profile that says nothing leaves it to the machine's own keys."""
    await faced.adapter.traverse(Position(150.0, 100.0, -40.0), None)
    if faced.practice.shape != "practice":
        with pytest.raises(ControllerRefused, match="homed at the machine only"):
            await faced.adapter.home()
        return
    rest = await faced.adapter.home()
    assert (rest.idle, rest.homed) == (True, True)
    assert rest.position.z == pytest.approx(faced.adapter.facts.envelope.high.z, abs=0.006)


@pytest.mark.asyncio
async def test_homing_in_an_alarm_is_refused_by_the_controller_and_not_cleared(shelf: Shelf) -> None:
    faced = Faced(shelf.take("practice"))
    await faced.adapter.open()
    try:
        faced.practice.mischief(what="alarm")
        with pytest.raises(ControllerRefused):
            await faced.adapter.home()
        assert (await faced.adapter.look()).alarm
    finally:
        await faced.adapter.close()
