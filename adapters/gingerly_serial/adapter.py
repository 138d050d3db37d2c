"""The serial adapter: the library's contract on one side, a line-oriented controller on the other.

What is sent is RS274/NGC in one fixed modal state; what comes back is understood by a wire profile. After
anything that was given up half-way, nothing older can be taken for an answer to something newer (see `ledger`).
"""

from __future__ import annotations

import asyncio
import contextlib
import math
from collections.abc import Mapping
from typing import Any

from gingerly.geometry import Axis, Position
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import AlarmActive, ControllerRefused, ControllerRestarted, LinkLost, NoAnswer
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Snapshot
from gingerly_serial import rs274
from gingerly_serial.clock import MachineClock
from gingerly_serial.link import Link, NotConnected
from gingerly_serial.moving import Mover
from gingerly_serial.options import parse
from gingerly_serial.profile import Profile
from gingerly_serial.sensing import Senser
from gingerly_serial.transcript import Transcript
from gingerly_serial.watching import Watch
from gingerly_serial.why import why

NEAREST_TARGET = 0.254
"""A sense to a target nearer than this is an error. Source: NISTIR 6556 (RS274/NGC), 3.5.9.1: 0.254 mm."""

CLOSING_S = 1.0
"""Seconds that stopping and restoring may take while the port is closed. Our own choice."""


class SerialAdapter:
    """A controller behind a serial port or a socket.

    Options are those of `gingerly_serial.options.Options` and all facts of a machine by name, as plain data. Raises
    `TypeError` for an option that is unknown or missing, `ValueError` for an unusable value or profile.
    """

    def __init__(self, **options: Any) -> None:
        self._facts, self._options = parse(options)
        self._profile: Profile = self._options.profile
        self._clock = MachineClock(self._options.clock_scale)
        transcript = self._options.transcript
        self._transcript = None if transcript is None else Transcript(transcript)
        self._link = Link(
            self._profile,
            self._clock,
            url=self._options.port,
            baud=self._options.baud,
            answer_s=self._facts.answer_s,
            transcript=self._transcript,
        )
        self._watch = Watch(self._link, self._facts, self._clock)
        self._mover = Mover(self._link, self._facts, self._clock, self._watch)
        self._senser = Senser(self._link, self._facts, self._watch, self._mover)
        self._open = False
        self._call = ""
        self._looked = False
        self._modal: int | None = None
        """The count of restarts at which the fixed modal state was set; None where it may not be in force."""

    # ---- what it is -----------------------------------------------------------------------------------

    @property
    def facts(self) -> MachineFacts:
        """What is known of the machine: what its owner stated, and what its controller can tell."""
        return self._facts

    @property
    def clock(self) -> MachineClock:
        """The clock that the machine lives by."""
        return self._clock

    @property
    def exchanges(self) -> int:
        """How many lines and requests were sent so far."""
        return self._link.sent

    @property
    def not_understood(self) -> int:
        """How many lines were heard that the profile gives no meaning."""
        return self._link.not_understood

    # ---- the adapter's methods ------------------------------------------------------------------------

    async def open(self) -> None:
        """Connect, wait out a restart, and put the controller into the fixed modal state; moves nothing.

        A controller that moves or stands in alarm is left as it is. Raises `LinkLost` (`NotConnected` where nothing
        was sent) or `NoAnswer`, `RuntimeError` where it is open already.
        """
        if self._open:
            raise RuntimeError("open() was called, but this adapter is open already")
        self._modal = self._mover.under = None
        self._watch.forget()
        self._open_transcript()
        try:
            await self._link.open()
            self._open = True
            await self._greeted()
            snapshot = await self._watch.snapshot()
            if snapshot.idle and not snapshot.alarm:
                with contextlib.suppress(ControllerRefused):
                    await self._set_modal()
        except BaseException:
            self._open = False
            await self._link.close()
            self._close_transcript()
            raise

    async def close(self) -> None:
        """Stop what moves, if the link still stands, and let go; may be called at any time, and again."""
        was_open, self._open = self._open, False
        if was_open:
            with contextlib.suppress(TimeoutError, LinkLost, NoAnswer, ControllerRefused, ControllerRestarted):
                async with asyncio.timeout(CLOSING_S):
                    if self._mover.under is not None:
                        await self._stop()
                    last = self._watch.last
                    if self._modal is None and last is not None and not last.alarm:
                        await self._set_modal()
        try:
            await self._link.close()
        finally:
            self._close_transcript()

    async def look(self) -> Snapshot:
        """Return what the controller says about itself now; raises `LinkLost` or `NoAnswer`.

        Whoever looks twice has waited: what the state does not tell is not taken for granted then, but set again.
        """
        again = self._looked
        self._begin("look")
        try:
            snapshot = await self._watch.snapshot()
            if again and self._to_be_set(snapshot):
                # Another hand may have selected a work system, moved its origin or chosen inches meanwhile.
                self._watch.forget_origins()
                with contextlib.suppress(ControllerRefused, ControllerRestarted):
                    await self._set_modal()
                snapshot = await self._watch.snapshot()
            self._looked = True
            return snapshot
        finally:
            self._call = ""

    async def traverse(self, to: Position, feed: float | None) -> Snapshot:
        """Move straight to `to` (mm) at `feed` mm/min, or as fast as it goes; return after standstill.

        With the guard polled, the circuit is looked at meanwhile, and the motion is stopped where it closes after
        having been open. Raises `ControllerRefused`, `AlarmActive`, `ControllerRestarted`, `LinkLost`, `NoAnswer`.
        """
        line = rs274.traverse(to, feed, decimals=self._profile.line.decimals)
        self._begin("traverse")
        try:
            start = await self._ready()
            move = await self._mover.launch(line, start, to, feed, senses=False)
            rest = await self._mover.traversed(move)
            if move.stopped:
                self._modal = None
            return rest
        finally:
            self._call = ""

    async def sense(self, to: Position, feed: float) -> Touched | Missed:
        """Move straight towards `to` (mm) at `feed` mm/min until contact; return after standstill.

        Raises what `traverse` does, and `ControllerRefused` for a target nearer than 0.254 mm.
        """
        rs274.traverse(to, feed, decimals=self._profile.line.decimals)
        self._begin("sense")
        try:
            start = await self._ready()
            if start.distance(to) <= NEAREST_TARGET:
                raise ControllerRefused(
                    f"the target is {start.distance(to):.4f} mm away and must be more than {NEAREST_TARGET} mm",
                    code="too near",
                )
            line = await self._senser.line(start, to, feed)
            self._modal = None
            move = await self._mover.launch(line, start, to, feed, senses=True)
            result = await self._senser.sensed(move, feed)
            if not result.rest.alarm:
                await self._set_distances()
            return result
        finally:
            self._call = ""

    async def stop(self) -> Snapshot:
        """Stop all motion; return a snapshot taken after standstill, or one that still says moving.

        Raises `LinkLost` or `NoAnswer`.
        """
        self._call = ""
        self._begin("stop")
        try:
            if await self._needs_no_stop():
                assert self._watch.last is not None
                return self._watch.last
            rest = await self._stop()
            if rest.idle and not rest.alarm:
                with contextlib.suppress(ControllerRefused, ControllerRestarted, NoAnswer):
                    await self._set_modal()
            return rest
        finally:
            self._call = ""

    async def _stop(self) -> Snapshot:
        """Send the stop at once, wait out a restart where it means one, and return a snapshot at rest."""
        ledger, greetings = self._link.ledger, self._link.ledger.greetings
        self._modal = None
        self._link.stop()
        if self._mover.under is not None:
            ledger.give_up(self._mover.under.order)
        if self._profile.stop.effect == "restarts" and self._profile.means("greeting"):
            await self._link.until(lambda: ledger.greetings > greetings, self._profile.opening.wait_s)
        return await self._mover.come_to_rest()

    async def _needs_no_stop(self) -> bool:
        """Return whether a stop would do nothing but clear an alarm: one that restarts, at rest, in alarm."""
        last = self._watch.last
        if self._profile.stop.effect != "restarts" or last is None or not (last.alarm and last.idle):
            return False
        now = await self._watch.snapshot()
        return bool(now.alarm) and now.idle

    async def read_offset(self, number: int) -> Position:
        """Return the origin of work offset `number` (1–9) in machine coordinates (mm).

        Raises `ControllerRefused` (also where the profile says that offsets cannot be read), `ControllerRestarted`,
        `LinkLost`, `NoAnswer`; `ValueError` for a wrong number.
        """
        rs274.system_word(number)
        self._begin("read_offset")
        try:
            return await self._watch.origin(number, afresh=True)
        finally:
            self._call = ""

    async def write_offset(self, number: int, axes: Mapping[Axis, float]) -> None:
        """Set the named axes of work offset `number` (1–9, mm) in one line.

        Raises `ControllerRefused`, `AlarmActive`, `ControllerRestarted`, `LinkLost`, `NoAnswer`.
        """
        line = rs274.set_offset(number, axes, decimals=self._profile.line.decimals)
        self._begin("write_offset")
        try:
            await self._ready()
            self._watch.forget(number)
            await self._link.order(line)
        finally:
            self._call = ""

    async def clear_alarm(self) -> None:
        """Send what clears an alarm. Nothing in the library calls this: it is for a person who says so.

        Raises `ControllerRefused` where the profile names no way, `LinkLost`.
        """
        self._begin("clear_alarm")
        try:
            if self._profile.clear.byte is None and self._profile.clear.line is None:
                raise ControllerRefused("by its profile this controller's alarm is cleared at the machine only")
            self._link.clear_alarm()
        finally:
            self._call = ""

    async def home(self) -> Snapshot:
        """Move every axis to its switches, and return a snapshot at rest. Only ever for a person who says so.

        Raises `ControllerRefused` where the profile names no way or the controller refuses, `ControllerRestarted`,
        `LinkLost`, and `NoAnswer` where it is not over within the profile's time.
        """
        self._begin("home")
        try:
            line, within_s = self._profile.home.line, self._profile.home.within_s
            if line is None:
                raise ControllerRefused("by its profile this controller is homed at the machine only")
            if self._mover.under is not None or not (await self._watch.snapshot()).idle:
                raise ControllerRefused("a motion is still under way", code="busy")
            self._modal = None
            self._watch.forget()
            await self._link.long_order(line, within_s)
            return await self._homed(within_s)
        finally:
            self._call = ""

    async def _homed(self, within_s: float) -> Snapshot:
        """Look until the machine stands at home; some controllers accept the order before it is carried out."""
        looks = math.ceil(within_s / self.facts.look_interval_s)
        for _ in range(looks):
            snapshot = await self._watch.snapshot()
            if snapshot.idle and snapshot.homed is not False:
                return snapshot
            await self._link.pause(self.facts.look_interval_s)
        raise NoAnswer(f"the machine was not home within {within_s:g} s")

    # ---- before a command -----------------------------------------------------------------------------

    def _begin(self, call: str) -> None:
        if self._call:
            raise RuntimeError(
                f"{call}() was called while {self._call}() is still under way: an adapter serves one call at a time"
            )
        if not self._open:
            raise RuntimeError(f"{call}() was called, but this adapter is not open")
        self._link.check()
        self._call, self._looked = call, False

    async def _greeted(self) -> None:
        opening = self._profile.opening
        if not opening.restarts:
            return
        if self._profile.means("greeting"):
            await self._link.until(lambda: self._link.ledger.greetings > 0, opening.wait_s)
        else:
            await self._link.pause(opening.wait_s)

    async def _ready(self) -> Position:
        """Make sure that a command may go out, and return where the machine stands."""
        last = self._watch.last or await self._watch.snapshot()
        if self._link.ledger.alarm or last.alarm:
            last = await self._watch.snapshot()
            if last.alarm:
                raise AlarmActive(last.alarm_detail or self._link.ledger.alarm)
        if self._mover.under is not None or not last.idle:
            last = await self._watch.snapshot()
            if not last.idle:
                raise ControllerRefused("a motion is still under way", code="busy")
            self._mover.ended()
        if self._modal != self._link.ledger.restarts:
            await self._set_modal()
        return last.position

    async def _set_modal(self) -> None:
        """Set the fixed modal state; where positions are told in a work system, that one is selected."""
        await self._link.order(rs274.MODAL_STATE)
        if self._uses_work():
            await self._link.order(rs274.system_word(self._profile.state.system))
        self._modal = self._link.ledger.restarts

    async def _set_distances(self) -> None:
        """Leave absolute distances in force, so that a program that follows means what it says."""
        if self._profile.contact.sense == "relative":
            await self._link.order(rs274.ABSOLUTE)
        self._modal = self._link.ledger.restarts

    def _to_be_set(self, now: Snapshot) -> bool:
        """Return whether the modal state is to be set again: at rest, and where the state does not tell all of it.

        Inches that it does tell are left in force, and told.
        """
        inch = None if now.in_force is None else now.in_force.inch
        resting = self._mover.under is None and now.idle and not now.alarm
        return resting and not inch and (inch is None or self._uses_work())

    def _uses_work(self) -> bool:
        return "work" in (
            self._profile.state.coordinates,
            self._profile.contact.coordinates,
            self._profile.contact.sense,
        )

    def _open_transcript(self) -> None:
        if self._transcript is None:
            return
        try:
            self._transcript.open()
        except OSError as error:
            raise NotConnected(
                f"the transcript {str(self._options.transcript)!r} cannot be kept: {why(error)}",
                advice="Name another file as `transcript` among the machine's options, or none.",
            ) from error

    def _close_transcript(self) -> None:
        if self._transcript is not None:
            self._transcript.close()
