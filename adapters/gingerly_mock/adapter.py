"""The mock adapter: the library's contract in front of the virtual machine.

It lets virtual time pass, and shapes answers where a happening says so. It never waits on the event loop, except
for a `PAUSE` asked for by a test.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Mapping
from dataclasses import replace
from types import TracebackType
from typing import Any

from gingerly.driver.adapter import Scene
from gingerly.geometry import Axis, Position
from gingerly.messages.faults import AlarmActive, ControllerRefused, ControllerRestarted, LinkLost, NoAnswer
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Snapshot
from gingerly_mock.answers import (
    RESTARTS,
    Asked,
    at_once,
    check_move,
    check_number,
    checked_axes,
    has,
    shortened,
    spoiled,
)
from gingerly_mock.bench import Bench
from gingerly_mock.faults import Happening, What
from gingerly_mock.machine import SENSE, TRAVERSE
from gingerly_mock.run import Run


class _Call:
    """The call under way: one at a time, logged when it is over with its answer or the name of its error."""

    __slots__ = ("_adapter", "answer", "asked", "given", "name")

    def __init__(self, adapter: MockAdapter) -> None:
        self._adapter = adapter
        self.name = ""
        self.given: tuple[object, ...] = ()
        self.asked: Asked = ()
        self.answer: object = None

    def __enter__(self) -> Asked:
        return self.asked

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        answer = self.answer if kind is None else kind.__name__
        self._adapter._note(self.name, self.given, answer)
        self.name = ""
        if self._adapter._memory is not None:
            self._adapter._remember()


class MockAdapter(Bench):
    """A machine that exists in memory only, in virtual time.

    Options are those of `gingerly_mock.options.Options` and all facts of a machine by name, as plain data;
    ``ideal=True`` takes every imperfection away that is not asked for by name. Raises `TypeError` for an option
    it does not know, and `ValueError` for an unusable value.
    """

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._latency_s = self._options.latency_s
        self._open = False
        self._call = _Call(self)
        self._pause: asyncio.Future[None] | None = None

    # ---- the contract ---------------------------------------------------------------------------------

    async def open(self) -> None:
        """Connect to the virtual machine; moves nothing.

        Raises `RuntimeError` if it is open already; `LinkLost`, `NoAnswer` or `ControllerRefused` on request.
        """
        if self._open:
            raise RuntimeError("open() was called, but this adapter is open already")
        self._lost = any(one.what is What.LINK_LOST for one in self._schedule.standing)
        with self._begin("open", needs_open=False) as asked:
            if asked:
                await self._before(asked)
                await self._after(asked)
            self._open = True

    async def close(self) -> None:
        """Stop what moves, if the link still stands, and let go; may be called at any time, and again."""
        self._schedule.begin_call("close")
        was_open, self._open = self._open, False
        run = self._machine.stop() if was_open and not self._lost else None
        if run is not None:
            self._wait_for(run)
        self._note("close", (), None)
        if was_open:
            self._remember()

    async def look(self) -> Snapshot:
        """Return what the virtual machine says about itself now, moving or not.

        Raises `LinkLost`, `RuntimeError` before `open` or during another call, and what happenings ask for.
        """
        with self._begin("look") as asked:
            if asked:
                await self._before(asked)
            self._call.answer = answer = self._machine.snapshot()
            if asked:
                await self._after(asked)
            return answer

    async def traverse(self, to: Position, feed: float | None) -> Snapshot:
        """Move straight to `to` (mm) at `feed` mm/min, or as fast as it goes; return after standstill.

        Raises `AlarmActive` while an alarm stands, `ControllerRefused` outside the envelope or while a motion is
        under way, `ValueError` for what is no position or feed.
        """
        check_move(to, feed)
        with self._begin("traverse", to, feed) as asked:
            if asked or self._schedule.timed:
                run = await self._eventful(TRAVERSE, to, feed)
            else:
                run = self._move(TRAVERSE, to, feed)
            answer = self._machine.snapshot()
            if asked:
                answer = await self._shape(run, answer, asked)
            self._call.answer = answer
            return answer

    async def sense(self, to: Position, feed: float) -> Touched | Missed:
        """Move straight towards `to` (mm) at `feed` mm/min until contact; return after standstill.

        Raises what `traverse` does, and `ControllerRefused` too for a target nearer than 0.254 mm, a circuit
        closed at the start, or a turning spindle.
        """
        check_move(to, feed)
        with self._begin("sense", to, feed) as asked:
            if asked or self._schedule.timed:
                run = await self._eventful(SENSE, to, feed)
            else:
                run = self._move(SENSE, to, feed)
            rest = self._machine.snapshot()
            if asked:
                rest = await self._shape(run, rest, asked)
            answer = self._found(run, rest, asked)
            self._call.answer = answer
            return answer

    async def stop(self) -> Snapshot:
        """Stop all motion; return a snapshot taken after standstill.

        Raises `LinkLost`, and what happenings ask for.
        """
        with self._begin("stop") as asked:
            if asked:
                await self._before(asked)
            run = None if has(asked, What.STOP_IGNORED) else self._machine.stop()
            if run is not None:
                self._wait_for(run)
            self._call.answer = answer = self._machine.snapshot()
            if asked:
                await self._after(asked)
            return answer

    async def read_offset(self, number: int) -> Position:
        """Return the origin of work offset `number` (1–9) in machine coordinates (mm).

        Raises `ControllerRefused` where the facts say that offsets cannot be read, `ValueError` for a wrong number.
        """
        check_number(number)
        with self._begin("read_offset", number) as asked:
            if asked:
                await self._before(asked)
            if not self._facts.offsets_readable:
                raise ControllerRefused("this controller does not tell its work offsets", code="unreadable")
            self._call.answer = answer = self._machine.offsets[number]
            if asked:
                await self._after(asked)
            return answer

    async def write_offset(self, number: int, axes: Mapping[Axis, float]) -> None:
        """Write the named axes of work offset `number` (1–9, mm), rounded to the facts' resolution.

        Raises `ControllerRefused` while a motion is under way, `ValueError` for a wrong number or no axes.
        """
        check_number(number)
        values = checked_axes(axes)
        with self._begin("write_offset", number, tuple(values.items())) as asked:
            if asked:
                await self._before(asked)
            self._machine.settle()
            if self._machine.run is not None:
                raise ControllerRefused("a motion is still under way", code="busy")
            self._machine.write(number, spoiled(values, asked))
            if asked:
                await self._after(asked)

    async def home(self) -> Snapshot:
        """Move every axis to its switches, Z first; no part of the contract, and only for a person who says so.

        Raises `AlarmActive` while an alarm stands, `ControllerRefused` while a motion is under way.
        """
        with self._begin("home"):
            high = self._facts.envelope.high
            here = self._machine.position
            self._move(TRAVERSE, here._replace(z=high.z), None)
            self._move(TRAVERSE, high, None)
            self._machine.homed = True
            self._call.answer = answer = self._machine.snapshot()
            return answer

    # ---- for tests ------------------------------------------------------------------------------------

    def stage(self, scene: Scene) -> Position:
        """Return where the stock's corner truly is (mm), after clamping the scene's blank and loading its tool.

        The test lead is on, the plate seated, and the counts per blank begin anew. Raises `RuntimeError` while a
        motion or a call is under way.
        """
        if self._call.name:
            raise RuntimeError(f"cannot stage {scene.name!r} while {self._call.name}() is under way")
        return super().stage(scene)

    @property
    def paused(self) -> bool:
        """Whether a call waits in a `PAUSE`."""
        return self._pause is not None and not self._pause.done()

    def go_on(self) -> None:
        """Let a call that waits in a `PAUSE` go on; raises `RuntimeError` if none does."""
        if self._pause is None or self._pause.done():
            raise RuntimeError("nothing is paused")
        self._pause.set_result(None)

    # ---- how a call goes ------------------------------------------------------------------------------

    def _begin(self, name: str, *given: object, needs_open: bool = True) -> _Call:
        """Begin a call: the command gets to the machine, and whatever was due by then has happened."""
        call = self._call
        if call.name:
            raise RuntimeError(
                f"{name}() was called while {call.name}() is still under way: an adapter serves one call at a time"
            )
        if needs_open and not self._open:
            raise RuntimeError(f"{name}() was called, but this adapter is not open")
        call.asked = self._schedule.begin_call(name)
        call.given = given
        call.answer = None
        try:
            self._clock.elapse(self._latency_s)
            if self._schedule.timed:
                for happening in self._schedule.take_timed(self._clock.now()):
                    self._suffer(happening)
            if self._lost:
                raise LinkLost("the link to the virtual machine is broken")
        except BaseException as error:
            self._note(name, given, type(error).__name__)
            raise
        call.name = name
        return call

    def _note(self, name: str, given: tuple[object, ...], answer: object) -> None:
        self._log.append((self._clock.now(), name, given, answer))

    async def _before(self, asked: Asked) -> None:
        """Let happen what comes before the command is carried out."""
        for one in asked:
            if one.inside:
                continue
            if one.what is What.REQUEST_LOST:
                self._clock.elapse(math.inf)
            elif one.what is What.REFUSED:
                raise ControllerRefused("refused on request", code=one.detail or "refused")
            elif one.what is What.LINK_LOST_UNSENT:
                self._break_link()
            elif one.what is What.PAUSE:
                await self._wait_in_pause()
            elif one.what is not What.LINK_LOST:
                self._suffer(one)
            if one.what in RESTARTS and self._call.name not in ("look", "stop"):
                raise ControllerRestarted("the controller restarted before it carried the command out")

    async def _after(self, asked: Asked) -> None:
        """Let happen what comes after the command was carried out, before its answer is there."""
        for one in asked:
            if one.inside:
                continue
            if one.what is What.LINK_LOST:
                self._break_link()
            elif one.what is What.ANSWER_LOST:
                self._clock.elapse(math.inf)
            elif one.what is What.GIVES_UP:
                self._clock.elapse(self._facts.answer_s)
                raise NoAnswer(f"no answer within {self._facts.answer_s:g} s")
            elif one.what is What.ANSWER_LATE:
                self._clock.elapse(one.size)

    async def _shape(self, run: Run, rest: Snapshot, asked: Asked) -> Snapshot:
        """Return the answer to a motion as this call's happenings leave it."""
        if has(asked, What.ANSWER_EARLY):
            return replace(rest, position=run.target, idle=True)
        await self._after(asked)
        return rest

    def _found(self, run: Run, rest: Snapshot, asked: Asked) -> Touched | Missed:
        if asked and has(asked, What.ANSWER_EARLY):
            return Touched(run.target, rest)
        return Touched(self._machine.latched(run), rest) if run.seen_s < math.inf else Missed(rest)

    # ---- how a motion goes ----------------------------------------------------------------------------

    def _move(self, kind: str, to: Position, feed: float | None) -> Run:
        """Move, and let the motion's time pass; nothing happens on the way."""
        machine = self._machine
        run = machine.launch(kind, to, feed)
        self._clock.elapse(run.motion.end_s)
        machine.finish(run)
        return run

    async def _eventful(self, kind: str, to: Position, feed: float | None) -> Run:
        """Move as the happenings let it; the run is over then unless an early answer was asked for."""
        asked, machine = self._call.asked, self._machine
        await self._before(asked)
        run = machine.launch(kind, shortened(machine.position, to, asked), feed)
        if at_once(asked, What.LINK_LOST):
            self._break_link()
        if has(asked, What.ANSWER_EARLY):
            self._clock.elapse(0.1 * run.motion.end_s)
            return run
        await self._go_through(run, asked)
        self._wait_for(run)
        return run

    async def _go_through(self, run: Run, asked: Asked) -> None:
        """Let time pass from one happening inside the motion to the next, until none is left before its end."""
        marks = sorted(((run.reached_s(one.after_mm, one.after_s), n) for n, one in enumerate(asked) if one.inside))
        while True:
            at = min(self._schedule.next_time() - run.began, marks[0][0] if marks else math.inf)
            if at >= run.motion.end_s:
                return
            self._clock.elapse(max(0.0, run.began + at - self._clock.now()))
            due = list(self._schedule.take_timed(run.began + at))
            while marks and marks[0][0] <= at:
                due.append(asked[marks.pop(0)[1]])
            for one in due:
                await self._meet(run, one)

    async def _meet(self, run: Run, one: Happening) -> None:
        """Let one thing happen in the middle of a motion."""
        if one.what is What.PAUSE:
            await self._wait_in_pause()
        elif one.what in (What.LINK_LOST, What.LINK_LOST_UNSENT):
            self._break_link()
        elif one.what in (What.ANSWER_LOST, What.REQUEST_LOST):
            self._clock.elapse(math.inf)
        self._suffer(one)
        if one.what is What.ALARM:
            self._wait_for(run)
            raise AlarmActive(self._machine.alarm)
        if one.what in RESTARTS:
            raise ControllerRestarted("the controller restarted while the machine moved")
        if self._machine.run is run:
            self._machine.plan_again(run)

    def _wait_for(self, run: Run) -> None:
        """Let time pass until a motion is over."""
        machine = self._machine
        if machine.run is run:
            self._clock.elapse(max(0.0, run.began + run.motion.end_s - self._clock.now()))
            machine.finish(run)

    def _break_link(self) -> None:
        self._lost = True
        raise LinkLost("the link to the virtual machine broke")

    async def _wait_in_pause(self) -> None:
        self._pause = asyncio.get_running_loop().create_future()
        await self._pause
