"""On a machine that sees no circuit while it moves, what is met unexpectedly is met by a short piece of the way."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from gingerly import UnexpectedContact
from gingerly.messages.facts import Guard
from gingerly.messages.touches import Touch
from support.bench import PIN, PLACE, bench, corner_routine, scene


async def probed(guard: str, *, nearer: float):
    """Touch a corner that lies `nearer` mm nearer in X than said; return the result and how deep the tool went."""
    machine = bench(guard=guard)
    async with machine:
        machine.adapter.stage(scene(place=PLACE._replace(x=PLACE.x - nearer), within=0.0))
        result = await machine.attempt(corner_routine())
        return result, machine.adapter.deepest_penetration


@pytest.mark.asyncio
@pytest.mark.parametrize("nearer", [3.0, 6.0])
async def test_a_tool_that_comes_down_on_the_plate_is_pushed_no_further_than_it_bears(nearer):
    """Unwatched in one piece, the way down beside the lip would push it as far as the whole depth."""
    result, deepest = await probed("none", nearer=nearer)
    assert isinstance(result.fault, UnexpectedContact)
    assert deepest <= PIN.miss_limit


@pytest.mark.asyncio
async def test_where_all_is_as_said_the_corner_is_found_all_the_same():
    result, _ = await probed("none", nearer=0.0)
    assert result.fault is None


@pytest.mark.parametrize("guard", list(Guard))
def test_only_what_nothing_watches_is_cut_up(site, guard):
    """With a guard every leg is as it was; without one none is longer than the tool bears, and all end as before."""
    routine = corner_routine()
    here = site()
    plain = routine.plan(here)
    unguarded = replace(here, facts=replace(here.facts, guard=guard))
    course = routine.plan(unguarded)
    for before, after in zip(plain.foreseen(), course.foreseen(), strict=True):
        if not isinstance(before, Touch):
            continue
        assert after.legs[-1].to == before.legs[-1].to
        ends = [leg.to for leg in after.legs if leg.feed is not None]
        if guard is Guard.NONE:
            assert all(a.distance(b) <= PIN.miss_limit + 1e-9 for a, b in pairwise(ends))
        else:
            assert len(after.legs) == len(before.legs)
