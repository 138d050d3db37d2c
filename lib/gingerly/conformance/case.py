"""One check's hands on one adapter: every call under a deadline, every answer looked at, every fault judged.

A call that raises what the contract does not name, answers what it may not, or does not come back ends the check
with a `Failure` that says so, whatever the check was about.
"""

from __future__ import annotations

import asyncio
import inspect
import math
from collections.abc import Callable, Coroutine, Mapping
from typing import Any, NoReturn, TypeVar

from gingerly.conformance.catalogue import Failure, NotApplicable, NotExercised
from gingerly.conformance.interrupt import Cut, Ended, watched
from gingerly.conformance.shape import flaw_of_position, flaw_of_snapshot
from gingerly.conformance.subject import Subject, Truth, Wall
from gingerly.driver.adapter import HasClock
from gingerly.driver.clock import GRACE_S, Clock, WallClock
from gingerly.geometry import Axis, Position, distance_to_line
from gingerly.kinematics import fastest_feed, move_time, stopping_distance
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import ADAPTER_FAULTS, AlarmActive, Fault
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Circuit, Snapshot

T = TypeVar("T")

LONG_S = 2.0
"""How long a move lasts that is to be cut short: our own choice."""
BRISK_S = 0.25
"""How long the kit's other moves last at least, so that a clock can time them: our own choice."""
WHILE_S = 0.1
"""How long the kit lets something go on before it looks or intervenes: our own choice."""
AT_ONCE_S = 0.02
"""How long the kit waits for what is to happen at once: our own choice."""
PATIENCE = 1.5
"""The share of its ideal time after which the driver gives a motion up (`gingerly.cycle.orders`);
so does the kit."""
OPENING_S = 20.0
"""Seconds after which opening or closing counts as hung; a board that restarts when it is opened takes a few.
Our own choice."""

MAY_RAISE = (
    "; an adapter tells what its controller said, by ControllerRefused, AlarmActive, ControllerRestarted, LinkLost or"
    " NoAnswer, and leaves it to the library what that means"
)
NO_FAULT = ", which is none of the library's faults"


class Case:
    """An adapter under one check. All points in machine coordinates, mm; feeds in mm/min.

    The sizes, shares and seconds that a check names are our own choice, unless it says otherwise.
    """

    def __init__(self, subject: Subject, adapter: Any) -> None:
        self.subject = subject
        self.adapter = adapter
        own = adapter.clock if isinstance(adapter, HasClock) else None
        self.clock: Clock = subject.clock or own or WallClock()
        self.lives_in_world_time = subject.clock is None and own is None
        self.opened = False
        self.kept: dict[int, Position] = {}
        self.away_from_wall: Position | None = None

    # ---- verdicts -------------------------------------------------------------------------------------

    def fail(self, did: str) -> NoReturn:
        """Raise the failure that says what the adapter did."""
        raise Failure(did)

    def hold(self, held: bool, did: str) -> None:
        """Raise the failure that says what the adapter did, unless the rule was held."""
        if not held:
            raise Failure(did)

    def only_if(self, applies: bool, why_not: str) -> None:
        """Raise `NotApplicable` unless the rule concerns this adapter."""
        if not applies:
            raise NotApplicable(why_not)

    # ---- what is known --------------------------------------------------------------------------------

    @property
    def facts(self) -> MachineFacts:
        """What the adapter says of its machine."""
        facts = self.adapter.facts
        if not isinstance(facts, MachineFacts):
            self.fail(f"facts is {type(facts).__name__}, not MachineFacts")
        return facts

    @property
    def slack(self) -> float:
        """How far a reported position may be from where the machine was sent, in mm."""
        return self.facts.position_slack

    def near(self, axis: Axis, sign: int = 0, most: float = 5.0) -> Position:
        """Return a free point beside the safe one along an axis (sign 0: on the side with more room).

        At most `most` mm away: 5 mm are our own choice.
        """
        room = {s: self.subject.room(axis, s) for s in (1, -1)}
        sign = sign or max(room, key=lambda s: room[s])
        step = min(most, room[sign])
        return self.subject.safe.with_axes({axis: self.subject.safe[axis] + sign * step})

    @property
    def far(self) -> Position:
        """The free point that lies furthest from the safe one along one axis, at most 20 mm away
        (our own choice)."""
        return max((self.near(axis, most=20.0) for axis in Axis), key=self.subject.safe.distance)

    @property
    def outside(self) -> Position:
        """The point 1 mm beyond the axis limit that is nearest to the safe point: our own choice."""
        envelope, safe = self.facts.envelope, self.subject.safe
        gaps = {(axis, 1): envelope.high[axis] - safe[axis] for axis in Axis}
        gaps |= {(axis, -1): safe[axis] - envelope.low[axis] for axis in Axis}
        axis, sign = min(gaps, key=lambda gap: gaps[gap])
        return safe.with_axes({axis: safe[axis] + sign * (gaps[axis, sign] + 1.0)})

    def feed_for(self, distance: float, seconds: float) -> float:
        """Return the feed at which `distance` takes `seconds`, or the machine's top feed."""
        return min(self.facts.top_feed, distance / seconds * 60.0)

    def wall(self) -> Wall:
        """Return the first wall; raises `NotExercised` if there is none."""
        if not self.subject.walls:
            raise NotExercised("the subject names no wall in which a contact will be found")
        return self.subject.walls[0]

    def sense_feed(self, wall: Wall) -> float:
        """Return the feed from which this machine stops well within the wall's give."""
        facts = self.facts
        reaction_s = facts.stop_reaction_s + facts.sample_interval_s
        feed = fastest_feed(0.5 * wall.give, acceleration=facts.acceleration, reaction_s=reaction_s)
        return min(facts.top_feed, feed)

    def latch_slack(self, feed: float) -> float:
        """Return how far past the touch a latched contact may lie at this feed, by the facts, in mm."""
        facts = self.facts
        return feed / 60.0 * (facts.latch_s.high + facts.sample_interval_s) + self.slack

    def overrun(self, feed: float) -> float:
        """Return how far past a latched contact the machine may come to rest, by the facts, in mm."""
        facts = self.facts
        reaction_s = facts.stop_reaction_s + facts.sample_interval_s
        return stopping_distance(feed, acceleration=facts.acceleration, reaction_s=reaction_s) + self.slack

    # ---- provoking ------------------------------------------------------------------------------------

    def needs(self, hook: str) -> Callable[[float], Coroutine[Any, Any, None]]:
        """Return a hook of the subject, ready to be called; raises `NotExercised` if it brings none."""
        found = getattr(self.subject, hook)
        if found is None:
            raise NotExercised(f"the subject brings no hook `{hook}`")

        async def provoke(in_s: float = 0.0) -> None:
            await awaited(found(self.adapter, in_s))
            if in_s == 0.0:
                await self.clock.sleep(AT_ONCE_S)

        return provoke

    async def truth(self) -> Truth:
        """Return what is true by a second way; raises `NotExercised` if there is none."""
        if self.subject.truth is None:
            raise NotExercised("the subject has no second way to see the truth (`truth`)")
        found = await awaited(self.subject.truth(self.adapter))
        assert isinstance(found, Truth), "the subject's `truth` must return a Truth"
        return found

    async def wait(self, seconds: float = WHILE_S) -> None:
        """Let seconds pass on the adapter's clock."""
        await self.clock.sleep(seconds)

    # ---- open and closed ------------------------------------------------------------------------------

    async def open(self) -> None:
        """Open the adapter."""
        await self.answered("open()", self.adapter.open(), OPENING_S)
        self.opened = True

    async def close(self) -> None:
        """Close the adapter."""
        await self.answered("close()", self.adapter.close(), OPENING_S)

    async def go_to_safe(self) -> None:
        """Bring the machine to the safe point."""
        here = (await self.look()).position
        if not self.same_place(here, self.subject.safe):
            await self.traverse(self.subject.safe)

    async def misuse(self, what: str, work: Coroutine[Any, Any, Any]) -> BaseException | None:
        """Return what a call raises that should not have been made, or None if it was served; a hang fails."""
        try:
            await self.clock.bounded(work, OPENING_S)
        except TimeoutError:
            self.fail(f"{what} had not come back after {OPENING_S:g} s")
        except Exception as error:
            return error
        return None

    # ---- calls, answered ------------------------------------------------------------------------------

    def patience(self, start: Position | None, to: Position, feed: float | None) -> float:
        """Return after how many seconds the driver would give up a motion from `start` (None: from anywhere)."""
        facts = self.facts
        # Where nobody knows from where: longer than any way that the kit takes. Our own choice.
        distance = 400.0 if start is None else start.distance(to)
        ideal = move_time(distance, feed=feed or facts.rapid_feed, acceleration=facts.acceleration)
        return PATIENCE * ideal + facts.answer_s

    async def attempt(self, what: str, work: Coroutine[Any, Any, T], within_s: float | None = None) -> T | Fault:
        """Return what a call answers, or the fault it raises; a hang or any other exception is a failure."""
        seconds = self.facts.answer_s if within_s is None else within_s
        try:
            return await self.clock.bounded(work, seconds)
        except TimeoutError:
            self.fail(f"{what} had not come back after {seconds:.3g} s, when the driver would give it up")
        except ADAPTER_FAULTS as fault:
            return fault
        except Exception as error:
            self.fail(f"{what} raised {describe(error)}{MAY_RAISE if isinstance(error, Fault) else NO_FAULT}")

    async def answered(self, what: str, work: Coroutine[Any, Any, T], within_s: float | None = None) -> T:
        """Return what a call answers; any fault is a failure."""
        got = await self.attempt(what, work, within_s)
        if isinstance(got, Fault):
            self.fail(f"{what} raised {describe(got)} where nothing was wrong")
        return got

    async def look(self) -> Snapshot:
        """Return a snapshot."""
        return self.checked("look()", await self.answered("look()", self.adapter.look()))

    async def stop(self) -> Snapshot:
        """Stop the machine and return the snapshot."""
        facts = self.facts
        within = facts.answer_s + facts.rapid_feed / 60.0 / facts.acceleration
        return self.checked("stop()", await self.answered("stop()", self.adapter.stop(), within))

    async def traverse(self, to: Position, feed: float | None = None, start: Position | None = None) -> Snapshot:
        """Move to a point and return the snapshot."""
        what = f"traverse({to}, {feed_text(feed)})"
        work = self.adapter.traverse(to, feed)
        return self.checked(what, await self.answered(what, work, self.patience(start, to, feed)))

    async def attempt_traverse(self, to: Position, feed: float | None = None) -> Snapshot | Fault:
        """Move to a point and return the snapshot or the fault."""
        what = f"traverse({to}, {feed_text(feed)})"
        got = await self.attempt(what, self.adapter.traverse(to, feed), self.patience(None, to, feed))
        return got if isinstance(got, Fault) else self.checked(what, got)

    async def sense(self, to: Position, feed: float, start: Position | None = None) -> Touched | Missed:
        """Sense towards a point and return what was found."""
        got = await self.attempt_sense(to, feed, start)
        if isinstance(got, Fault):
            self.fail(f"sense({to}, {feed_text(feed)}) raised {describe(got)} where nothing was wrong")
        return got

    async def attempt_sense(
        self, to: Position, feed: float, start: Position | None = None
    ) -> Touched | Missed | Fault:
        """Sense towards a point and return what was found, or the fault."""
        what = f"sense({to}, {feed_text(feed)})"
        got = await self.attempt(what, self.adapter.sense(to, feed), self.patience(start, to, feed))
        if isinstance(got, Fault):
            return got
        if not isinstance(got, Touched | Missed):
            self.fail(f"{what} answered {got!r}, which is neither Touched nor Missed")
        if isinstance(got, Touched) and (flaw := flaw_of_position(got.contact)):
            self.fail(f"{what} answered a contact that {flaw}")
        self.checked(what, got.rest)
        return got

    async def touch(self, wall: Wall, feed: float) -> Touched:
        """Go to the wall's start, touch it at `feed`, and return the touch."""
        await self.traverse(wall.start)
        self.away_from_wall = wall.start
        got = await self.sense(wall.to, feed, wall.start)
        if not isinstance(got, Touched):
            self.fail(f"sense() from {wall.start} answered {got} although a wall lies at {wall.contact}")
        return got

    async def read(self, number: int) -> Position:
        """Return a work offset's origin."""
        what = f"read_offset({number})"
        found: object = await self.answered(what, self.adapter.read_offset(number))
        if flaw := flaw_of_position(found):
            self.fail(f"{what} answered {found!r}, which {flaw}")
        assert isinstance(found, Position)
        return found

    async def write(self, number: int, axes: Mapping[Axis, float]) -> None:
        """Write axes of a work offset."""
        shown = {axis.name: value for axis, value in axes.items()}
        await self.answered(f"write_offset({number}, {shown})", self.adapter.write_offset(number, axes))

    async def keep_offsets(self) -> tuple[int, ...]:
        """Read every work offset that may be written, so that it is restored; return their numbers."""
        self.only_if(self.facts.offsets_readable, "the facts say that work offsets cannot be read")
        if not self.subject.offsets:
            raise NotExercised("the subject allows no work offset to be written (`offsets`)")
        for number in self.subject.offsets:
            self.kept[number] = await self.read(number)
        return self.subject.offsets

    def checked(self, what: str, snapshot: object) -> Snapshot:
        """Return a snapshot whose form is right; anything else is a failure."""
        if flaw := flaw_of_snapshot(snapshot):
            self.fail(f"{what} answered {snapshot!r}: {flaw}")
        assert isinstance(snapshot, Snapshot)
        return snapshot

    # ---- calls, cut short -----------------------------------------------------------------------------

    async def cut_short(self, work: Coroutine[Any, Any, T], after_s: float) -> T | None:
        """Cancel a call after some seconds, as its deadline would, and return None; or its answer if it ended."""
        try:
            return await self.clock.bounded(work, after_s)
        except TimeoutError:
            return None
        except ADAPTER_FAULTS as fault:
            self.fail(f"a call that was cancelled after {after_s:.3g} s raised {describe(fault)}")

    async def leave_moving(self, after_s: float = 3 * WHILE_S) -> Position:
        """Begin a long, slow traverse from the safe point, give it up after some seconds; return the target."""
        start, to = self.subject.safe, self.far
        feed = self.feed_for(start.distance(to), LONG_S)
        rest = await self.cut_short(self.adapter.traverse(to, feed), after_s)
        if rest is not None:
            self.fail(f"a traverse of {start.distance(to):g} mm at {feed_text(feed)} ended before {after_s:g} s")
        return to

    async def watch(self, what: str, work: Coroutine[Any, Any, Any], cut: Cut | None, within_s: float) -> Ended:
        """Drive a call, cancelling it where it waits, and return how it ended; a hang is a failure."""
        try:
            return await self.clock.bounded(watched(work, cut), within_s + 2.0 * GRACE_S)
        except TimeoutError:
            where = f", cancelled {cut}," if cut else ""
            self.fail(f"{what}{where} had not ended after {within_s + 2.0 * GRACE_S:.3g} s")

    def on_way(self, place: Position, start: Position, to: Position) -> bool:
        """Return whether a place lies on the straight way between two points, within the slack."""
        way = to.minus(start).unit()
        along = place.minus(start).dot(way)
        beside = distance_to_line(place, start, way)
        return beside <= self.slack and -self.slack <= along <= start.distance(to) + self.slack

    def same_place(self, one: Position, other: Position) -> bool:
        """Return whether two reported positions are the same, within the slack on each axis."""
        return all(math.fabs(a - b) <= self.slack for a, b in zip(one, other, strict=True))

    async def hold_still(self, snapshot: Snapshot, what: str) -> None:
        """Fail unless the machine stands from this snapshot on: idle, in one place, truly so if that is known."""
        self.hold(snapshot.idle, f"{what} answered a snapshot that is not idle")
        await self.hold_true_stillness(what)
        await self.wait()
        later = await self.look()
        moved = later.position.distance(snapshot.position)
        self.hold(
            self.same_place(later.position, snapshot.position),
            f"{what} answered idle at {snapshot.position}, but {WHILE_S:g} s later the position is"
            f" {later.position}, {moved:.4f} mm on",
        )
        self.hold(later.idle, f"{what} answered idle, but a look {WHILE_S:g} s later is not idle")

    async def hold_true_stillness(self, what: str) -> None:
        """Fail if a second way to see the truth says that the machine moves just now."""
        if self.subject.truth is not None:
            truth = await self.truth()
            self.hold(
                not truth.moving, f"{what} came back while the machine truly still moved, near {truth.position}"
            )

    def circuit_is(self, snapshot: Snapshot, wanted: Circuit, when: str) -> None:
        """Fail unless the circuit is as wanted; says nothing where it cannot be known."""
        if self.facts.circuit_known:
            self.hold(snapshot.circuit is wanted, f"{when}, a snapshot calls the circuit {circuit_text(snapshot)}")

    def missed_into_alarm(self, got: object) -> bool:
        """Return whether a sense ended in the alarm that the facts announce for a miss."""
        return self.facts.alarm_on_miss and isinstance(got, AlarmActive)


async def awaited(found: Any) -> Any:
    """Return what a hook returns, awaiting it if it is asynchronous."""
    return await found if inspect.isawaitable(found) else found


def describe(error: BaseException) -> str:
    """Return an exception's class and text."""
    text = error.detail if isinstance(error, Fault) else str(error)
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def feed_text(feed: float | None) -> str:
    """Return a feed in words."""
    return "as fast as it goes" if feed is None else f"{feed:.4g} mm/min"


def circuit_text(snapshot: Snapshot) -> str:
    """Return what a snapshot says of the circuit, in a word."""
    return "unknown" if snapshot.circuit is None else snapshot.circuit.value


async def give_turns(turns: int = 20) -> None:
    """Give other tasks some turns of the event loop; how many is our own choice."""
    for _ in range(turns):
        await asyncio.sleep(0)
