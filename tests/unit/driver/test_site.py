"""What a machine plans a routine for: where the tool stands, and whether the length of this very tool is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import Machine, Position, Wishes
from gingerly_mock import MockAdapter
from support.bench import PIN, bench, corner_routine, scene, spot

HERE = Position(20.0, 20.0, -5.0)


async def touched() -> Machine:
    """A machine that has just touched a corner with `PIN`."""
    machine = bench()
    async with machine:
        machine.adapter.stage(scene())  # type: ignore[attr-defined]
        await machine.probe(corner_routine())
    return machine


@pytest.mark.asyncio
async def test_the_length_is_known_of_the_tool_that_touched_and_of_no_other() -> None:
    machine = await touched()
    thicker = replace(PIN, diameter=8.0, name="thicker")
    routines = (corner_routine(), corner_routine(tool=replace(PIN)), corner_routine(tool=thicker), None)
    assert [machine.site(HERE, routine).length_known for routine in routines] == [True, True, False, False]


def test_before_any_touch_no_length_is_known() -> None:
    machine = bench()
    assert not machine.site(HERE, corner_routine()).length_known
    assert not machine.site(HERE).length_known


def test_the_wishes_of_a_run_come_before_those_of_its_machine() -> None:
    machine = bench(machine={"wishes": Wishes(retouches=3)})
    assert machine.site(HERE).wishes == Wishes(retouches=3)
    assert machine.site(HERE, wishes=Wishes(retouches=5)).wishes == Wishes(retouches=5)


@pytest.mark.asyncio
async def test_a_blank_lies_square_unless_more_is_said() -> None:
    machine = bench()
    async with machine:
        await machine.stage(spot())
        assert machine.adapter.true_skew == 0.0  # type: ignore[attr-defined]
        await machine.stage(spot(), skew=0.02)
        assert 0.0 < abs(machine.adapter.true_skew) <= 0.02  # type: ignore[attr-defined]


@pytest.mark.asyncio
async def test_a_machine_without_an_operator_takes_the_virtual_one_with_its_table() -> None:
    machine = Machine(MockAdapter(ideal=True))
    async with machine:
        await machine.stage(spot())
    assert machine.operator is machine.adapter.operator  # type: ignore[attr-defined]
