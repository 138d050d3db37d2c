"""A jog moves one axis by one step, is watched once the circuit is checked, and leaves a contact as it came."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from gingerly import (
    Axis,
    Circuit,
    CircuitAlreadyClosed,
    Jogger,
    KeepOut,
    KeepOutEntered,
    Machine,
    OutsideEnvelope,
    Place,
    Position,
    SpindleTurning,
    StartOutsideWindow,
    Stock,
    Tool,
    TopSpot,
    connect,
)
from gingerly.cycle import Cycle, State
from gingerly.cycle import orders as o
from gingerly.cycle.jog import expanded
from gingerly.explore.explorer import Explorer, explore
from gingerly.explore.scenarios import jog_scenarios, self_check_scenarios
from gingerly.messages import replies as r
from gingerly.routines.jog import UNGUARDED
from gingerly.routines.self_check import SelfCheck

PIN = Tool.pin(6, free_length=30)
BLOCK = Stock(size_x=60, size_y=60, thickness=20, conductive=True)
SPOT = TopSpot(tool=PIN, stock=BLOCK, place=Position(140, 90, -20), within=0.0)
SCENARIOS = {scenario.name: scenario for scenario in (*jog_scenarios(), *self_check_scenarios())}


def jogged(work: Callable[[Jogger], object], **options: object) -> object:
    """What `work` returns on an ideal machine that stands 15 mm above a bare block."""

    async def main() -> object:
        given = {"ideal": True, "position": [160, 110, -5], "guard": "polled", **options}
        async with connect("mock", **given) as machine:
            await machine.stage(SPOT)
            return await work(Jogger(machine, tool=PIN))  # type: ignore[misc]

    return asyncio.run(main())


async def checked(jogger: Jogger) -> Jogger:
    await jogger.machine.continuity((Place.STOCK,))
    await jogger.look()
    return jogger


def test_a_step_moves_one_axis_by_just_as_much() -> None:
    async def work(jogger: Jogger) -> Position:
        return (await jogger.step(Axis.Y, -0.25)).position

    assert jogged(work) == Position(160.0, 109.75, -5.0)


@pytest.mark.parametrize("distance", [0.51, -3.0])
def test_unguarded_below_clearance_a_longer_step_is_refused(distance: float) -> None:
    async def work(jogger: Jogger) -> None:
        with pytest.raises(StartOutsideWindow, match=r"at most 0\.5 mm where nothing would stop it"):
            await jogger.step(Axis.Z, distance)

    jogged(work)


def test_at_clearance_a_longer_step_is_taken() -> None:
    async def work(jogger: Jogger) -> Position:
        return (await jogger.step(Axis.X, 20.0)).position

    assert jogged(work, position=[160, 110, 0]) == Position(180.0, 110.0, 0.0)


@pytest.mark.parametrize(("guard", "guarded"), [("polled", True), ("sensed", True), ("none", False)])
def test_a_checked_circuit_guards_only_where_somebody_watches_it(guard: str, guarded: bool) -> None:
    async def work(jogger: Jogger) -> tuple[bool, bool]:
        before = jogger.guarded
        return before, (await checked(jogger)).guarded

    assert jogged(work, guard=guard) == (False, guarded)


def test_a_guarded_step_ends_at_the_contact_within_what_the_tool_may_run_on() -> None:
    async def work(jogger: Jogger) -> tuple[float, Circuit | None]:
        await checked(jogger)
        for _ in range(4):
            snapshot = await jogger.step(Axis.Z, -5.0)
        return snapshot.position.z, snapshot.circuit

    height, circuit = jogged(work)  # type: ignore[misc]
    assert circuit is Circuit.CLOSED
    assert -20.0 - PIN.overtravel <= height < -20.0


async def _in_contact(jogger: Jogger) -> Position:
    """Go down until the block is met; return where that step began."""
    await checked(jogger)
    while (before := await jogger.look()).position.z > -20.0:
        await jogger.step(Axis.Z, -5.0)
    if before.circuit is Circuit.OPEN:
        await jogger.step(Axis.Z, -5.0)
    return Position(160.0, 110.0, -20.0)


@pytest.mark.parametrize(("axis", "distance"), [(Axis.Z, -0.1), (Axis.X, 0.5), (Axis.Y, -0.5)])
def test_while_the_circuit_is_closed_no_step_goes_on_or_aside(axis: Axis, distance: float) -> None:
    async def work(jogger: Jogger) -> None:
        await _in_contact(jogger)
        before = (await jogger.look()).position
        with pytest.raises(CircuitAlreadyClosed, match=r"only the step back is taken, Z\+"):
            await jogger.step(axis, distance)
        assert (await jogger.look()).position == before

    jogged(work)


def test_the_step_back_ends_where_the_line_to_the_contact_began() -> None:
    async def work(jogger: Jogger) -> tuple[Position, Position]:
        begun = await _in_contact(jogger)
        return begun, (await jogger.step(Axis.Z, 40.0)).position

    begun, reached = jogged(work)  # type: ignore[misc]
    assert reached == begun


def test_a_circuit_closed_from_the_start_allows_no_step_since_nobody_knows_which_way_leads_off() -> None:
    async def work(jogger: Jogger) -> None:
        with pytest.raises(CircuitAlreadyClosed, match="nobody knows which way leads off"):
            await jogger.step(Axis.Z, 0.5)

    jogged(work, position=[160, 110, -20.05])


@pytest.mark.parametrize(
    ("begins", "axis", "into", "back"),
    [
        ([132, 110, -25], Axis.X, 5.0, "X-"),
        ([208, 110, -25], Axis.X, -5.0, "X+"),
        ([160, 158, -25], Axis.Y, -5.0, "Y+"),
    ],
)
def test_from_a_wall_the_way_back_is_named_and_taken_to_its_end(
    begins: list[float], axis: Axis, into: float, back: str
) -> None:
    async def work(jogger: Jogger) -> Position:
        await checked(jogger)
        while (before := (await jogger.look())).circuit is Circuit.OPEN:
            begun, after = before.position, await jogger.step(axis, into)
        with pytest.raises(CircuitAlreadyClosed, match=f"only the step back is taken, {re.escape(back)}"):
            await jogger.step(axis, into / 50.0)
        return (await jogger.step(axis, begun[axis] - after.position[axis])).position.minus(begun)

    assert jogged(work, position=begins) == Position(0.0, 0.0, 0.0)


def test_the_shortest_step_back_is_taken_too() -> None:
    async def work(jogger: Jogger) -> float:
        await _in_contact(jogger)
        before = (await jogger.look()).position
        return (await jogger.step(Axis.Z, 0.0025)).position.z - before.z

    assert jogged(work) == pytest.approx(0.0025)


def test_no_step_leads_back_along_a_line_shorter_than_what_a_position_may_be_off() -> None:
    async def work(jogger: Jogger) -> None:
        await checked(jogger)
        assert (await jogger.step(Axis.Z, -0.005)).circuit is Circuit.CLOSED
        with pytest.raises(CircuitAlreadyClosed, match="nobody knows which way leads off"):
            await jogger.step(Axis.Z, 0.005)

    jogged(work, position=[160, 110, -19.9975], resolution=0.0025)


def test_after_a_restart_no_step_leads_back_and_no_check_holds() -> None:
    """Nobody knows what the machine did meanwhile."""

    async def work(jogger: Jogger) -> bool:
        await _in_contact(jogger)
        adapter = jogger.machine.adapter
        looks = [made.call for made in adapter.log].count("look")  # type: ignore[attr-defined]
        adapter.expect("restart", call="look", nth=looks + 1)  # type: ignore[attr-defined]
        with pytest.raises(CircuitAlreadyClosed, match="nobody knows which way leads off"):
            await jogger.step(Axis.Z, 0.5)
        return jogger.checked

    assert jogged(work) is False


def test_where_everything_is_free_a_longer_step_is_offered_too() -> None:
    """From the clearance on that was said, or else at the top of Z."""

    async def work(jogger: Jogger) -> list[float]:
        snapshot = await jogger.look()
        joggers = [jogger, *(Jogger(jogger.machine, tool=PIN, clearance=z) for z in (-4.0, -6.0))]
        return [one.longest(snapshot) for one in joggers]

    at_top_only, below, above = jogged(work)  # type: ignore[misc]
    assert at_top_only == below == UNGUARDED < above


def test_how_long_a_step_may_be_is_a_matter_of_where_it_leads() -> None:
    """Down from clearance it is as short as below it, or ends at clearance; across at the top it may be long."""

    async def work(jogger: Jogger) -> list[float]:
        jogger.clearance = -6.0
        snapshot = await jogger.look()
        return [
            jogger.longest(snapshot, axis, way) for axis, way in ((Axis.Z, -5.0), (Axis.Z, -0.4), (Axis.X, -5.0))
        ]

    assert jogged(work) == [pytest.approx(1.0), 50.0, 50.0]
    assert jogged(work, position=[160, 110, -6.0]) == [UNGUARDED, UNGUARDED, 50.0]


def test_up_from_clearance_a_step_is_as_long_as_across() -> None:
    async def work(jogger: Jogger) -> float:
        jogger.clearance = -6.0
        return jogger.longest(await jogger.look(), Axis.Z, 5.0)

    assert jogged(work, position=[160, 110, -6.0]) == 50.0
    assert jogged(work, position=[160, 110, -6.5]) == UNGUARDED


@pytest.mark.parametrize(("guard", "says"), [("polled", "check the circuit"), ("none", "Take a shorter step.")])
def test_a_step_that_is_too_long_comes_with_the_advice_that_helps(guard: str, says: str) -> None:
    """The plate's flat has nothing to do with it; where nobody watches a traverse, no check makes it longer."""

    async def work(jogger: Jogger) -> str:
        with pytest.raises(StartOutsideWindow) as caught:
            await jogger.step(Axis.Z, -5.0)
        return caught.value.advice

    assert says in str(jogged(work, guard=guard))


def test_a_step_never_leaves_the_envelope() -> None:
    async def work(jogger: Jogger) -> None:
        with pytest.raises(OutsideEnvelope, match=r"jog along Z.*0\.300 mm outside"):
            await jogger.step(Axis.Z, 0.5)

    jogged(work, position=[160, 110, -0.2])


def test_a_step_never_enters_a_keep_out_whose_height_nobody_can_judge_here() -> None:
    async def work(jogger: Jogger) -> None:
        jogger.machine.keep_outs = (
            KeepOut(name="clamp", low=(164.2, 100.0), high=(180.0, 120.0), height_above_stock=1.0),
        )
        with pytest.raises(KeepOutEntered):
            await jogger.step(Axis.X, 0.5)

    jogged(work)


def test_a_jog_keeps_the_proof_of_the_circuit_and_a_fault_voids_it() -> None:
    async def work(jogger: Jogger) -> tuple[bool, bool]:
        await checked(jogger)
        await jogger.step(Axis.X, 0.5)
        kept = jogger.checked
        jogger.machine.void_proof()
        return kept, jogger.checked

    assert jogged(work) == (True, False)


# ---- the tables -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", list(SCENARIOS))
def test_no_single_fault_of_a_small_table_breaks_an_invariant(name: str) -> None:
    """Every deviation at every step of a jog, and of the check that a machine makes alone, ends soundly."""
    findings = Explorer(SCENARIOS[name], faults=1).explore()
    assert findings.counterexample is None, findings.counterexample.story()
    assert findings.runs > 15


@pytest.mark.thorough
def test_two_deviations_in_one_step_break_no_invariant_either() -> None:
    for scenario in jog_scenarios():
        findings = Explorer(scenario, faults=2).explore()
        assert findings.counterexample is None, findings.counterexample.story()


def test_a_jog_table_that_goes_on_into_a_contact_is_caught() -> None:
    """A planted defect: any step is taken while the circuit is closed (I2)."""
    rows = [
        replace(row, when=lambda session, reply: True, next=State.TRAVERSING, order=o.leg)
        if (row.state, row.reply) == (State.CHECKING, r.Seen)
        else row
        for row in expanded()
    ]
    found = explore(SCENARIOS["jog on into a contact"], faults=1, table=Cycle(rows)).counterexample
    assert found is not None
    assert found.violation.invariant.startswith("I2"), found.story()


@pytest.mark.parametrize("name", list(SCENARIOS))
def test_no_two_rows_of_a_small_table_hold_at_once(name: str) -> None:
    """At most one condition of a state and a reply is true, on every way that a single deviation opens."""
    table = SCENARIOS[name].table()
    twice = {}
    for row in table.rows:
        twice.setdefault((row.state, row.reply, row.when.__name__), []).append(row)
    assert all(len(rows) == 1 for rows in twice.values())


# ---- the check that a machine makes alone -----------------------------------------------------------------


def alone(**options: object) -> tuple[object, Machine]:
    async def main() -> tuple[object, Machine]:
        async with connect("mock", ideal=True, position=[160, 110, -5], **options) as machine:
            await machine.stage(replace(SPOT, within=0.5))
            machine.operator = None
            result = await machine.self_check(SelfCheck(spot=replace(SPOT, within=0.5)))
            return result, machine

    return asyncio.run(main())


def test_a_slow_touch_of_a_fixed_reference_proves_the_circuit_with_nobody_there() -> None:
    _, machine = alone()
    assert machine.proof is not None
    assert machine.proof.places == {Place.STOCK}
    assert not machine.proof.waived


def test_a_machine_that_does_not_measure_its_spindle_cannot_check_its_circuit_alone() -> None:
    with pytest.raises(SpindleTurning, match="only a person can tell"):
        alone(spindle="commanded")


def test_a_lead_that_is_off_is_found_out_within_what_the_tool_bears() -> None:
    async def main() -> tuple[str, float]:
        async with connect("mock", ideal=True, position=[160, 110, -5]) as machine:
            await machine.stage(replace(SPOT, within=0.5), lead_off_after=0)
            machine.operator = None
            with pytest.raises(Exception, match="no contact was made"):
                await machine.self_check(SelfCheck(spot=replace(SPOT, within=0.5)))
            assert machine.proof is None
            return "found out", machine.adapter.deepest_penetration

    _, deepest = asyncio.run(main())
    assert deepest <= PIN.miss_limit


def test_the_shortest_guardless_step_is_half_a_millimetre() -> None:
    assert UNGUARDED == 0.5
