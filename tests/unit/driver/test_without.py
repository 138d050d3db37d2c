"""What a machine is asked for and does not have, or not yet: told as an error in words, before anything moves."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from gingerly import CircuitUnknown, Declined, Interrupted, Jogger, Machine, Standstill
from gingerly.driver.blocking import BlockingMachine
from gingerly.driver.run import STUBBORN
from gingerly.routines.self_check import SelfCheck
from gingerly_mock import MockAdapter
from support.bench import PIN, bench, corner_routine, scene, spot
from support.turns import turn, until


class Hidden:
    """A machine whose simulation nobody can get at."""

    def __init__(self, inner):
        self._inner = inner

    def __getattr__(self, name):
        if name in ("stage", "operator", "deepest_penetration", "home"):
            raise AttributeError(name)
        return getattr(self._inner, name)


def real():
    machine = bench()
    machine.adapter = Hidden(machine.adapter)
    return machine


@pytest.mark.asyncio
async def test_a_real_machines_table_cannot_be_set_from_here():
    async with real() as machine:
        with pytest.raises(TypeError, match="'bench' is no simulation"):
            await machine.stage(spot())


@pytest.mark.asyncio
async def test_a_machine_without_a_way_to_home_it_says_so():
    async with real() as machine:
        with pytest.raises(Declined, match="no way to home this machine"):
            await Jogger(machine, tool=PIN).home()


@pytest.mark.asyncio
async def test_where_only_a_person_can_check_the_circuit_a_machine_does_not():
    machine = bench(circuit_known=False)
    async with machine:
        with pytest.raises(CircuitUnknown, match="only a person can check"):
            await machine.self_check(SelfCheck(spot=replace(spot(), plate=None)))
        assert machine.adapter.motions == ()


def test_a_blocking_machine_is_entered_before_it_is_used():
    with pytest.raises(RuntimeError, match="enter the machine with `with`"):
        _ = BlockingMachine(lambda: bench()).machine


class Stubborn(MockAdapter):
    """Its stop never ends by itself: whatever waits for it is cancelled again."""

    stops = 0

    async def stop(self):
        self.stops += 1
        for task in asyncio.all_tasks() - {self.spared}:
            task.cancel()
        await asyncio.sleep(0)
        return await super().stop()


@pytest.mark.asyncio
async def test_a_loop_that_cancels_every_stop_ends_the_run_after_a_bounded_number_of_tries():
    """Nothing is said to stand still then that nobody has seen to stand."""
    adapter = Stubborn(seed=3, ideal=True, faults=[{"what": "pause", "call": "sense", "nth": 2, "after_mm": 0.3}])
    adapter.spared = asyncio.current_task()
    machine = Machine(adapter, operator=adapter.operator)
    async with machine:
        adapter.stage(scene())
        task = asyncio.ensure_future(machine.attempt(corner_routine()))
        await until(lambda: adapter.paused)
        task.cancel()
        for _ in range(200):
            if task.done():
                break
            await turn()
        assert task.cancelled()
        assert 1 <= adapter.stops <= STUBBORN * STUBBORN
        assert isinstance(machine.last.fault, Interrupted)
        assert machine.last.fault.standstill is Standstill.UNCONFIRMED
