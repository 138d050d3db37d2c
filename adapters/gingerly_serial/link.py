"""The link: sends, hears, and waits for what the ledger makes of it. Every wait here is bounded."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from gingerly.messages.faults import ControllerRefused, ControllerRestarted, LinkLost, NoAnswer
from gingerly_serial.clock import MachineClock
from gingerly_serial.grammar import Fields
from gingerly_serial.hearing import Ear
from gingerly_serial.ledger import Ledger, Order, Request
from gingerly_serial.port import Port
from gingerly_serial.profile import Ask, Profile
from gingerly_serial.report import Report
from gingerly_serial.rs274 import checked, numbered, system_word
from gingerly_serial.transcript import Transcript

ENDINGS = {"lf": b"\n", "cr": b"\r", "crlf": b"\r\n"}

TRIES = 4
"""How often a state is asked for within the time that an answer may take. Asking moves nothing. Our own choice."""

QUIET = 0.25
"""Without anything better, this share of the answer time without a late answer means that none will come.
Our own choice."""

QUOTED = 60
"""Characters of a line that a message quotes. Our own choice."""


class NotConnected(LinkLost):
    """The controller could not be connected to at all; nothing was sent."""

    summary = "the controller could not be connected to"
    advice = "Is the port's name right, is the cable in, and does another program hold the port?"


class Link:
    """One connection to one controller. Seconds are the machine's."""

    def __init__(
        self,
        profile: Profile,
        clock: MachineClock,
        *,
        url: str,
        baud: int,
        answer_s: float,
        transcript: Transcript | None,
    ) -> None:
        self.profile = profile
        self.answer_s = answer_s
        self._clock = clock
        self._url = url
        self._baud = baud
        self._transcript = transcript
        self._ear = Ear(profile)
        self._port: Port | None = None
        self._news = asyncio.Event()
        self.lost: str | None = None
        self.sent = 0
        """Lines and requests sent so far."""
        self.not_understood = 0
        self._last_strange = b""
        self.ledger = Ledger(profile, stale_s=answer_s)

    # ---- the connection -------------------------------------------------------------------------------

    async def open(self) -> None:
        """Open the port; raises `NotConnected`."""
        await self.close()  # one whose close was cancelled may still be shutting
        restarts = self.ledger.restarts
        self.ledger = Ledger(self.profile, stale_s=self.answer_s, restarts=restarts)
        self.lost, self._news = None, asyncio.Event()
        self._port = Port(
            self._url,
            baud=self._baud,
            ending=ENDINGS[self.profile.line.ending],
            longest=self.profile.line.longest,
            on_line=self._on_line,
            on_lost=self._on_lost,
        )
        try:
            await self._port.open()
        except ConnectionError as error:
            await self._port.close()
            self.lost = str(error)
            raise NotConnected(str(error)) from error
        self._note("note", f"opened {self._url}".encode("ascii", "replace"))

    async def close(self) -> None:
        """Close the port."""
        port = self._port
        if port is not None:
            self.lost = self.lost or "the link was closed"
            self._news.set()  # whoever still waits for an answer is told so
            await port.close()
            self._port = None
            self._note("note", b"closed")

    def check(self) -> None:
        """Raise `LinkLost` where the link is gone."""
        if self.lost is not None:
            raise LinkLost(self.lost)

    def _on_line(self, line: bytes) -> None:
        self._note("heard", line)
        heard = self._ear.understand(line)
        if heard is None:
            self.not_understood += 1
            self._last_strange = line
        else:
            self.ledger.take(heard, self._clock.now())
        self._news.set()

    def _on_lost(self, detail: str) -> None:
        self.lost = self.lost or detail
        self._note("note", f"lost: {detail}".encode("ascii", "replace"))
        self._news.set()

    def _note(self, way: str, data: bytes) -> None:
        if self._transcript is not None:
            self._transcript.note(way, data)

    # ---- waiting --------------------------------------------------------------------------------------

    async def until(self, ready: Callable[[], bool], seconds: float) -> bool:
        """Wait until `ready`, at most `seconds`; return whether it came. Raises `LinkLost`."""
        loop = asyncio.get_running_loop()
        deadline = loop.time() + self._clock.real(max(0.0, seconds))
        while not ready():
            self.check()
            left = deadline - loop.time()
            if left <= 0.0:
                return False
            self._news.clear()
            # A timer that only wakes: a cancellation that comes at the same moment is still a cancellation.
            timer = loop.call_later(left, self._news.set)
            try:
                await self._news.wait()
            finally:
                timer.cancel()
        return True

    async def pause(self, seconds: float) -> None:
        """Wait for `seconds`; raises `LinkLost` as soon as that is known."""
        await self.until(lambda: False, seconds)

    def silence(self, what: str) -> NoAnswer:
        """Return the fault for something that was not answered, with what was heard instead."""
        detail = f"{what}: no answer within {self.answer_s:g} s"
        if self.not_understood:
            strange = self._last_strange[:QUOTED].decode("ascii", "replace")
            detail += f"; {self.not_understood} lines were not understood, the last one {strange!r}"
        return NoAnswer(detail)

    # ---- sending --------------------------------------------------------------------------------------

    def _send(self, line: str) -> None:
        self.check()
        assert self._port is not None
        self.sent += 1
        self._note("sent", line.encode("ascii"))
        self._port.send(checked(line))

    def _send_byte(self, byte: int, *, first: bool = False) -> None:
        self.check()
        assert self._port is not None
        self.sent += 1
        self._note("sent", bytes((byte,)))
        self._port.send_byte(byte, first=first)

    def send_order(self, line: str, *, moves: bool = False) -> Order:
        """Send a command and return its order, not answered yet."""
        self.check()
        order = self.ledger.order(line, moves=moves)
        self._send(line if order.number is None else numbered(order.number, line))
        return order

    async def order(self, line: str) -> None:
        """Send a command that is no motion, and wait for its answer.

        Raises `ControllerRefused`, `ControllerRestarted`, `LinkLost`, `NoAnswer`.
        """
        await self.long_order(line, self.answer_s)

    async def long_order(self, line: str, within_s: float) -> None:
        """Send a command whose answer may take so many seconds; raises what `order` does."""
        await self.clear_debts()
        order = self.send_order(line)
        try:
            await self.answer(order, within_s)
        except BaseException:
            self.ledger.give_up(order)
            raise
        self.ledger.forget(order)

    async def answer(self, order: Order, within_s: float | None = None) -> None:
        """Wait until an order is answered; raises what the answer means."""
        patience_s = self.answer_s if within_s is None else within_s
        came = await self.until(lambda: order.answered or order.over, patience_s)
        self.judge(order)
        if not came:
            raise self.silence(f"the command {order.line!r}")

    def judge(self, order: Order) -> None:
        """Raise what came of an order, if it was refused or a restart swept it away."""
        if order.restarted:
            raise ControllerRestarted(f"the controller restarted before it had carried out {order.line!r}")
        if order.refusal is not None:
            code, detail = order.refusal
            raise ControllerRefused(detail or f"the command {order.line!r}", code=code)

    async def clear_debts(self) -> None:
        """Make sure that no answer to a command that was given up can still come.

        A question whose answer is unlike any other is sent after it: answers keep their order, so once that one is
        there, nothing older is under way. Without such a question, silence has to do.
        """
        if not self.ledger.owed:
            return
        ask = self.profile.offsets.ask
        if ask is None:
            await self.until(lambda: not self.ledger.owed, QUIET * self.answer_s)
            self.ledger.settle()
            return
        order = await self._question(ask, 1)
        self.ledger.settle(order)
        if order is not None:
            await self.until(lambda: order.answered, QUIET * self.answer_s)
        self.ledger.settle()

    # ---- questions ------------------------------------------------------------------------------------

    async def state(self) -> Report:
        """Ask for the state and return the answer to this very request; raises `LinkLost`, `NoAnswer`."""
        ask = self.profile.state.ask
        if ask is None:
            return await self._pushed_state()
        mine: list[Request] = []
        for _ in range(TRIES):
            mine.append(self.ledger.request(self._clock.now()))
            order = self._ask(ask)
            if await self.until(lambda: any(one.report for one in mine), self.answer_s / TRIES):
                if order is not None:
                    await self.until(lambda order=order: order.answered or order.over, self.answer_s / TRIES)  # type: ignore[misc]
                return next(one.report for one in mine if one.report)
        raise self.silence("a request for the state")

    async def _pushed_state(self) -> Report:
        # The first one told from now on may have been on its way already.
        enough = self.ledger.reports + 2
        every_s = self.profile.state.every_s or 0.0
        if not await self.until(lambda: self.ledger.reports >= enough, self.answer_s + 2.0 * every_s):
            raise self.silence("the state, which should come by itself")
        assert self.ledger.latest is not None
        return self.ledger.latest

    def _ask(self, ask: Ask, offset: int = 1) -> Order | None:
        if ask.byte is not None:
            self._send_byte(ask.byte)
            return None
        line = (ask.line or "").replace("{offset}", str(offset)).replace("{system}", system_word(offset))
        if ask.answered:
            order = self.send_order(line)
            self.ledger.give_up(order)
            return order
        self._send(line)
        return None

    async def _question(self, ask: Ask, number: int) -> Order | None:
        self.ledger.offsets.pop(number, None)
        self.ledger.offsets.pop(0, None)
        order = None
        if ask.answered:
            order = self.send_order((ask.line or "").format(offset=number, system=system_word(number)))
        else:
            self._ask(ask, number)
        told = self.ledger.offsets

        def ready() -> bool:
            return (
                number in told
                or 0 in told
                or (order is not None and (order.restarted or order.refusal is not None))
            )

        try:
            came = await self.until(ready, self.answer_s)
        finally:
            if order is not None:
                order.given_up = not order.answered
        if order is not None:
            self.judge(order)
        if not came:
            raise self.silence(f"the question for work offset {number}")
        return order

    async def offset(self, number: int) -> Fields:
        """Ask for one work offset and return the fields of the answer.

        Raises `ControllerRefused`, `ControllerRestarted`, `LinkLost`, `NoAnswer`.
        """
        ask = self.profile.offsets.ask
        if ask is None:
            raise ControllerRefused("this controller does not tell its work offsets", code="unreadable")
        await self.clear_debts()
        order = await self._question(ask, number)
        if order is not None:
            await self.answer(order)
            self.ledger.forget(order)
        told = self.ledger.offsets
        return told[number] if number in told else told[0]

    async def contact(self) -> Fields | None:
        """Ask for the contact and return its fields, None where there was none; raises `LinkLost`, `NoAnswer`."""
        ask = self.profile.contact.ask
        assert ask is not None
        before = self.ledger.contacts
        self._ask(ask)
        if not await self.until(lambda: self.ledger.contacts > before, self.answer_s):
            raise self.silence("the question for the contact")
        return self.ledger.asked_contact

    # ---- stopping -------------------------------------------------------------------------------------

    def stop(self) -> None:
        """Send the request to stop, before everything that waits; raises `LinkLost`."""
        self.check()
        assert self._port is not None
        self._port.forget_waiting()
        stop = self.profile.stop
        if stop.byte is not None:
            self._send_byte(stop.byte, first=True)
        else:
            self.sent += 1
            self._note("sent", (stop.line or "").encode("ascii"))
            self._port.send_first(checked(stop.line or ""))

    def clear_alarm(self) -> None:
        """Send what clears an alarm; only ever called for a person who said so."""
        clear = self.profile.clear
        if clear.byte is not None:
            self._send_byte(clear.byte)
        elif clear.line is not None:
            self._send(clear.line)
