"""The machine's own doing: what it leaves on, what it refuses, and how it gets out of where it was interrupted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import Declined, ForeignState, Machine, OutsideEnvelope, Position, Stock, connect
from gingerly.driver.attachment import Found, Zero
from gingerly.explore.scenarios import CORNER
from gingerly.geometry import Axis
from gingerly.messages.snapshot import AS_PROGRAMMED, Snapshot
from gingerly.routines.self_check import SelfCheck
from gingerly_mock import MockAdapter
from support.bench import PIN, PLACE, bench, corner_routine, scene, spot
from support.story import corner, tell

LOW = Position(30.0, 30.0, -40.0)


@pytest.mark.asyncio
async def test_after_a_run_lead_and_plate_stay_on_unless_it_is_to_hand_over() -> None:
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())  # type: ignore[attr-defined]
        kept = await machine.attempt(corner_routine())
        over = await machine.attempt(corner_routine(), hand_over=True)
    assert (kept.outcome.released, over.outcome.released) == (False, True)


@pytest.mark.asyncio
async def test_a_routine_that_must_not_begin_has_a_result_that_took_no_time() -> None:
    machine = bench()
    async with machine:
        result = await machine.attempt(corner_routine(place=PLACE._replace(x=2.0)))
    assert isinstance(result.fault, OutsideEnvelope)
    assert (result.routine, result.duration_s, machine.last) == ("OutsideCorner", 0.0, result)


@pytest.mark.asyncio
async def test_the_way_out_is_straight_up_and_only_with_lead_and_plate_off() -> None:
    machine = bench(position=LOW)
    async with machine:
        machine.assume_attached()
        with pytest.raises(Declined, match="not confirmed off"):
            await machine.withdraw()
        assert machine.adapter.motions == ()  # type: ignore[attr-defined]
        assert await machine.release()
        await machine.withdraw()
    (up,) = machine.adapter.motions  # type: ignore[attr-defined]
    assert (up.start, up.end) == (LOW, LOW._replace(z=machine.facts.envelope.high.z))


@pytest.mark.parametrize(("off", "known"), [(0.0, True), (1.9, True), (2.0, True), (2.1, False)])
def test_what_lies_above_a_zero_is_known_while_the_zero_stands_as_it_was_set(off: float, known: bool) -> None:
    """To within two steps of what an offset is kept in; beyond that somebody else has set it."""
    machine, story = bench(), tell(corner(hand_over=False))
    found = Found(story.session.setup.course, story.outcome.faces, 6.0)  # type: ignore[arg-type]
    machine._attachment.zeros[2] = Zero(Position(0.0, 0.0, 0.0), frozenset(Axis), (found,))
    step = machine.facts.offset_resolution
    assert (machine._above(2, Position(0.0, 0.0, off * step)) is not None) is known
    assert machine._above(3, CORNER) is None


class HalfTold(MockAdapter):
    """Does not tell whether a tool length offset is in force."""

    async def look(self) -> Snapshot:
        return replace(await super().look(), in_force=replace(AS_PROGRAMMED, tool_length=None))


@pytest.mark.asyncio
async def test_nobody_but_a_person_checks_the_circuit_of_a_machine_that_tells_only_half_of_what_is_in_force() -> (
    None
):
    stock = Stock(size_x=60.0, size_y=60.0, thickness=20.0, conductive=True)
    bare = spot(plate=None, stock=stock, place=Position(140.0, 90.0, -20.0))
    async with Machine(HalfTold(ideal=True, position=[160.0, 110.0, -5.0])) as machine:
        with pytest.raises(ForeignState, match="only a person can see all of what is in force"):
            await machine.self_check(SelfCheck(spot=bare))
    assert machine.adapter.motions == ()  # type: ignore[attr-defined]


@pytest.mark.asyncio
async def test_the_zero_is_looked_at_with_the_tool_that_touched_however_it_is_told() -> None:
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())  # type: ignore[attr-defined]
        await machine.attempt(corner_routine(), hand_over=True)
        looked = await machine.look_at_zero(1, height=5.0, tool=replace(PIN))
    assert looked.fault is None


def test_a_machine_waives_nothing_unless_it_is_told_to() -> None:
    assert not bench().blind_waiver


def test_a_connected_machine_is_called_as_asked_or_like_its_adapter_and_waives_nothing() -> None:
    plain, named = connect("mock"), connect("mock", name="attic mill")
    assert (plain.name, named.name) == ("mock", "attic mill")
    assert not plain.blind_waiver
