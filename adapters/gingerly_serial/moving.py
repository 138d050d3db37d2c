"""Motions: sending one, when to ask how it goes, and what counts as its end.

A reply that tells the end is waited for; where none comes, or none is told, the state is asked for at the predicted
end of the move and then at the facts' interval. While a guard is polled the state is asked for at that interval
from the beginning.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Position
from gingerly.kinematics import move_time
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.faults import AlarmActive, ControllerRefused, NoAnswer
from gingerly.messages.snapshot import Circuit, Snapshot
from gingerly_serial.clock import MachineClock
from gingerly_serial.ledger import Order
from gingerly_serial.link import Link
from gingerly_serial.profile import Profile
from gingerly_serial.watching import Watch

MARGIN_S = 0.01
"""Seconds after the predicted end at which a state is first asked for. Our own choice."""

LOST_SHARE = 0.25
"""Where the end is told, its telling counts as lost after this share of the answer time. Our own choice."""

PATIENCE = 3.0
"""A motion may take this many times its ideal time before the adapter gives it up; the driver does so earlier.
Our own choice."""


@dataclass(slots=True)
class Move:
    """One motion that was ordered: from where to where (mm), how long it takes at the least (s), and its order.

    `reports_before` counts the states told before it; `stopped` says that the guard has stopped it.
    """

    order: Order
    start: Position
    to: Position
    ideal_s: float
    senses: bool
    began_s: float
    reports_before: int = 0
    stopped: bool = False


class Mover:
    """Carries out one motion at a time; `under` is the one whose end is not known yet."""

    def __init__(self, link: Link, facts: MachineFacts, clock: MachineClock, watch: Watch) -> None:
        self._link = link
        self._facts = facts
        self._clock = clock
        self._watch = watch
        self._profile: Profile = link.profile
        self.under: Move | None = None

    async def launch(self, line: str, start: Position, to: Position, feed: float | None, *, senses: bool) -> Move:
        """Send a motion and return it; one that is answered on receipt, once it is taken.

        Raises what the answer means. Unless the motion was refused it counts as under way from the moment it was
        sent, whatever becomes of the answer.
        """
        ideal_feed = feed if feed is not None else self._facts.rapid_feed
        ideal_s = move_time(start.distance(to), feed=ideal_feed, acceleration=self._facts.acceleration)
        began_s, reports = self._clock.now(), self._link.ledger.reports
        await self._link.clear_debts()
        order = self._link.send_order(line, moves=True)
        self.under = move = Move(order, start, to, ideal_s, senses, began_s, reports)
        if self._profile.commands.answered == "on receipt":
            try:
                await self._link.answer(order)
            except ControllerRefused:
                self.ended()
                raise
            except BaseException:
                self._link.ledger.give_up(order)
                raise
        return move

    def ended(self) -> None:
        """The motion is over and judged: nothing is waited for any more."""
        if self.under is not None:
            self._link.ledger.give_up(self.under.order)
            self._link.ledger.forget(self.under.order)
            self.under = None

    async def come_to_rest(self) -> Snapshot:
        """Look until the machine stands still, and return the last snapshot; the motion then is over."""
        rest = await self._watch.come_to_rest()
        if rest.idle:
            self.ended()
        return rest

    # ---- a traverse -----------------------------------------------------------------------------------

    async def traversed(self, move: Move) -> Snapshot:
        """Wait for a traverse's end and return a snapshot taken then; stops it where a guard must.

        Raises `AlarmActive`, `ControllerRefused`, `ControllerRestarted`, `LinkLost`, `NoAnswer`.
        """
        was_open = self._watch.last is not None and self._watch.last.circuit is Circuit.OPEN
        await self.wait(move, self.first_look_s(move), was_open=was_open)
        while True:
            if self._closed_unasked(move, was_open=was_open):
                return await self._guard_stop(move)
            if self.may_ask(move):
                snapshot = await self._watch.snapshot()
                if self.is_over(move, snapshot):
                    self.judge(move, snapshot)
                    self.ended()
                    return snapshot
                if self._guarded(move) and was_open and snapshot.circuit is Circuit.CLOSED:
                    return await self._guard_stop(move)
                was_open = was_open or snapshot.circuit is Circuit.OPEN
            self.check_patience(move)
            await self.wait(move, self._next_look_s(move), was_open=was_open)

    async def _guard_stop(self, move: Move) -> Snapshot:
        """Stop a traverse that has met something, and return a snapshot taken after standstill."""
        move.stopped = True
        self._link.stop()
        return await self.come_to_rest()

    def _guarded(self, move: Move) -> bool:
        return self._facts.guard is Guard.POLLED and not move.senses

    def _closed_unasked(self, move: Move, *, was_open: bool) -> bool:
        """Return whether a state that came by itself shows that a guarded motion has met something."""
        ledger = self._link.ledger
        if self._profile.state.every_s is None or not was_open or not self._guarded(move):
            return False
        fresh = ledger.reports > move.reports_before + 1
        return fresh and ledger.latest is not None and ledger.latest.circuit is Circuit.CLOSED

    # ---- waiting --------------------------------------------------------------------------------------

    async def wait(self, move: Move, seconds: float, *, was_open: bool = False) -> None:
        """Wait until something tells the end of the motion, an alarm or a contact, at most `seconds`."""
        ledger = self._link.ledger
        alarms = ledger.alarms
        await self._link.until(
            lambda: self.told(move) or ledger.alarms > alarms or self._closed_unasked(move, was_open=was_open),
            seconds,
        )

    def told(self, move: Move) -> bool:
        """Return whether a reply has told that the motion is over, or that nothing will come of it."""
        order = move.order
        return order.over or (move.senses and (order.missed or order.contact is not None))

    def may_ask(self, move: Move) -> bool:
        """Return whether a state can be asked for now."""
        return self._profile.state.while_moving or self.told(move) or bool(self._link.ledger.alarm)

    def first_look_s(self, move: Move) -> float:
        """Return how long to wait before the first state is asked for."""
        predicted_s, interval_s = move.ideal_s + MARGIN_S, self._facts.look_interval_s
        if self._guarded(move):
            return min(interval_s, predicted_s)
        if self._profile.moves.over != "state":
            # The end is told; asking is for the case that the telling was lost.
            return predicted_s + LOST_SHARE * self._link.answer_s
        # A sense may end anywhere; where contacts are not told by themselves, only asking finds out.
        return (
            min(interval_s, predicted_s) if move.senses and self._profile.contact.ask is not None else predicted_s
        )

    def _next_look_s(self, move: Move) -> float:
        """Return how long to wait for the next look: the facts' interval, or until the predicted end if nearer."""
        left_s = move.began_s + move.ideal_s + MARGIN_S - self._clock.now()
        interval_s = self._facts.look_interval_s
        return min(interval_s, left_s) if left_s > 0.0 else interval_s

    # ---- the end --------------------------------------------------------------------------------------

    def check_patience(self, move: Move) -> None:
        """Raise `NoAnswer` for a motion that has taken longer than any motion should."""
        most_s = PATIENCE * move.ideal_s + 2.0 * self._link.answer_s + self._profile.moves.begins_s
        if self._clock.now() - move.began_s > most_s:
            raise NoAnswer(
                f"the move to {move.to} should have ended after {move.ideal_s:.1f} s, and nothing told that it did"
            )

    def is_over(self, move: Move, snapshot: Snapshot) -> bool:
        """Return whether a snapshot shows that the motion is over: at rest, and not merely before its beginning."""
        if not snapshot.idle:
            return False
        slack = self._facts.position_slack
        begun = snapshot.position.distance(move.start) > slack or move.start.distance(move.to) <= slack
        waited_s = self._clock.now() - move.began_s
        return self.told(move) or begun or waited_s > self._profile.moves.begins_s + MARGIN_S

    def judge(self, move: Move, snapshot: Snapshot) -> None:
        """Raise what ended a motion other than its own end."""
        self._link.judge(move.order)
        if snapshot.alarm:
            raise AlarmActive(snapshot.alarm_detail or self._link.ledger.alarm)
