"""What has been asked and ordered, and which answer belongs to what. Pure: no I/O, no clock of its own.

Answers come in the order of the commands, or bring a line number back. A command that was given up stays on the
list, so that its late answer is not taken for that of a later one; a state that answers an older request is not
taken for the answer to a newer one. Where an answer was lost, the next command's answer sets that right again.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from gingerly_serial.grammar import Fields
from gingerly_serial.hearing import Heard
from gingerly_serial.profile import Profile
from gingerly_serial.report import Gatherer, Report, meaning, state
from gingerly_serial.rs274 import HIGHEST_LINE_NUMBER, system_number

MOST_OPEN = 64
"""Orders and requests that are remembered without an answer; the oldest are given up for good.
Our own choice."""


@dataclass(slots=True, eq=False)
class Request:
    """One request for a state, and its answer."""

    asked_s: float
    report: Report | None = None
    orders_before: tuple[Order, ...] = ()


@dataclass(slots=True, eq=False)
class Order:
    """One command that was sent, and what came of it so far."""

    line: str
    number: int | None = None
    answered: bool = False
    done: bool = False
    missed: bool = False
    restarted: bool = False
    refusal: tuple[str, str] | None = None
    contact: Fields | None = None
    given_up: bool = False
    requests_before: tuple[Request, ...] = ()

    @property
    def over(self) -> bool:
        """Whether nothing more can come of it."""
        return self.done or self.restarted or self.refusal is not None


@dataclass(slots=True)
class Ledger:
    """Everything heard so far that still matters. Times are seconds of any steady clock; `stale_s` is
    our own choice."""

    profile: Profile
    stale_s: float = 4.0
    restarts: int = 0
    reports: int = 0
    latest: Report | None = None
    alarm: str = ""
    alarms: int = 0
    offsets: dict[int, Fields] = field(default_factory=dict)
    asked_contact: Fields | None = None
    strays: int = 0
    greetings: int = 0
    contacts: int = 0
    _told_restarts: int | None = None
    _number: int = 0
    _orders: deque[Order] = field(default_factory=lambda: deque(maxlen=MOST_OPEN))
    _requests: deque[Request] = field(default_factory=lambda: deque(maxlen=MOST_OPEN))
    _moving: Order | None = None
    _afresh: bool = False
    _gatherer: Gatherer = field(default_factory=Gatherer)

    # ---- what is sent ---------------------------------------------------------------------------------

    def order(self, line: str, *, moves: bool = False) -> Order:
        """Return a new order, on the list of those that wait for an answer."""
        order = Order(line, requests_before=tuple(self._requests))
        if self.profile.commands.numbered:
            self._number = self._number % HIGHEST_LINE_NUMBER + 1
            order.number = self._number
        self._orders.append(order)
        if moves:
            self._moving = order
        return order

    def request(self, now_s: float) -> Request:
        """Return a new request for a state, on the list of those that wait."""
        in_line = self.profile.state.ask is not None and self.profile.state.ask.line is not None
        request = Request(now_s, orders_before=tuple(self._orders) if in_line else ())
        self._requests.append(request)
        return request

    def give_up(self, order: Order) -> None:
        """Nobody waits for this order any more; where answers are numbered it is forgotten."""
        order.given_up = True
        if self._moving is order:
            self._moving = None
        if order.number is not None and order in self._orders:
            self._orders.remove(order)

    @property
    def owed(self) -> bool:
        """Whether an answer to an order that was given up may still come."""
        return any(order.given_up for order in self._orders)

    def settle(self, before: Order | None = None) -> None:
        """Forget orders that were given up: all of them, or those older than `before`."""
        while self._orders and self._orders[0] is not before:
            self._orders.popleft()

    # ---- what is heard --------------------------------------------------------------------------------

    def take(self, line: Heard, now_s: float) -> None:
        """Take one understood line to account."""
        heard = self._gatherer.take(line)
        if heard is None:
            return
        match heard.means:
            case "greeting":
                self._greeted(heard.fields)
            case "accepted" | "refused":
                self._answered(heard)
            case "done":
                self._done(heard.fields)
            case "alarm":
                self.alarm = _words(heard.fields) or "an alarm without a code"
                self.alarms += 1
            case "contact" | "missed":
                self._met(heard)
            case "state":
                self._state(heard.fields, now_s)
            case "offset":
                number = system_number(str(heard.fields.get("offset", "")))
                self.offsets[number or 0] = heard.fields

    def _greeted(self, fields: Fields) -> None:
        told = fields.get("restarts")
        self.greetings += 1
        self._restarted(told if isinstance(told, int) else None)

    def _restarted(self, told: int | None) -> None:
        if told is not None and told == self._told_restarts:
            return
        self._told_restarts = told if told is not None else self._told_restarts
        self.restarts += 1
        self.alarm = ""
        for order in self._orders:
            order.restarted = True
        if self._moving is not None:
            self._moving.restarted = True
        self._orders.clear()
        self._afresh = True

    def _answered(self, heard: Heard) -> None:
        order = self._find(heard.fields, moving=heard.means == "refused")
        if order is None:
            self.strays += 1
            return
        if heard.means == "refused":
            order.refusal = (str(heard.fields.get("code", "")), str(heard.fields.get("detail", "")))
        order.answered = True
        # Answers keep their order, so whatever was asked before this command is answered, or will never be.
        for request in order.requests_before:
            if request in self._requests:
                self._requests.remove(request)
        if order.number is None or order.given_up:
            self._drop(order)
        if self.profile.commands.answered == "on completion":
            order.done = True

    def _find(self, fields: Fields, *, moving: bool = False) -> Order | None:
        """Return the order that an answer belongs to: by its number, else the oldest that waits."""
        if self.profile.commands.numbered:
            number = fields.get("number")
            for order in (*self._orders, *([self._moving] if moving and self._moving else [])):
                if order.number == number:
                    return order
            return None
        waiting = next((order for order in self._orders if not order.answered), None)
        # A motion that was taken may still be refused while it goes on.
        return waiting or (self._moving if moving else None)

    def _drop(self, order: Order) -> None:
        if order in self._orders:
            self._orders.remove(order)

    def forget(self, order: Order) -> None:
        """An order is wholly answered, and nobody needs it any more."""
        if self._moving is order:
            self._moving = None
        if order.answered or order.number is not None:
            self._drop(order)

    def _of_motion(self, fields: Fields) -> Order | None:
        order, number = self._moving, fields.get("number")
        if order is None or (order.number is not None and number is not None and number != order.number):
            return None
        return order

    def _done(self, fields: Fields) -> None:
        order = self._of_motion(fields)
        if order is None:
            self.strays += 1
        else:
            order.done = True

    def _met(self, heard: Heard) -> None:
        missed = heard.means == "missed" or meaning(self.profile.words.success, heard.fields, "success") == "no"
        self.contacts += 1
        self.asked_contact = None if missed else heard.fields
        order = self._of_motion(heard.fields)
        if order is None:
            self.strays += 1
        elif missed:
            order.missed = True
        else:
            order.contact = heard.fields

    def _state(self, fields: Fields, now_s: float) -> None:
        report = state(self.profile, fields)
        if report is None:
            return
        if report.restarts is not None:
            if self._told_restarts is None:
                self._told_restarts = report.restarts
                if not self.profile.opening.restarts:
                    # Where opening the port changes nothing, a restart between two connections shows in the count.
                    self.restarts = report.restarts
            else:
                self._restarted(report.restarts)
        self.reports += 1
        self.latest = report
        # A machine that still brakes may say that it moves, and nothing of the alarm that was told before.
        if report.alarm is False and report.resting is not False:
            self.alarm = ""
        while self._requests and now_s - self._requests[0].asked_s > self.stale_s:
            self._requests.popleft()
        if self._afresh:
            # Told after a restart, so it is newer than everything that was asked before.
            self._afresh = False
            for request in self._requests:
                request.report = report
            self._requests.clear()
        if self._requests:
            request = self._requests.popleft()
            request.report = report
            # Asked in line with the commands, so nothing older that was given up will be answered any more.
            for order in request.orders_before:
                if order.given_up:
                    self._drop(order)


def _words(fields: Fields) -> str:
    return " ".join(str(fields[name]) for name in ("code", "detail") if fields.get(name))
