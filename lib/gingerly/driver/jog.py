"""Bring the tool somewhere step by step: one motion a call, along one axis, looked at before and after.

::

    jogger = Jogger(machine, tool=pin)
    await jogger.step(Axis.Z, -0.5)

The circuit is only watched once it was checked (`Machine.continuity`); until then a step below clearance is short.
"""

from __future__ import annotations

from gingerly.driver import homing
from gingerly.driver.machine import Machine
from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.messages.faults import CircuitAlreadyClosed
from gingerly.messages.snapshot import Circuit, Snapshot
from gingerly.routines.jog import LONGEST, JogStep, is_guarded, longest_step
from gingerly.tool import Tool


class Jogger:
    """Moves one machine in single steps, with `tool` in its spindle.

    `clearance` is the machine Z in mm from which on everything is free; left out, it is the top of Z. Steps never
    leave the envelope nor enter a keep-out, whose height counts for nothing here. While the circuit is closed only
    the step back along the last line is taken.
    """

    def __init__(self, machine: Machine, *, tool: Tool, clearance: float | None = None) -> None:
        self.machine = machine
        self.tool = tool
        self.clearance = clearance
        self._back_to: Position | None = None
        self._restarts: int | None = None

    @property
    def checked(self) -> bool:
        """Whether the circuit check of this attachment holds, and no person waived it."""
        proof = self.machine.proof
        return proof is not None and not proof.waived

    @property
    def guarded(self) -> bool:
        """Whether a contact on the way would stop a step."""
        return is_guarded(self.machine.facts, checked=self.checked)

    async def look(self) -> Snapshot:
        """Return what the machine says now; raises the fault where it says nothing."""
        snapshot = await self.machine.look()
        if snapshot.restarts != self._restarts:
            self._back_to = None  # after a restart no line that was travelled counts
        self._restarts = snapshot.restarts
        if snapshot.circuit is not Circuit.CLOSED:
            self._back_to = None
        return snapshot

    def longest(self, snapshot: Snapshot, axis: Axis = Axis.X, distance: float = 0.0) -> float:
        """Return the longest step in mm that is taken from where the machine stands, in the direction of `distance`.

        What counts is where a step of that length would lead: down from clearance it is as short as below it.
        """
        facts, here = self.machine.facts, snapshot.position.z
        clearance = facts.envelope.high.z if self.clearance is None else self.clearance
        low = here + min(distance, 0.0) if axis is Axis.Z else here
        longest = longest_step(facts, low=low, clearance=clearance, checked=self.checked)
        return min(max(longest, here - clearance), LONGEST)  # a step down may at least end at clearance

    async def step(self, axis: Axis, distance: float) -> Snapshot:
        """Move `axis` by `distance` mm, and return what the machine says after standstill.

        A guarded step ends at a contact; the snapshot shows it. Raises a `PlanFault` for a step that must not be
        taken, `CircuitAlreadyClosed` for one that does not lead away from a contact, and any fault of the step.
        Cancelled, it stops the machine first.
        """
        before = await self.look()
        self._refuse_to_go_on(before, axis, distance)
        step = JogStep(
            axis=axis,
            distance=distance,
            tool=self.tool,
            clearance=self.clearance,
            checked=self.checked,
            back_to=self._back_to,
        )
        begin = self._back_to if before.circuit is Circuit.CLOSED else before.position
        try:
            await self.machine.jog(step, before.position)
        finally:
            self._back_to = begin
        return await self.look()

    async def home(self) -> Snapshot:
        """Move every axis to its switches, where the adapter has a way to, and return what the machine says then.

        Nothing watches the circuit on the way, so this is only for a person who has said that lead and plate are off.
        What was proved and measured before counts no more. Raises `Declined` where the adapter has no way, `NoAnswer`
        where it takes too long, and what the adapter raises, once the machine was told to stop, or, where it refused,
        looked at; cancelled, it stops the machine too. Whether that was then seen to stand, the fault says, and the
        machine's last result.
        """
        self._back_to = None
        return await homing.home(self.machine)

    def _refuse_to_go_on(self, before: Snapshot, axis: Axis, distance: float) -> None:
        """Raise `CircuitAlreadyClosed` for a step that does not lead back; the table would refuse it too."""
        if before.circuit is not Circuit.CLOSED:
            return
        back = self._back_to.minus(before.position) if self._back_to is not None else ORIGIN
        slack = self.machine.facts.position_slack
        if back.length() > slack and abs(back.length() - abs(back[axis])) <= slack and back[axis] * distance > 0.0:
            return
        way = max(Axis, key=lambda candidate: abs(back[candidate]))
        known = f"only the step back is taken, {way.name}{'+' if back[way] > 0.0 else '-'}"
        unknown = "and nobody knows which way leads off: take the lead off, or turn the axis by hand"
        raise CircuitAlreadyClosed(
            f"while it is closed, {known}" if back.length() > slack else unknown,
            state="jogging",
            position=before.position,
            done="no motion was ordered",
        )
