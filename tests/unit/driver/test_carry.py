"""One command at a time: what an adapter says, and what it raises, becomes a reply of the same meaning."""

from __future__ import annotations

import asyncio

import pytest

from gingerly import AlarmActive, Axis, ControllerRefused, ControllerRestarted, LinkLost, NoAnswer, Position
from gingerly.driver.carry import Carrier
from gingerly.messages.commands import (
    Answer,
    Ask,
    Finish,
    Look,
    Question,
    ReadOffset,
    Sense,
    Stop,
    Traverse,
    WriteOffset,
)
from gingerly.messages.replies import (
    Aborted,
    Alarmed,
    Answered,
    Arrived,
    Disconnected,
    Missed,
    OffsetRead,
    OffsetWritten,
    Refused,
    Restarted,
    Seen,
    TimedOut,
)
from gingerly.messages.snapshot import Snapshot

HERE, THERE = Snapshot(Position(1.0, 2.0, 3.0), True), Position(4.0, 5.0, 6.0)


class Written:
    """An adapter, an operator and a clock that write down what they are asked, and raise `error` if there is one."""

    def __init__(self, error: Exception | None = None) -> None:
        self.error = error
        self.calls: list[tuple[object, ...]] = []

    def _call(self, *call: object) -> None:
        self.calls.append(call)
        if self.error is not None:
            raise self.error

    async def look(self):
        self._call("look")
        return HERE

    async def traverse(self, to, feed):
        self._call("traverse", to, feed)
        return HERE

    async def sense(self, to, feed):
        self._call("sense", to, feed)
        return Missed(HERE)

    async def stop(self):
        self._call("stop")
        return HERE

    async def read_offset(self, number):
        self._call("read", number)
        return THERE

    async def write_offset(self, number, axes):
        self._call("write", number, axes)

    async def ask(self, question, machine):
        self._call("ask", question, machine)
        return Answer.YES

    def now(self):
        return 0.0

    async def sleep(self, seconds):
        self.calls.append(("sleep", seconds))

    async def bounded(self, work, seconds):
        self.calls.append(("bounded", seconds))
        return await work


def carried(command, error=None, *, operator=True):
    """The reply to one command, what was called for it, and the cause that is kept."""
    parts = Written(error)
    carrier = Carrier(parts, parts if operator else None, parts, "bench")
    return asyncio.run(carrier.carry(command)), parts.calls, carrier.cause


@pytest.mark.parametrize(
    ("command", "calls", "reply"),
    [
        (Look(0.0, 9.0), [("look",)], Seen(HERE)),
        (Look(0.5, 9.0), [("sleep", 0.5), ("look",)], Seen(HERE)),
        (Traverse(THERE, None, 9.0), [("traverse", THERE, None)], Arrived(HERE)),
        (Sense(THERE, 60.0, 9.0), [("sense", THERE, 60.0)], Missed(HERE)),
        (Stop(9.0), [("stop",)], Seen(HERE)),
        (ReadOffset(3, 9.0), [("read", 3)], OffsetRead(3, THERE)),
        (WriteOffset(3, ((Axis.Z, 1.0),), None, None, 9.0), [("write", 3, {Axis.Z: 1.0})], OffsetWritten(3)),
        (Ask(Question.CLEAR, 9.0), [("ask", Question.CLEAR, "bench")], Answered(Answer.YES)),
    ],
)
def test_each_command_is_one_call_under_its_deadline(command, calls, reply):
    """What is asked of an adapter is just what was ordered, once, and bounded by the command's own seconds."""
    assert carried(command) == (reply, [("bounded", 9.0), *calls], None)


@pytest.mark.parametrize(
    ("error", "reply"),
    [
        (ControllerRefused("beyond the travel", code="17"), Refused("17", "beyond the travel")),
        (ControllerRefused("no number"), Refused("none", "no number")),
        (AlarmActive("limit"), Alarmed(detail="limit")),
        (ControllerRestarted("greeting seen"), Restarted(detail="greeting seen")),
        (LinkLost("unplugged"), Disconnected("unplugged")),
        (NoAnswer("silent"), TimedOut("silent")),
        (TimeoutError(), TimedOut("no answer to Stop within its deadline")),
        (KeyError("a bug"), Aborted("the adapter raised KeyError: 'a bug'")),
    ],
)
def test_what_an_adapter_raises_is_a_reply_of_that_meaning_and_stays_the_cause(error, reply):
    """The five faults of the contract keep their detail; anything else means nothing but that the run must end."""
    assert carried(Stop(9.0), error) == (reply, [("bounded", 9.0), ("stop",)], error)


def test_nobody_there_is_no_answer_and_the_machine_is_not_asked():
    """A question without an operator does not wait for its deadline."""
    assert carried(Ask(Question.CLEAR, 9.0), operator=False) == (TimedOut("nobody is there to answer"), [], None)


def test_without_an_operator_everything_else_is_carried_out():
    assert carried(Look(0.0, 9.0), operator=False)[0] == Seen(HERE)


def test_what_is_no_order_to_a_machine_is_our_own_mistake():
    """The end of a run is nothing to carry out."""
    carrier = Carrier(Written(), None, Written(), "bench")
    with pytest.raises(TypeError, match="is not for an adapter"):
        carrier._do(Finish())


def test_a_cancellation_is_never_turned_into_a_reply():
    """It goes on to whoever drives the run, who stops the machine."""

    class Stuck(Written):
        async def look(self):
            await asyncio.get_running_loop().create_future()

    async def cancelled():
        carrier = Carrier(Stuck(), None, Written(), "bench")
        task = asyncio.ensure_future(carrier.carry(Look(0.0, 9.0)))
        await asyncio.sleep(0)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        return carrier.cause

    assert asyncio.run(cancelled()) is None
