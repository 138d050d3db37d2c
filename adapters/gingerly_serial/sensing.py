"""Senses: writing the probe's line, waiting for the end, and finding out whether there was a contact, and where."""

from __future__ import annotations

from gingerly.geometry import ORIGIN, Position
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import AlarmActive, NoAnswer
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Snapshot
from gingerly_serial import rs274
from gingerly_serial.grammar import Fields
from gingerly_serial.link import Link
from gingerly_serial.moving import LOST_SHARE, Move, Mover
from gingerly_serial.report import inches, position
from gingerly_serial.watching import Watch


class Senser:
    """Carries out one sense at a time."""

    def __init__(self, link: Link, facts: MachineFacts, watch: Watch, mover: Mover) -> None:
        self._link = link
        self._facts = facts
        self._watch = watch
        self._mover = mover
        self._profile = link.profile

    async def line(self, start: Position, to: Position, feed: float) -> str:
        """Return the line of a sense from `start` to `to` (mm, machine coordinates) at `feed` mm/min."""
        decimals = self._profile.line.decimals
        if self._profile.contact.sense == "relative":
            return rs274.sense_relative(to.minus(start), feed, decimals=decimals)
        origin = await self._watch.to_machine(ORIGIN, self._link.ledger.latest)
        return rs274.sense_in_work(to.minus(origin), feed, decimals=decimals)

    async def sensed(self, move: Move, feed: float) -> Touched | Missed:
        """Wait for a sense's end and return what it found.

        Raises `AlarmActive`, `ControllerRefused`, `ControllerRestarted`, `LinkLost`, `NoAnswer`.
        """
        mover, order = self._mover, move.order
        braking_s = feed / 60.0 / self._facts.acceleration + self._facts.stop_reaction_s
        await mover.wait(move, mover.first_look_s(move))
        if order.contact is not None and not order.over and self._profile.moves.over != "state":
            # Told at the touch: the end of the motion follows once the machine has braked.
            await self._link.until(lambda: order.over, braking_s + LOST_SHARE * self._facts.answer_s)
        while True:
            if mover.may_ask(move):
                rest = await self._watch.snapshot()
                if mover.is_over(move, rest):
                    break
            mover.check_patience(move)
            interval_s = self._facts.look_interval_s
            await self._link.until(
                lambda: order.over, min(interval_s, braking_s) if mover.told(move) else interval_s
            )
        result = await self._outcome(move, rest)
        mover.ended()
        return result

    async def _outcome(self, move: Move, rest: Snapshot) -> Touched | Missed:
        """Return what the sense found, once the machine is at rest; waits for a report that comes late."""
        order, ledger = move.order, self._link.ledger
        if self._profile.contact.ask is not None and not (self._missed(move) or order.contact or order.refusal):
            order.contact = await self._link.contact()
            order.missed = order.contact is None
        # An alarm ends a sense; only where a miss shows as one is its code still waited for.
        alarmed = bool(rest.alarm) and self._profile.contact.miss != "alarm"
        await self._link.until(lambda: alarmed or self._told(move), self._facts.answer_s)
        if self._missed(move):
            return Missed(rest if rest.alarm or not ledger.alarm else await self._watch.snapshot())
        self._mover.judge(move, rest)
        if ledger.alarm:
            raise AlarmActive(ledger.alarm)
        if order.contact is None:
            raise NoAnswer("the sense is over, and nothing told whether there was a contact")
        return Touched(await self._place(order.contact), rest)

    def _told(self, move: Move) -> bool:
        order = move.order
        ended = order.refusal is not None or order.restarted
        return ended or order.missed or order.contact is not None or bool(self._link.ledger.alarm)

    def _missed(self, move: Move) -> bool:
        """Return whether the sense ended without contact, in the way that the profile says."""
        contact, order, alarm = self._profile.contact, move.order, self._link.ledger.alarm
        if order.missed:
            return True
        if contact.miss == "refused" and order.refusal is not None:
            return order.refusal[0] in contact.miss_codes
        if contact.miss == "alarm" and alarm and order.contact is None:
            return not contact.miss_codes or alarm.split(" ", 1)[0] in contact.miss_codes
        return False

    async def _place(self, fields: Fields) -> Position:
        """Return where the contact was, in machine coordinates (mm)."""
        contact, report = self._profile.contact, self._link.ledger.latest
        inch = inches(self._profile, contact.units, fields)
        if contact.units == "as set" and report is not None and report.in_force is not None:
            inch = inch or bool(report.in_force.inch)
        found = position(fields, inch=inch)
        if found is None:
            raise NoAnswer("the report of a contact brings no position")
        return await self._watch.to_machine(found, report) if contact.coordinates == "work" else found
