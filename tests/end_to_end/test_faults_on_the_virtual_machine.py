"""Every fault that a run can end in, from what happens on the virtual machine to what is said about it."""

from __future__ import annotations

import pytest

import gingerly
from gingerly import Declined, Fault, Stands, Standstill
from gingerly.messages.faults import PlanFault, fault_classes
from support.bench import bench, corner_routine, probe_corner, scene

# fault, what happens on the virtual machine
CASES: list[tuple[type[Fault], dict[str, object]]] = [
    (gingerly.NoContact, {"what": "lead off", "contact": 2}),
    (gingerly.NoContact, {"what": "anodised", "contact": 4}),
    (gingerly.CircuitNotChecked, {"what": "lead off"}),
    (gingerly.CircuitAlreadyClosed, {"what": "chip"}),
    (gingerly.UnexpectedContact, {"what": "noise", "call": "sense", "nth": 1, "after_mm": 2.0, "amount": 5.0}),
    (gingerly.StillClosed, {"what": "chip", "contact": 2}),
    (gingerly.UnsteadyContact, {"what": "bounce", "call": "sense", "nth": 1, "times": 0}),
    (gingerly.PlateMoved, {"what": "plate slides", "contact": 4, "amount": 0.05}),
    (gingerly.ImplausibleContact, {"what": "plate lifts", "contact": 6, "amount": -0.4}),
    (gingerly.SpindleTurning, {"what": "spindle starts", "call": "traverse", "nth": 2}),
    (gingerly.AlarmActive, {"what": "alarm", "call": "sense", "nth": 1, "after_mm": 1.0}),
    (gingerly.PositionUnknown, {"what": "homing lost", "call": "look", "nth": 3}),
    (gingerly.ForeignState, {"what": "foreign state", "detail": "tool length", "call": "traverse", "nth": 1}),
    (gingerly.ForeignState, {"what": "foreign state", "detail": "override", "call": "traverse", "nth": 1}),
    (gingerly.ControllerRefused, {"what": "refused", "call": "sense", "nth": 1, "detail": "31"}),
    (gingerly.NoAnswer, {"what": "answer lost", "call": "traverse", "nth": 3}),
    (gingerly.NoAnswer, {"what": "request lost", "call": "look", "nth": 2}),
    (gingerly.NoAnswer, {"what": "gives up", "call": "sense", "nth": 2}),
    (gingerly.LinkLost, {"what": "link lost", "call": "sense", "nth": 1}),
    (gingerly.LinkLost, {"what": "link lost unsent", "call": "write_offset", "nth": 1}),
    (gingerly.ControllerRestarted, {"what": "restart", "call": "sense", "nth": 2, "after_mm": 0.2}),
    (gingerly.PositionJumped, {"what": "position jump", "call": "look", "nth": 5}),
    (gingerly.PositionJumped, {"what": "stops short", "call": "traverse", "nth": 4}),
    (gingerly.TooEarly, {"what": "answer early", "call": "traverse", "nth": 2}),
    (gingerly.CircuitUnknown, {"what": "circuit unknown", "call": "look", "nth": 4}),
    (gingerly.OffsetNotKept, {"what": "write ignored", "call": "write_offset", "nth": 1}),
    (gingerly.OffsetNotKept, {"what": "write wrong", "call": "write_offset", "nth": 1}),
    (gingerly.OffsetNotKept, {"what": "write partial", "call": "write_offset", "nth": 1}),
]


@pytest.mark.asyncio
@pytest.mark.parametrize(("expected", "happening"), CASES, ids=lambda value: str(value)[:60])
async def test_what_happens_is_called_by_its_name(expected, happening):
    """Each mishap ends in the fault that names it; offsets are old or whole, and no motion led into closed metal."""
    machine = bench(happening)
    async with machine:
        adapter = machine.adapter
        adapter.stage(scene())
        result = await machine.attempt(corner_routine(), hand_over=True)
    assert type(result.fault) is expected, result.fault.story() if result.fault else "done"
    assert not adapter.deepened_while_closed
    for state in result.outcome.offsets:
        assert state.stands in (Stands.OLD, Stands.UNKNOWN)


@pytest.mark.asyncio
@pytest.mark.parametrize(("expected", "happening"), CASES, ids=lambda value: str(value)[:60])
async def test_standstill_is_claimed_only_where_the_machine_really_stands(expected, happening):
    """When the fault says that the machine stands still, it does."""
    machine = bench(happening)
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(corner_routine(), hand_over=True)
        really_moving = machine.adapter.true_moving
    if result.fault.standstill is not Standstill.UNCONFIRMED:
        assert not really_moving


def test_every_fault_of_a_run_is_among_the_cases_or_tested_elsewhere():
    """No fault class is left without a mishap that leads to it."""
    here = {fault for fault, _ in CASES}
    elsewhere = {
        gingerly.ContactsDisagree: "needs contacts that scatter: tests/unit/cycle/test_touching.py",
        gingerly.Declined: "below",
        gingerly.Interrupted: "tests/unit/driver/test_interruption.py",
        gingerly.NotAsSet: "belongs to verify: tests/end_to_end/test_routines.py",
        gingerly.NotRecorded: "tests/unit/driver/test_recorder.py",
        gingerly.NotStopped: "belongs to the stop test: tests/end_to_end/test_stop_test.py",
    }
    runs = {fault for fault in fault_classes() if not issubclass(fault, PlanFault)}
    assert runs - here == set(elsewhere)


@pytest.mark.asyncio
async def test_without_an_operator_the_check_is_declined():
    """Where nobody is there to close the circuit, nothing moves."""
    result, _ = await probe_corner(bench(operator="nobody"))
    assert isinstance(result.fault, Declined)
    assert result.fault.standstill is Standstill.UNMOVED


@pytest.mark.asyncio
async def test_a_lead_that_fell_off_says_how_far_the_tool_may_have_pushed():
    """The push told is never less than the true penetration, and both stay below what the tool bears."""
    machine = bench({"what": "lead off", "contact": 1})
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(corner_routine())
        deepest = machine.adapter.deepest_penetration
    told = float(result.fault.detail.split("up to ")[1].split(" mm")[0])
    assert 0.0 < deepest <= told + 0.01
    assert told <= 3.0
