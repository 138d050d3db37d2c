"""What came of a batch, for people and programs: one plain document, rows for a table, and what to do next.

The document is plain data, fit for JSON. Lengths are in mm, errors in µm, times in seconds; a position or an origin
is ``{"x": …, "y": …, "z": …}`` with the axes that are known; what nobody knows is null. Its keys are stable:

- ``format`` (1), ``program`` (``name``, ``version``), ``job`` (``title``, ``source``), ``machine`` (``name``,
  ``adapter``, ``model``, ``simulated``)
- ``exit_code``, ``complete``, ``released`` (lead and plate are off), ``interrupted``, ``machine_time_s``, ``notes``
- ``parts``, one for each part of the job: ``name``, ``routine``, ``tool``, ``status`` (done, skipped, failed, not
  begun, set before, waits), ``why``, ``touches``, ``contacts``, ``machine_time_s``, ``found``, ``measures`` (what
  was found besides, by name: mm, angles in rad, times in s), ``truth`` and ``error_um`` and ``deepest_mm`` (how
  far the tool was pushed past a surface; these three on simulated machines only), ``offsets``, ``unconfirmed``,
  ``fault``, ``uncertainty``, ``plan``
- ``uncertainty``: for everything found (``X``, ``Y``, ``Z``, sizes such as ``diameter``; in mm, a ``rotation`` in
  rad) ``half_width`` of the interval that holds it with ``probability`` (numerically combined, the one to quote),
  ``standard_uncertainty``, ``dof``, ``k`` and ``expanded`` by the law of propagation, ``correction`` that is in
  it already, and ``budget``, a row for each source: ``source``, ``shape``, ``standard_uncertainty``,
  ``sensitivity``, ``dof``, ``contribution``, ``shift``, ``common`` (to the part, to the batch). Infinite degrees
  of freedom are null. Of a job with more parts than `gingerly.batch.MANY` only the first two are told
- ``plan``: how its faces were touched: ``fast_feed``, ``slow_feed``, ``leave_feed`` (mm/min), ``back_off`` (mm),
  ``retouches``, and ``limits``, a sentence each for what limited them and what more touches would buy; null where
  nothing was touched, and of a job with more parts than `gingerly.batch.MANY`
- each of ``offsets``: ``number``, ``before``, ``meant``, ``after`` (as read back), ``stands``
- ``fault``: ``name``, ``summary``, ``detail``, ``state``, ``position`` (the last trusted one), ``stands_at`` (what the
  controller said once the machine stood; null where nobody saw that), ``done``, ``standstill``,
  ``standstill_confirmed``, ``advice``, ``code``, ``expected``
- ``next``: what the operator must do next, a sentence each, the most pressing first
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from gingerly.batch.resume import RESUMING
from gingerly.batch.summary import Account, PartResult, Status, Summary
from gingerly.geometry import Position
from gingerly.messages.faults import Fault, OffsetState, PlanFault, Stands, Standstill
from gingerly.messages.touches import Measures
from gingerly.routines import PlannedCourse
from gingerly.routines.stop_test import StopTest, in_words
from gingerly.uncertainty import Budget, Source, Statement

DONE, FAULT, BAD_INPUT, REFUSED, NOT_RELEASED, INTERRUPTED = 0, 1, 2, 3, 4, 130
"""Exit codes: done and released · a fault · bad input · refused before motion · set, but lead and plate are not
confirmed off · interrupted (128 + SIGINT: common practice, no source). The others are our own choice."""

LEAST_PUSH = 0.0005
"""Millimetres beyond what a tool may run on after a contact, below which three decimals show none."""

PROBABILITY = 0.95
"""The probability at which every ± is stated: common practice, no source."""

SYSTEMS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
"""The words that call work offsets 1 to 9. Source: NISTIR 6556 (RS274/NGC), 3.5.13."""

UNSURE = (Stands.NEITHER, Stands.UNKNOWN, Stands.UNCONFIRMED)


def exit_code(summary: Summary) -> int:
    """Return the exit code that a batch deserves; a fault that was part of the show counts for nothing."""
    if summary.interrupted:
        return INTERRUPTED
    if summary.faults or not summary.complete:
        refusals = summary.faults and all(isinstance(fault, PlanFault) for fault in summary.faults)
        return REFUSED if refusals and not summary.moved else FAULT
    return DONE if summary.released else NOT_RELEASED


# ---- the document -------------------------------------------------------------------------------------------


def document(summary: Summary) -> dict[str, Any]:
    """Return the whole account as plain data; see the module for its keys."""
    job, machine = summary.job, summary.job.machine
    return {
        "format": 1,
        "program": {"name": "gingerly", "version": _version()},
        "job": {"title": job.title, "source": job.source},
        "machine": {
            "name": summary.machine,
            "adapter": machine.adapter,
            "model": summary.facts.name,
            "simulated": summary.simulated,
        },
        "exit_code": exit_code(summary),
        "complete": summary.complete,
        "released": summary.released,
        "interrupted": summary.interrupted,
        "machine_time_s": _rounded(summary.duration_s),
        "notes": list(summary.notes),
        "parts": [_part(entry) for entry in summary.parts],
        "next": next_steps(summary),
    }


def _part(entry: PartResult) -> dict[str, Any]:
    account = entry.account
    return {
        "name": entry.part.name,
        "routine": entry.part.kind,
        "tool": entry.part.tool.name,
        "status": entry.status.value,
        "why": entry.why or None,
        "touches": account.touches if account is not None else 0,
        "contacts": account.contacts if account is not None else 0,
        "machine_time_s": _rounded(account.duration_s) if account is not None else None,
        "found": _axes(entry.found),
        "measures": {name: _rounded(value) for name, value in measures(entry)} or None,
        "truth": _axes(entry.truth),
        "error_um": _axes((axis, 1000.0 * error) for axis, error in entry.errors),
        "deepest_mm": _rounded(entry.deepest) if entry.deepest is not None else None,
        "offsets": [_offset(state) for state in account.offsets] if account is not None else [],
        "unconfirmed": list(account.unconfirmed) if account is not None else [],
        "fault": fault_record(entry.fault, expected=entry.as_expected) if entry.fault is not None else None,
        "uncertainty": _uncertainty(entry),
        "plan": _plan(entry),
    }


def _plan(entry: PartResult) -> dict[str, Any] | None:
    """Return how the first face was touched, and what limited that of all faces; None where nothing was kept."""
    course = entry.result.course if entry.result is not None else None
    if entry.result is None or not isinstance(course, PlannedCourse) or not entry.result.outcome.faces:
        return None
    plans = [touch.plan for touch in course.touches(entry.result.outcome.faces)]
    first = plans[0]
    return {
        "fast_feed": _rounded(first.fast_feed),
        "slow_feed": _rounded(first.slow_feed),
        "leave_feed": _rounded(first.leave_feed),
        "back_off": _rounded(first.back_off),
        "retouches": first.retouches,
        "limits": list(dict.fromkeys(limit for plan in plans for limit in plan.limited_by)),
    }


def _uncertainty(entry: PartResult) -> dict[str, Any]:
    result = entry.result
    if result is not None:
        return {name: _statement(statement, result.budgets[name]) for name, statement in result.statements.items()}
    stated = entry.away.stated if entry.away is not None else ()
    return {name: {"probability": PROBABILITY, "half_width": _fine(value)} for name, value in stated}


def _statement(statement: Statement, budget: Budget) -> dict[str, Any]:
    ordered = sorted(budget.sources, key=lambda source: -source.contribution)
    return {
        "probability": statement.probability,
        "half_width": _fine(statement.half_width),
        "standard_uncertainty": _fine(statement.u),
        "dof": _dof(statement.dof),
        "k": _rounded(statement.k),
        "expanded": _fine(statement.expanded),
        "correction": _fine(statement.correction),
        "budget": [_source(source) for source in ordered],
    }


def _source(source: Source) -> dict[str, Any]:
    return {
        "source": source.name,
        "shape": source.shape.name,
        "standard_uncertainty": _fine(source.shape.u),
        # Of a size with an unknown angle the size is told, which is what gives the contribution.
        "sensitivity": _rounded(source.size if source.across else source.sensitivity),
        "dof": _dof(source.degrees),
        "contribution": _fine(source.contribution),
        "shift": _fine(source.correction),
        "common": "batch" if source.batch else "part" if source.shared is not None else None,
    }


def _dof(degrees: float) -> float | None:
    return _rounded(degrees) if math.isfinite(degrees) else None


def _fine(value: float) -> float:
    return round(value, 9)


ANGLES = ("rotation", "tilt")


def measures(entry: PartResult) -> Measures:
    """Return what a part found besides an origin: by name, lengths in mm, angles in rad, times in seconds."""
    account = entry.account
    return account.measures if account is not None and entry.fault is None else ()


def measured(entry: PartResult) -> list[str]:
    """Return what a part found besides an origin, for people: a line each, angles in degrees too."""
    if isinstance(entry.part.routine, StopTest):
        return [f"{entry.part.name}: {sentence}" for sentence in in_words(measures(entry))]
    return [
        f"{entry.part.name}: {name.removesuffix('_s')} {_sized(name, value)}" for name, value in measures(entry)
    ]


def _sized(name: str, value: float) -> str:
    if name.endswith("_s"):
        return f"{1000.0 * value:.3f} ms"
    if name.startswith(ANGLES):
        return f"{math.degrees(value):.4f}°"
    return f"{round(value, 4) + 0.0:.4f} mm"  # and no zero with a sign


def fault_record(fault: Fault, *, expected: bool = False) -> dict[str, Any]:
    """Return a fault as plain data."""
    return {
        "name": fault.name,
        "summary": fault.summary,
        "detail": fault.detail,
        "state": fault.state,
        "position": _position(fault.position),
        "stands_at": _position(fault.stands_at if fault.standstill is Standstill.CONFIRMED else None),
        "done": fault.done,
        "standstill": fault.standstill.value,
        "standstill_confirmed": fault.standstill is not Standstill.UNCONFIRMED,
        "advice": fault.advice,
        "code": fault.code or None,
        "expected": expected,
    }


def _offset(state: OffsetState) -> dict[str, Any]:
    return {
        "number": state.number,
        "before": _position(state.old),
        "meant": _position(state.new),
        "after": _position(state.read),
        "stands": state.stands.value,
    }


def _position(position: Position | None) -> dict[str, float] | None:
    if position is None:
        return None
    return {name: _rounded(value) for name, value in zip("xyz", position, strict=True)}


def _axes(values: Iterable[tuple[Any, float]]) -> dict[str, float] | None:
    found = {axis.name.lower(): _rounded(value) for axis, value in values}
    return found or None


def _rounded(value: float) -> float:
    return round(value, 6)


def _version() -> str:
    try:
        return version("gingerly")
    except PackageNotFoundError:
        return "unknown"


# ---- the table ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table: one axis of one part. Lengths in mm, the error and the stated ± in µm (half the
    width of the 95 % interval); None where there is nothing.

    What belongs to the whole part (its name, touches, time) stands in its first line only.
    """

    part: str = ""
    offset: int | None = None
    axis: str = ""
    before: float | None = None
    found: float | None = None
    stated_um: float | None = None
    truth: float | None = None
    error_um: float | None = None
    touches: int | None = None
    time_s: float | None = None
    remark: str = ""
    wrong: bool = False
    """Whether the remark tells of a fault."""


def rows(summary: Summary) -> list[Row]:
    """Return the table's rows, part after part."""
    return [row for entry in summary.parts for row in _rows(entry)]


def _rows(entry: PartResult) -> Iterator[Row]:
    account = entry.account
    first = Row(part=entry.part.name)
    if account is not None:
        first = replace(first, touches=account.touches, time_s=account.duration_s)
    if entry.status is not Status.DONE or account is None:
        number = entry.part.offsets[0] if len(entry.part.offsets) == 1 else None
        yield replace(first, offset=number, remark=remark(entry), wrong=entry.fault is not None)
    elif entry.part.kind == "tool change":
        yield from _found(first, entry, account, "Δ")
        yield from (_shifted(state) for state in account.offsets)
    elif account.offsets:
        state = account.offsets[0]
        for row in _found(replace(first, offset=state.number), entry, account, ""):
            yield row if state.old is None else replace(row, before=state.old["XYZ".index(row.axis)])
    else:
        yield from list(_found(first, entry, account, "")) or [replace(first, remark=remark(entry))]


def _found(first: Row, entry: PartResult, account: Account, mark: str) -> Iterator[Row]:
    truth, errors = dict(entry.truth), dict(entry.errors)
    stated, held = dict(account.stated), None if mark else _held(account)
    row = first
    for axis, value in entry.found:
        yield replace(
            row,
            axis=f"{mark}{axis.name}",
            found=value if held is None else held[axis],
            stated_um=1000.0 * stated[axis.name] if axis.name in stated else None,
            truth=truth.get(axis),
            error_um=1000.0 * errors[axis] if axis in errors else None,
        )
        row = Row(offset=first.offset)


def _held(account: Account) -> Position | None:
    """The origin as the controller holds it, to its own resolution; None where it was not set, or not read back."""
    state = account.offsets[0] if account.offsets else None
    return state.read if state is not None and state.stands is Stands.NEW else None


def _shifted(state: OffsetState) -> Row:
    now = state.read or state.new
    return Row(
        offset=state.number,
        axis="Z",
        before=state.old.z if state.old is not None else None,
        found=now.z if now is not None else None,
    )


def remark(entry: PartResult) -> str:
    """Return why a part has no numbers, in a few words."""
    if entry.fault is not None:
        return f"{entry.status.value}: {entry.fault.name}"
    return entry.why or entry.status.value


def fault_story(entry: PartResult) -> list[str]:
    """Return what people need to know about a part's fault, a line each; nothing where there was none."""
    if entry.fault is None:
        return []
    lines = _story(entry.part.name, entry.fault)
    if entry.deepest is not None and entry.deepest >= entry.part.tool.overtravel + LEAST_PUSH:
        lines.append(
            f"  pushed: on a real machine the tool would have been pushed {entry.deepest:.3f} mm into metal"
        )
    if entry.as_expected:
        lines.append("  note: this fault was asked for; it is part of the show")
    return lines


def _story(whose: str, fault: Fault) -> list[str]:
    title, *rest = fault.story().split("\n")
    return [f"{whose}: {title}", *rest]


def after_story(summary: Summary) -> list[str]:
    """Return what people need to know about a fault after the last part, a line each; nothing where there was none."""
    return _story("look at the new zeros", summary.after) if summary.after is not None else []


# ---- what to do next ----------------------------------------------------------------------------------------


def next_steps(summary: Summary) -> list[str]:
    """Return what the operator must do next, a sentence each, the most pressing first."""
    return [
        *_at_once(summary),
        *_about_offsets(summary),
        *_about_parts(summary),
        *_after_a_stop(summary),
        *_before_cutting(summary),
    ]


def _at_once(summary: Summary) -> Iterator[str]:
    name = summary.machine
    if any(entry.fault and entry.fault.standstill is Standstill.UNCONFIRMED for entry in summary.parts):
        yield f"Use the stop of {name} itself: nobody knows whether it stands still. Keep hands away until it does."
    if not summary.released:
        yield f"Take test lead and touch plate off {name} before the spindle can turn: nobody has confirmed it."


def _about_offsets(summary: Summary) -> Iterator[str]:
    for entry in summary.parts:
        for state in entry.account.offsets if entry.account is not None else ():
            if state.stands in UNSURE:
                where = f"work offset {state.number} ({entry.part.name})"
                yield f"Read {where} at the controller: {state.stands.value}."


def _about_parts(summary: Summary) -> Iterator[str]:
    for entry in summary.parts:
        if entry.fault is not None and entry.fault.state == RESUMING:
            yield f"Nothing was resumed ({entry.fault.name}). {entry.fault.advice}"
        elif entry.fault is not None:
            left = " and is not set" if entry.part.offsets else ""
            yield f"{entry.part.name} ended with {entry.fault.name}{left}. {entry.fault.advice}"
    waiting = [entry.part.name for entry in summary.parts if entry.status is Status.NOT_BEGUN]
    if waiting:
        yield f"Not begun: {', '.join(waiting[:12])}{' …' if len(waiting) > 12 else ''}."
    if any(entry.status is Status.WAITING for entry in summary.parts):
        yield (
            "Finish the parts of this wave, with all that their work offsets are for; then `gingerly run JOB --resume"
            " --finished` goes on with the next one."
        )


def _after_a_stop(summary: Summary) -> Iterator[str]:
    if any(isinstance(entry.part.routine, StopTest) and entry.status is Status.DONE for entry in summary.parts):
        yield "Release the machine's own stop, clear its alarm at the machine, home it: no position survives a stop."


def _before_cutting(summary: Summary) -> Iterator[str]:
    done = [entry for entry in summary.parts if entry.status is Status.DONE and entry.account is not None]
    doubtful = any(entry.fault is not None and entry.fault.state == RESUMING for entry in summary.parts)
    kept = [entry for entry in summary.parts if entry.status is Status.KEPT and not doubtful]
    if called := sorted({number for entry in (*done, *kept) for number in entry.part.offsets}):
        yield f"The program that follows must call {', '.join(SYSTEMS[number - 1] for number in called)}."
    unseen = sorted({number for entry in done for number in entry.part.offsets}.difference(summary.looked_at))
    if not unseen:
        return
    tool = done[-1].part.tool.name
    said = f"work offset{'s' if len(unseen) > 1 else ''} {', '.join(map(str, unseen))}"
    yield f"Before cutting, look at the new zero of {said} from well above it, with {tool!r} in the spindle."
