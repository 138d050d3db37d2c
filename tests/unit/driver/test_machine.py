"""The machine's own doing: what it leaves on, what it refuses, and how it gets out of where it was interrupted."""

from __future__ import annotations

import pytest

from gingerly import Declined, OutsideEnvelope, Position, connect
from gingerly.driver.attachment import Found, Zero
from gingerly.explore.scenarios import CORNER
from gingerly.geometry import Axis
from support.bench import PLACE, bench, corner_routine, scene
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


def test_a_connected_machine_is_called_as_asked_or_like_its_adapter_and_waives_nothing() -> None:
    plain, named = connect("mock"), connect("mock", name="attic mill")
    assert (plain.name, named.name) == ("mock", "attic mill")
    assert not plain.blind_waiver
