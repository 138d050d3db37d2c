"""Home a machine for a person who said that lead and plate are off: told to stop whenever it does not end well.

Homing is no run of any table: nothing watches the circuit. What is known of the machine's motion afterwards is kept
all the same, as the machine's last result.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any

from gingerly.driver.ctrl_c import unheard
from gingerly.driver.machine import Machine
from gingerly.driver.result import Result
from gingerly.messages.commands import Traverse
from gingerly.messages.faults import ControllerRefused, Declined, Fault, Interrupted, NoAnswer, Standstill
from gingerly.messages.outcome import Outcome
from gingerly.messages.snapshot import Snapshot

HOMING_S = 180.0
"""How long homing may take, in seconds. Our own choice."""

NOT_HEARD = "tried to stop the machine, and was not heard"


async def home(machine: Machine) -> Snapshot:
    """Move every axis of `machine` to its switches, and return what it says then.

    Raises `Declined` where the adapter has no way. `NoAnswer` after `HOMING_S`, or where the machine still moves
    afterwards, and what the adapter raises come once the machine was told to stop, or, where it refused, was looked
    at. Cancelled, it stops the machine too.
    """
    way = getattr(machine.adapter, "home", None)
    if way is None:
        raise Declined("there is no way to home this machine from here", done="no motion was ordered")
    machine.tool_changed()
    began_s = machine.clock.now()
    try:
        await _sent(machine, way)
        snapshot = await machine.look()
        if not snapshot.idle:
            raise NoAnswer("the machine still moves, though homing is said to be over")
    except asyncio.CancelledError:
        why = "homing was cancelled from outside: by Ctrl-C, or by the script itself"
        await _break_off(machine, Interrupted(why), began_s)
        raise
    except Exception as error:
        fault = _fault(error)
        await _break_off(machine, fault, began_s)
        raise fault from (None if fault is error else error)
    _keep(machine, None, snapshot, began_s)
    return snapshot


async def _sent(machine: Machine, way: Callable[[], Coroutine[Any, Any, Any]]) -> None:
    """Home once no hands are at any machine on this floor."""
    if machine.floor is None:
        await machine.clock.bounded(way(), HOMING_S)
        return
    # Wherever it leads, it is a motion: the floor waits for it as for any.
    motion = Traverse(machine.facts.envelope.high, None, HOMING_S)
    async with machine.floor.during(motion, machine.adapter):
        await machine.clock.bounded(way(), HOMING_S)


def _fault(error: Exception) -> Fault:
    if isinstance(error, Fault):
        return error
    if isinstance(error, TimeoutError):
        return NoAnswer(f"homing was not over within {HOMING_S:g} s")
    # Not in the contract, so nothing it implies may be believed.
    return Interrupted(f"the adapter raised {type(error).__name__}: {error}")


async def _break_off(machine: Machine, fault: Fault, began_s: float) -> None:
    """Stop what homing may have left moving, whatever cancellations still come, and keep what is known then."""
    # A controller that has refused is only looked at: on some a stop is a reset.
    stopping = asyncio.ensure_future(_stopped(machine, look_only=isinstance(fault, ControllerRefused)))
    cancelled = False
    with unheard():
        while not stopping.done():
            try:
                await asyncio.shield(stopping)
            except asyncio.CancelledError:
                cancelled = True
    snapshot, fault.done = (None, NOT_HEARD) if stopping.cancelled() else stopping.result()
    fault.state = "homing"
    _keep(machine, fault, snapshot, began_s)
    if cancelled:
        raise asyncio.CancelledError


async def _stopped(machine: Machine, *, look_only: bool) -> tuple[Snapshot | None, str]:
    """Stop the machine, or only look at it; return its snapshot, if it gave one, and what was done."""
    facts = machine.facts
    order = machine.adapter.look() if look_only else machine.adapter.stop()
    try:
        within_s = facts.answer_s + facts.rapid_feed / 60.0 / facts.acceleration
        snapshot = await machine.clock.bounded(order, within_s)
    except Exception:  # whatever it is: nobody has seen the machine stand
        return None, "looked at the machine, and was not answered" if look_only else NOT_HEARD
    return snapshot, "no further motion was ordered" if look_only else "told the machine to stop"


def _keep(machine: Machine, fault: Fault | None, snapshot: Snapshot | None, began_s: float) -> None:
    """Make this the machine's last result, with what the last snapshot shows of its motion."""
    still = snapshot is not None and snapshot.idle
    outcome = Outcome(
        fault=fault,
        standstill=Standstill.CONFIRMED if still else Standstill.UNCONFIRMED,
        faces=(),
        touches=0,
        found=(),
        offsets=(),
        released=False,
        unconfirmed=(),
        proof=None,
        position=snapshot.position if snapshot is not None else None,
    )
    machine.last = Result(machine.name, "home", machine.clock.now() - began_s, outcome)
    if machine.floor is not None:
        machine.floor.stands(machine.adapter, known=still)
    if fault is not None:
        fault.standstill, fault.stands_at, fault.result = outcome.standstill, outcome.position, machine.last
