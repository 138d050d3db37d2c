"""Looking at the machine: what the controller tells, as a snapshot in machine coordinates. Sends questions only."""

from __future__ import annotations

from gingerly.geometry import Position
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import NoAnswer
from gingerly.messages.snapshot import Snapshot
from gingerly_serial.clock import MachineClock
from gingerly_serial.link import Link
from gingerly_serial.report import Report, inches, machine_position, position

STILL_S = 0.05
"""Where the controller does not tell whether it moves: the same position twice, this far apart. Our own choice."""

LEAST_S = 0.01
"""Seconds between two looks at a machine that brakes, at the least. Our own choice."""


class Watch:
    """Takes snapshots, and remembers the last one and the origins that positions are told from."""

    def __init__(self, link: Link, facts: MachineFacts, clock: MachineClock) -> None:
        self._link = link
        self._facts = facts
        self._clock = clock
        self._profile = link.profile
        self._origins: dict[int, Position] = {}
        self.last: Snapshot | None = None

    def forget(self, number: int | None = None) -> None:
        """Forget what is known: one origin that is about to change, or everything."""
        if number is None:
            self._origins.clear()
            self.last = None
        else:
            self._origins.pop(number, None)

    def forget_origins(self) -> None:
        """Forget the origins that positions are told from: somebody else may have changed them."""
        self._origins.clear()

    @property
    def braking_s(self) -> float:
        """How long the machine brakes from its highest feed, in seconds."""
        facts = self._facts
        return facts.rapid_feed / 60.0 / facts.acceleration + facts.stop_reaction_s

    async def snapshot(self) -> Snapshot:
        """Ask for the state and return it as a snapshot; raises `LinkLost`, `NoAnswer`."""
        ledger = self._link.ledger
        restarts = ledger.restarts
        report = await self._link.state()
        resting = report.resting
        if resting is None:
            resting = await self._stands_still(report)
            report = ledger.latest or report
        if ledger.restarts != restarts:
            self._origins.clear()
        at = report.at
        if self._profile.state.coordinates == "work":
            at = await self.to_machine(at, report)
        self.last = self._snapshot_of(report, self._inside(at), idle=resting)
        return self.last

    def _snapshot_of(self, report: Report, at: Position, *, idle: bool) -> Snapshot:
        ledger = self._link.ledger
        alarm = report.alarm
        if alarm is None and (ledger.alarm or self._facts.alarm_known):
            alarm = bool(ledger.alarm)
        return Snapshot(
            position=at,
            idle=idle,
            restarts=ledger.restarts,
            alarm=alarm,
            circuit=report.circuit,
            spindle=report.spindle,
            homed=report.homed,
            in_force=report.in_force,
            alarm_detail=(report.alarm_detail or ledger.alarm) if alarm else "",
        )

    def _inside(self, at: Position) -> Position:
        """Return a told position, but at the limit where rounding put it a hair beyond, by one step at the most."""
        low, high, hair = self._facts.envelope.low, self._facts.envelope.high, self._facts.resolution
        held = Position(*(min(max(value, a), b) for value, a, b in zip(at, low, high, strict=True)))
        return held if held.distance(at) <= hair else at

    async def _stands_still(self, report: Report) -> bool:
        await self._link.pause(STILL_S)
        again = await self._link.state()
        return again.at == report.at

    async def origin(self, number: int, *, afresh: bool = False) -> Position:
        """Return the origin of a work offset (mm), asked for unless it is known; raises what the question does."""
        if afresh or number not in self._origins:
            fields = await self._link.offset(number)
            found = position(fields, inch=inches(self._profile, self._profile.offsets.units, fields))
            if found is None:
                raise NoAnswer(f"the answer about work offset {number} brings no position")
            self._origins[number] = found
        return self._origins[number]

    async def to_machine(self, at: Position, report: Report | None) -> Position:
        """Return a position of the work system in force in machine coordinates (mm)."""
        origin, number = None, self._profile.state.system
        if report is not None:
            origin, number = report.origin, report.system or number
        if origin is None:
            origin = await self.origin(number)
        shift = report.in_force.shift if report is not None and report.in_force is not None else None
        return machine_position(at, origin, shift)

    async def come_to_rest(self) -> Snapshot:
        """Look until the machine stands still, for as long as braking may take; return the last snapshot."""
        until_s = self._clock.now() + self.braking_s + self._facts.answer_s
        if not self._profile.state.while_moving:
            await self._link.pause(self.braking_s)
        while True:
            snapshot = await self.snapshot()
            left_s = until_s - self._clock.now()
            if snapshot.idle or left_s <= 0.0:
                return snapshot
            interval_s = max(LEAST_S, min(self.braking_s, self._facts.look_interval_s))
            await self._link.pause(min(left_s, interval_s))
