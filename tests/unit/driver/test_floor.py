"""Where several machines stand: while one waits for hands, none moves."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from gingerly import Answer, Interrupted, Position, Question, batch
from gingerly.batch import Batch
from gingerly.cycle import State
from gingerly.driver.events import Asked, Ordered
from gingerly.driver.floor import Floor
from gingerly.job import Job
from gingerly.messages.commands import Ask, Look, Traverse
from gingerly.messages.replies import Answered
from support.bench import bench, corner_routine, scene, spot, surface_routine
from support.jobs import sound
from support.turns import turn

MOTION = Traverse(Position(0.0, 0.0, 0.0), None, 1.0)
CLOSE, CLEAR, NEXT = (Ask(one, 1.0) for one in (Question.CLOSE_AT_TIP, Question.CLEAR, Question.NEXT_PART))
YES = Answered(Answer.YES)


async def settled() -> None:
    for _ in range(5):
        await turn()


async def carried(floor: Floor, command: object, machine: str, release: asyncio.Event | None = None) -> None:
    async with floor.during(command, machine):  # type: ignore[arg-type]
        if release is not None:
            await release.wait()


@pytest.mark.asyncio
async def test_a_motion_waits_while_another_machine_waits_for_hands() -> None:
    floor = Floor()
    await carried(floor, CLOSE, "one")
    moving = asyncio.ensure_future(carried(floor, MOTION, "two"))
    await settled()
    assert not moving.done()
    floor.answered(CLEAR, YES, "one")
    await moving


@pytest.mark.asyncio
async def test_hands_are_asked_for_only_once_every_other_machine_has_come_to_rest() -> None:
    floor, over = Floor(), asyncio.Event()
    moving = asyncio.ensure_future(carried(floor, MOTION, "two", over))
    await settled()
    asking = asyncio.ensure_future(carried(floor, CLOSE, "one"))
    await settled()
    assert not asking.done()
    over.set()
    await asyncio.gather(asking, moving)


@pytest.mark.asyncio
async def test_the_machine_that_waits_for_hands_is_not_stopped_by_its_own_question() -> None:
    """Whether it may move is for its own cycle to decide."""
    floor = Floor()
    await carried(floor, CLOSE, "one")
    await asyncio.wait_for(carried(floor, MOTION, "one"), 5.0)


@pytest.mark.parametrize(
    ("command", "answer", "kept"),
    [(CLOSE, Answer.YES, True), (NEXT, Answer.YES, True), (CLEAR, Answer.YES, False), (CLOSE, Answer.NO, False)],
)
@pytest.mark.asyncio
async def test_the_floor_is_kept_until_the_hands_are_clear(command: Ask, answer: Answer, kept: bool) -> None:
    floor = Floor()
    await carried(floor, command, "one")
    floor.answered(command, Answered(answer), "one")
    assert (floor.hands_at == "one") is kept


@pytest.mark.asyncio
async def test_a_look_waits_for_nobody() -> None:
    floor = Floor()
    await carried(floor, CLOSE, "one")
    await asyncio.wait_for(carried(floor, Look(0.0, 1.0), "two"), 5.0)


@pytest.mark.asyncio
async def test_whoever_is_cancelled_while_waiting_leaves_the_floor_as_it_was() -> None:
    floor, over = Floor(), asyncio.Event()
    moving = asyncio.ensure_future(carried(floor, MOTION, "two", over))
    await settled()
    asking = asyncio.ensure_future(carried(floor, CLOSE, "one"))
    await settled()
    asking.cancel()
    await asyncio.wait({asking})
    over.set()
    await moving
    assert floor.hands_at is None
    await asyncio.wait_for(carried(floor, MOTION, "two"), 5.0)


@pytest.mark.asyncio
async def test_hands_wait_for_every_motion_and_not_for_the_last_alone() -> None:
    floor, first, second = Floor(), asyncio.Event(), asyncio.Event()
    moving = [
        asyncio.ensure_future(carried(floor, MOTION, name, over))
        for name, over in (("two", first), ("three", second))
    ]
    await settled()
    asking = asyncio.ensure_future(carried(floor, CLOSE, "one"))
    for over in (first, second):
        await settled()
        assert not asking.done()
        over.set()
    await asyncio.gather(asking, *moving)


@pytest.mark.asyncio
async def test_hands_are_at_one_machine_at_a_time() -> None:
    """The second question is put once the hands are clear of the first machine."""
    floor = Floor()
    await carried(floor, CLOSE, "one")
    asking = asyncio.ensure_future(carried(floor, CLOSE, "two"))
    await settled()
    assert (asking.done(), floor.hands_at) == (False, "one")
    floor.answered(CLEAR, YES, "one")
    await asking
    assert floor.hands_at == "two"


@pytest.mark.asyncio
async def test_a_motion_that_was_cancelled_while_it_waited_is_told_nothing_more() -> None:
    floor = Floor()
    await carried(floor, CLOSE, "one")
    moving = asyncio.ensure_future(carried(floor, MOTION, "two"))
    await settled()
    moving.cancel()
    await asyncio.wait({moving})
    floor.answered(CLEAR, YES, "one")
    assert floor.hands_at is None


@pytest.mark.asyncio
async def test_a_machine_that_is_left_gives_the_floor_back() -> None:
    floor = Floor()
    machine = bench(machine={"floor": floor})
    async with machine:
        assert await machine.ask(Question.NEXT_PART)
        assert floor.hands_at is machine.adapter
    assert floor.hands_at is None


# ---- whole batches --------------------------------------------------------------------------------------------


class Walker:
    """One person for two machines, who takes long, and looks whether the other one stands still meanwhile."""

    def __init__(self) -> None:
        self.machines: dict[str, batch.Batch] = {}
        self.moved_meanwhile: list[str] = []

    async def ask(self, question: Question, machine: str) -> Answer:
        before = self.motions(machine)
        for _ in range(50):
            await turn()
        if self.motions(machine) != before:
            self.moved_meanwhile.append(f"{question.value} at {machine}")
        return await self.machines[machine].machine.adapter.operator.ask(question, machine)  # type: ignore[attr-defined]

    def motions(self, machine: str) -> int:
        others = [one.machine.adapter for name, one in self.machines.items() if name != machine]
        return sum(len(one.motions) for one in others)  # type: ignore[attr-defined]


def jobs() -> list[Job]:
    one = sound()
    return [replace(one, machine=replace(one.machine, name=name)) for name in ("attic mill", "cellar mill")]


async def at_once(floor: Floor | None) -> Walker:
    walker = Walker()

    async def go(job: Job) -> None:
        async with batch.connect(job, operator=walker, floor=floor) as machine:
            walker.machines[job.machine.name] = Batch(job, machine)
            await walker.machines[job.machine.name].run()

    await asyncio.gather(*map(go, jobs()))
    assert all(one.summary.complete for one in walker.machines.values())
    return walker


@pytest.mark.asyncio
async def test_no_machine_moves_while_another_waits_for_hands() -> None:
    assert (await at_once(Floor())).moved_meanwhile == []


@pytest.mark.asyncio
async def test_without_a_shared_floor_they_would() -> None:
    """This is what makes the test above one."""
    assert (await at_once(None)).moved_meanwhile != []


def test_two_machines_at_once_are_both_done() -> None:
    first, second = asyncio.run(batch.run_together(jobs()))
    assert isinstance(first, batch.Summary)
    assert isinstance(second, batch.Summary)
    assert first.complete
    assert second.complete


def test_a_machine_that_cannot_begin_does_not_end_the_others() -> None:
    one, other = jobs()
    broken = replace(one, machine=replace(one.machine, options={"faults": [{"what": "link lost", "call": "open"}]}))
    first, second = asyncio.run(batch.run_together([broken, other]))
    assert not isinstance(first, batch.Summary) or not first.complete
    assert isinstance(second, batch.Summary)
    assert second.complete


def test_two_jobs_on_one_machine_are_refused() -> None:
    with pytest.raises(ValueError, match="one job at a time"):
        asyncio.run(batch.run_together([sound(), sound()]))


# ---- a look before the motion that waited -------------------------------------------------------------------------


async def waiting_for_hands(happens: dict[str, object]) -> tuple[str, str, bool]:
    """Let a machine wait for hands at another one in front of each motion, and something happen to it meanwhile."""
    floor = Floor()
    machine = bench(machine={"floor": floor})
    moved: list[object] = []

    def meanwhile(event: object) -> None:
        if isinstance(event, Ordered) and isinstance(event.command, Traverse) and not moved:
            moved.append(event)
            floor._hands_at = "another machine"
            asyncio.get_running_loop().call_soon(floor.leave, "another machine")
            machine.adapter.expect(**happens)  # type: ignore[attr-defined]

    machine.events.subscribe(meanwhile)
    async with machine:
        await machine.stage(spot())
        result = await machine.attempt(corner_routine())
    assert result.fault is not None
    return result.fault.name, result.fault.detail, machine.adapter.motions == ()  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("happens", "fault"),
    [
        ({"what": "alarm", "call": "look", "nth": 1, "times": 0}, "AlarmActive"),
        ({"what": "chip", "call": "look", "nth": 1, "times": 0}, "ControllerRefused"),
        ({"what": "restart", "call": "look", "nth": 1, "times": 0}, "ControllerRestarted"),
    ],
)
@pytest.mark.asyncio
async def test_a_machine_that_waited_is_looked_at_again_before_it_moves(
    happens: dict[str, object], fault: str
) -> None:
    name, _, unmoved = await waiting_for_hands(happens)
    assert (name, unmoved) == (fault, True)


@pytest.mark.asyncio
async def test_a_machine_that_waited_with_its_circuit_closed_may_back_off_all_the_same() -> None:
    """It stood on the metal before hands were elsewhere; only a circuit that has closed since keeps it there."""
    floor, waited = Floor(), []
    machine = bench(machine={"floor": floor})

    def meanwhile(event: object) -> None:
        if isinstance(event, Ordered) and event.state is State.BACKING_OFF:
            waited.append(event)
            floor._hands_at = "another machine"
            asyncio.get_running_loop().call_soon(floor.leave, "another machine")

    machine.events.subscribe(meanwhile)
    async with machine:
        machine.adapter.stage(scene())  # type: ignore[attr-defined]
        result = await machine.attempt(surface_routine())
    assert waited
    assert result.fault is None


# ---- questions between runs -----------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_a_question_between_runs_is_told_and_kept_like_one_inside() -> None:
    kept: list[object] = []

    class Pages:
        async def before(self, command: object) -> None:
            kept.append(command)

        async def after(self, command: object, reply: object) -> None:
            kept.append(reply)

        async def ended(self, outcome: object) -> None:
            pass

    machine, told = bench(machine={"recorder": Pages()}), []
    machine.events.subscribe(told.append)
    async with machine:
        assert await machine.release()
    assert kept == [Ask(Question.RELEASE, machine.patience_s), Answered(Answer.YES)]
    assert [(one.question, one.answer) for one in told if isinstance(one, Asked)] == [
        (Question.RELEASE, Answer.YES)
    ]


@pytest.mark.asyncio
async def test_nobody_is_sent_to_one_machine_while_another_may_still_be_moving() -> None:
    """A broken link stops nothing: until that machine is known to stand, every question elsewhere is refused."""
    floor = Floor()
    lost = bench({"what": "link lost", "call": "traverse", "nth": 2, "after_mm": 1.0}, machine={"floor": floor})
    other = bench(machine={"floor": floor})
    async with lost, other:
        for machine in (lost, other):
            machine.adapter.stage(scene())  # type: ignore[attr-defined]
        await lost.attempt(surface_routine())
        result = await other.attempt(surface_routine())
        assert not await other.release()
    assert lost.adapter.true_moving  # type: ignore[attr-defined]
    assert isinstance(result.fault, Interrupted)
    assert "another machine on this floor may still be moving" in result.fault.detail
    assert not other.adapter.operator.questions  # type: ignore[attr-defined]


def test_once_it_is_known_to_stand_people_are_asked_again() -> None:
    floor = Floor()
    floor.stands("one", known=False)
    assert floor.objection(CLOSE, "two") is not None
    assert floor.objection(CLOSE, "one") is None
    assert floor.objection(MOTION, "two") is None
    floor.stands("one", known=True)
    assert floor.objection(CLOSE, "two") is None
