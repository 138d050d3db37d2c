"""Run checks against a subject, each with an adapter of its own, free of any test framework."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Iterable

from gingerly.conformance.case import OPENING_S, Case, awaited
from gingerly.conformance.catalogue import CATALOGUE, TOPICS, Check, Failure, NotApplicable, NotExercised
from gingerly.conformance.report import Report, Result, Verdict
from gingerly.conformance.subject import Subject
from gingerly.driver.clock import Clock
from gingerly.geometry import Axis

LoopFactory = Callable[[], asyncio.AbstractEventLoop]


def all_checks(*, up_to: str = TOPICS[-1]) -> tuple[Check, ...]:
    """Return the checks of all topics up to and including one, in the order in which an adapter is best written.

    Raises `ValueError` for an unknown topic.
    """
    import gingerly.conformance.checks  # noqa: F401  (fills the catalogue)

    if up_to not in TOPICS:
        raise ValueError(f"topics are {', '.join(TOPICS)}, not {up_to!r}")
    wanted = TOPICS[: TOPICS.index(up_to) + 1]
    return tuple(sorted((c for c in CATALOGUE.values() if c.topic in wanted), key=lambda c: wanted.index(c.topic)))


async def exercise(check: Check, subject: Subject) -> Result:
    """Run one check on a new adapter and return its result; moves the machine within what the subject allows.

    The machine is stopped, work offsets are restored and the adapter is closed afterwards, whatever happened. A
    subject that cannot make its adapter, or not finish with it, fails the check.
    """
    try:
        case = Case(subject, await awaited(subject.make()))
    except Exception as error:
        return _subjects_fault(check, "make", error)
    try:
        result = Result(check.name, *await _verdict(check, case))
    finally:
        await _tidy_up(case)
        failed = await _finish(check, case)
    return failed or result


def _subjects_fault(check: Check, what: str, error: Exception) -> Result:
    said = f"was not asked: the subject's `{what}` raised {type(error).__name__}: {error}"
    return Result(check.name, Verdict.FAILED, check.explain(said))


async def _finish(check: Check, case: Case) -> Result | None:
    """Let the subject clean up, and return what went wrong with that, if anything did."""
    if case.subject.finish is not None:
        try:
            await awaited(case.subject.finish(case.adapter))
        except Exception as error:
            return _subjects_fault(check, "finish", error)
    return None


async def _verdict(check: Check, case: Case) -> tuple[Verdict, str]:
    try:
        if check.opens:
            await case.open()
        if check.moves:
            await case.go_to_safe()
        await check.body(case)
    except NotApplicable as reason:
        return Verdict.NOT_APPLICABLE, str(reason)
    except NotExercised as reason:
        return Verdict.NOT_EXERCISED, str(reason)
    except Failure as failure:
        return Verdict.FAILED, check.explain(str(failure))
    except Exception as error:
        # Not foreseen by the check: still the adapter's doing, or the subject's.
        return Verdict.FAILED, check.explain(f"something raised {type(error).__name__}: {error}")
    return Verdict.PASSED, ""


async def _tidy_up(case: Case) -> None:
    """Leave machine and controller as they were found, as far as they let us; errors here are nobody's failure."""
    clock: Clock = case.clock
    adapter = case.adapter
    if case.opened:
        with contextlib.suppress(Exception):
            await clock.bounded(adapter.stop(), OPENING_S)
        if case.away_from_wall is not None:
            with contextlib.suppress(Exception):
                await clock.bounded(adapter.traverse(case.away_from_wall, None), OPENING_S)
        for number, origin in case.kept.items():
            with contextlib.suppress(Exception):
                await clock.bounded(adapter.write_offset(number, dict(zip(Axis, origin, strict=True))), OPENING_S)
    with contextlib.suppress(Exception):
        await clock.bounded(adapter.close(), OPENING_S)


def run_all(
    subject: Subject,
    *,
    name: str = "adapter",
    checks: Iterable[Check] | None = None,
    told: Callable[[Result], None] | None = None,
    loop_factory: LoopFactory | None = None,
) -> Report:
    """Run checks one after the other, each on an event loop of its own, and return the report; moves the machine.

    `told` is called with each result as it comes.
    """
    report = Report(name)
    for check in all_checks() if checks is None else checks:
        with asyncio.Runner(loop_factory=loop_factory) as runner:
            result = runner.run(exercise(check, subject))
        report.add(result)
        if told is not None:
            told(result)
    return report
