"""The kit itself: what it says, what it leaves behind, and what it refuses."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from conformance.mock_subjects import SAFE, mock_subject
from conformance.mutants.facts_and_door import LeavesItMoving
from conformance.plain_subjects import MemoryAdapter, memory_subject
from conformance.virtual import VirtualLoop
from gingerly import Box, LinkLost, NoContact, Position
from gingerly.conformance import Report, Result, Subject, Verdict, Wall, all_checks, run_all
from gingerly.conformance.catalogue import TOPICS, check
from gingerly.conformance.interrupt import Cut, cuts, watched
from support.turns import turn

CHECKS = {one.name: one for one in all_checks()}


def only(name: str, subject: Subject) -> Result:
    return run_all(subject, checks=[CHECKS[name]], loop_factory=VirtualLoop).results[0]


@pytest.mark.parametrize("one", all_checks(), ids=lambda one: one.name)
def test_every_check_says_its_rule_what_it_does_and_why(one) -> None:
    """The rule is one sentence; what it does and why are sentences too."""
    assert one.rule.endswith(".")
    assert one.does.endswith(".")
    assert one.why.endswith(".")
    assert len(one.rule) < 200


def test_checks_come_in_the_order_in_which_an_adapter_is_written() -> None:
    """Topics follow each other, and none is empty."""
    topics = [one.topic for one in all_checks()]
    assert tuple(dict.fromkeys(topics)) == TOPICS


GROWTH = {
    "door": (),
    "look": ("look",),
    "offsets": ("read_offset", "write_offset"),
    "traverse": ("traverse",),
    "stop": ("stop",),
    "sense": ("sense",),
}
"""Which methods an author has written after each topic."""


@pytest.mark.parametrize("topic", GROWTH)
def test_a_topic_needs_no_method_that_comes_later(topic: str) -> None:
    """An adapter that grows method by method passes each topic before it has the next one's methods."""

    async def missing(self, *given):
        if self._writer is None:
            raise RuntimeError("this adapter is not open")
        raise NotImplementedError("still to do")

    grown = list(GROWTH)[: list(GROWTH).index(topic) + 1]
    written = {method for one in grown for method in GROWTH[one]}
    lacking = {method for methods in GROWTH.values() for method in methods} - written
    half = type("Half", (MemoryAdapter,), dict.fromkeys(lacking, missing))
    report = run_all(memory_subject(half), checks=all_checks(up_to=topic), loop_factory=VirtualLoop)
    assert not report.of(Verdict.FAILED), report.summary()


@pytest.mark.parametrize(
    "wrong",
    [
        None,
        {"position": (1.0, 2.0, 3.0)},
        {"position": Position("1", 2.0, 3.0)},
        {"position": Position(1.0, float("nan"), 3.0)},
        {"idle": 1},
        {"restarts": -1},
        {"restarts": True},
        {"alarm": 0},
        {"circuit": "open"},
        {"spindle": False},
        {"in_force": {}},
    ],
    ids=str,
)
def test_an_answer_of_the_wrong_form_is_a_failure(wrong) -> None:
    """A snapshot is a Snapshot, its numbers are finite, and what cannot be told is None and nothing else."""

    class Malformed(MemoryAdapter):
        async def look(self):
            seen = await super().look()
            return replace(seen, **wrong) if wrong else wrong

    result = only("looking_changes_nothing", memory_subject(Malformed))
    assert result.reason.startswith("looking_changes_nothing\n  the adapter:  look() answered ")


@pytest.mark.parametrize(
    ("call", "answer", "name", "said"),
    [
        ("sense", Position(1.0, 2.0, 3.0), "a_contact_is_found_in_every_wall", "sense("),
        ("sense", None, "a_contact_is_found_in_every_wall", "sense("),
        ("read_offset", (1.0, 2.0, 3.0), "an_offset_reads_as_written", "read_offset("),
        ("read_offset", Position(1.0, float("nan"), 3.0), "an_offset_reads_as_written", "read_offset("),
        ("read_offset", None, "an_offset_reads_as_written", "read_offset("),
    ],
    ids=str,
)
def test_any_other_answer_of_the_wrong_form_is_a_failure_too(call, answer, name, said) -> None:
    """Whatever comes back that is not what the contract names is told as it came."""

    async def malformed(self, *given):
        return answer

    result = only(name, memory_subject(type("Malformed", (MemoryAdapter,), {call: malformed})))
    assert result.verdict is Verdict.FAILED
    assert f"the adapter:  {said}" in result.reason
    assert repr(answer) in result.reason


def test_an_unknown_topic_is_refused() -> None:
    """`all_checks` names the topics there are."""
    with pytest.raises(ValueError, match="facts, door, look"):
        all_checks(up_to="all")


def test_a_check_without_a_reason_cannot_be_entered() -> None:
    """A docstring without all three parts is an error at once, and the catalogue stays as it was."""

    async def unexplained(case) -> None:
        """Something holds."""

    with pytest.raises(ValueError, match="why"):
        check("facts")(unexplained)
    assert "unexplained" not in {one.name for one in all_checks()}


def test_a_failure_reads_like_advice() -> None:
    """What the adapter did, what the contract says, why it matters, and how that was found out."""

    class AlwaysIdle(MemoryAdapter):
        async def look(self):
            return replace(await super().look(), idle=True)

    reason = only("idle_is_not_claimed_while_it_moves", memory_subject(AlwaysIdle)).reason
    parts = ("the adapter:  look()", "the contract: A snapshot says idle only if", "why:", "this check:")
    assert all(part in reason for part in parts), reason


@pytest.mark.parametrize(
    ("hook", "name"),
    [
        ("alarm", "an_alarm_is_reported"),
        ("restart", "a_restart_is_counted"),
        ("link_loss", "a_lost_link_is_raised_by_every_call"),
        ("silence", "a_call_that_is_never_answered_can_be_given_up"),
        ("refusal", "a_refusal_is_raised_as_one"),
        ("closed_circuit", "a_bridged_circuit_is_seen_and_refused"),
        ("turning_spindle", "a_turning_spindle_is_reported"),
        ("short_move", "a_target_not_reached_is_told_by_the_snapshot"),
        ("foreign_state", "what_is_in_force_is_told"),
    ],
)
def test_what_cannot_be_provoked_is_not_exercised_and_says_so(hook: str, name: str) -> None:
    """A missing hook is named as the reason."""
    result = only(name, replace(memory_subject(), **{hook: None}))
    assert (result.verdict, result.reason) == (Verdict.NOT_EXERCISED, f"the subject brings no hook `{hook}`")


def test_the_summary_says_how_much_was_exercised_and_why_not_the_rest() -> None:
    """Counts, reasons with the checks they closed, and what was not run."""
    subject = replace(memory_subject(), walls=(), alarm=None)
    checks = [one for one in all_checks() if one.topic != "sharing"]
    summary = run_all(subject, name="bare", checks=checks, loop_factory=VirtualLoop).summary()
    assert summary.startswith("bare: ")
    assert "not exercised: the subject names no wall in which a contact will be found [" in summary
    assert "not exercised: the subject brings no hook `alarm` [an_alarm_is_reported, " in summary
    assert "not run: sharing (all 7)" in summary


def test_an_adapter_that_was_not_run_whole_does_not_conform() -> None:
    """A green part of the kit is not the kit."""
    report = run_all(mock_subject(), checks=all_checks(up_to="door"))
    assert not report.of(Verdict.FAILED)
    assert not report.conforms


def test_a_report_keeps_the_last_result_of_a_check() -> None:
    """A check that was repeated counts once."""
    report = Report("twice")
    report.add(Result("facts_name_the_machine", Verdict.FAILED, "first"))
    report.add(Result("facts_name_the_machine", Verdict.PASSED))
    assert [one.verdict for one in report.results] == [Verdict.PASSED]


def test_work_offsets_are_left_as_they_were_found() -> None:
    """Whatever a check wrote is put back, after a failure too."""
    left = {}

    class Wrong(MemoryAdapter):
        def __init__(self):
            super().__init__()
            self.controller.offsets[3] = Position(1.0, 2.0, 3.0)

        async def read_offset(self, number):
            found = await super().read_offset(number)
            return found.plus(Position(1.0, 0.0, 0.0)) if found.x < -90.0 else found

    async def keep(adapter) -> None:
        left.update(adapter.controller.offsets)
        await adapter.controller.power_off()

    result = only("every_number_is_its_own_offset", replace(memory_subject(Wrong), finish=keep))
    assert result.verdict is Verdict.FAILED
    assert left[3] == Position(1.0, 2.0, 3.0)
    assert left[1] == Position(0.0, 0.0, 0.0)


def test_the_machine_is_stopped_and_the_adapter_closed_after_a_failure() -> None:
    """A check that fails half-way through a motion leaves nothing moving and nothing open."""
    seen = []

    class NeverStands(LeavesItMoving):
        async def look(self):
            return replace(await super().look(), idle=True)

    async def note(adapter) -> None:
        seen.append((adapter.controller.true_moving, adapter._writer))
        await adapter.controller.power_off()

    result = only("idle_is_not_claimed_while_it_moves", replace(memory_subject(NeverStands), finish=note))
    assert result.verdict is Verdict.FAILED
    assert seen == [(False, None)]


def test_a_call_that_hangs_is_a_failure_and_no_hang() -> None:
    """An adapter that never answers ends each check at the driver's deadline."""

    class Silent(MemoryAdapter):
        async def look(self):
            return await asyncio.get_running_loop().create_future()

    result = only("looking_changes_nothing", memory_subject(Silent))
    assert "had not come back after 2 s" in result.reason


def test_a_hook_that_fails_is_reported_and_not_raised() -> None:
    """A mistake in the subject ends the one check that met it."""

    def broken(adapter, in_s):
        raise KeyError("no such thing")

    result = only("an_alarm_is_reported", replace(memory_subject(), alarm=broken))
    assert "KeyError" in result.reason


@pytest.mark.parametrize("hook", ["make", "finish"])
def test_a_subject_that_cannot_make_or_finish_fails_the_check_and_says_so(hook: str) -> None:
    """A server that does not start is no traceback of the kit."""

    def broken(*given):
        raise OSError("the port is taken")

    result = only("facts_name_the_machine", replace(memory_subject(), **{hook: broken}))
    assert result.verdict is Verdict.FAILED
    assert f"the subject's `{hook}` raised OSError: the port is taken" in result.reason


@pytest.mark.parametrize("fault", [NoContact(), LinkLost()], ids=lambda fault: fault.name)
def test_a_fault_that_is_the_librarys_to_draw_is_told_from_one_of_the_adapters(fault) -> None:
    """An adapter that raises `NoContact` reads which faults are its own."""

    class Draws(MemoryAdapter):
        async def look(self):
            raise fault

    reason = only("looking_changes_nothing", memory_subject(Draws)).reason
    assert ("by ControllerRefused, AlarmActive" in reason) is isinstance(fault, NoContact)


def test_a_cancellation_swallowed_as_the_answer_arrives_comes_with_a_hint() -> None:
    """The commonest culprit is the standard library's, and an author who has swallowed nothing looks for long."""

    class Waits(MemoryAdapter):
        async def _ask(self, order, **numbers):
            job = asyncio.ensure_future(super()._ask(order, **numbers))
            try:
                return await asyncio.shield(job)
            except asyncio.CancelledError:
                if job.done():
                    return job.result()
                raise

    reason = only("a_cancelled_look_lets_the_cancellation_out", memory_subject(Waits)).reason
    assert "`async with asyncio.timeout(…)` does not" in reason


def test_a_call_can_be_cut_where_it_waits_and_where_it_wakes() -> None:
    """Cut at its second wait a call has had one answer; cut late it has had two, and uses one."""
    had: list[int] = []

    async def work() -> None:
        for number in range(3):
            await turn()
            had.append(number)

    with asyncio.Runner(loop_factory=VirtualLoop) as runner:
        early = runner.run(watched(work(), Cut(2)))
        late = runner.run(watched(work(), Cut(2, late=True)))
        whole = runner.run(watched(work(), None))
    assert had == [0, 0, 0, 1, 2]
    assert isinstance(early.error, asyncio.CancelledError)
    assert isinstance(late.error, asyncio.CancelledError)
    assert (whole.suspensions, whole.error) == (3, None)


@pytest.mark.parametrize("suspensions", [1, 3, 6, 7, 40])
def test_cuts_reach_from_the_first_wait_to_the_last(suspensions: int) -> None:
    """Few waits are all cut; of many the first, the last and some between, at most six."""
    places = [cut.at for cut in cuts(suspensions) if not cut.late]
    assert places == sorted(set(places))
    assert (places[0], places[-1]) == (1, suspensions)
    assert len(places) == min(suspensions, 6)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"safe": Position(0, 0, 0)}, "outside the free box"),
        ({"free": Box(SAFE.minus(Position(1, 9, 9)), SAFE.plus(Position(1, 9, 9)))}, "less than 2 mm on X"),
        ({"offsets": (0, 1)}, "from 1 to 9"),
    ],
)
def test_a_subject_that_cannot_be_is_refused(wrong, message: str) -> None:
    """A safe point outside its box, no room, a number that is no work offset."""
    with pytest.raises(ValueError, match=message):
        replace(mock_subject(), **wrong)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [({"contact": Position(0, 0, -0.4)}, "0.5 mm"), ({"give": 0.0}, "give"), ({"within": -0.1}, "within")],
)
def test_a_wall_that_cannot_be_is_refused(wrong, message: str) -> None:
    """A wall at its own start, one that gives nothing, a tolerance below zero."""
    with pytest.raises(ValueError, match=message):
        Wall(**{"start": Position(0, 0, 0), "contact": Position(0, 0, -2), **wrong})
