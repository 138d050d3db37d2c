"""`gingerly rehearse`: do a job many times on virtual machines, and tell how it went."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from dataclasses import replace

from gingerly import job as jobs
from gingerly.cli.columns import tell
from gingerly.cli.session import Watch, show
from gingerly.cli.table import clock, on_terminal
from gingerly.job import Job, JobError, Problem
from gingerly.rehearse import (
    Account,
    AxisAccount,
    RunRecord,
    Script,
    account,
    document,
    played,
    rehearse,
    rehearsed,
)
from gingerly.rehearse.account import plain_run
from gingerly.report import DONE, FAULT

TICK_S = 0.2
"""How often the number of runs on a terminal changes, in seconds of the world. Our own choice."""


def run(arguments: argparse.Namespace) -> int:
    """Move virtual machines only, and return the exit code: 0 where every run went as the job expects, else 1."""
    job = jobs.read(arguments.job)
    script = _script(job, arguments)
    _note(job)
    if arguments.run is not None:
        return _one(script, arguments.run, as_json=arguments.json)
    counter = _Counter() if on_terminal(sys.stderr) else None
    records = _made(script, arguments, counter)
    if counter is not None:
        counter.end()
    found = account(records)
    if arguments.json:
        whole = document(found, seed=script.seed, title=job.title, rates=script.rates)
        print(json.dumps(whole, ensure_ascii=False, indent=2, allow_nan=False))
    else:
        print("\n".join(lines(found, script, arguments.job)))
    return DONE if found.success.count == found.runs else FAULT


def _made(script: Script, arguments: argparse.Namespace, counter: _Counter | None) -> tuple[RunRecord, ...]:
    try:
        return rehearse(
            script, arguments.runs, workers=arguments.workers, scheduler=arguments.scheduler, progress=counter
        )
    except (ImportError, OSError) as error:
        if arguments.scheduler is None:
            raise
        raise JobError("--scheduler", [Problem("", str(error))]) from error


def _script(job: Job, arguments: argparse.Namespace) -> Script:
    """Return what is rehearsed; whatever the virtual machine cannot be told is said before any run."""
    from gingerly.driver.registry import make

    rates = tuple(_rate(text) for text in arguments.fault or ())
    try:
        script = Script(job=job, seed=arguments.seed, rates=rates)
        worst = replace(script, rates=tuple((what, 1.0) for what, _ in rates))
        make("mock", dict(worst.options(1)))
    except ValueError as error:
        path, key = ("--fault", "") if rates else (job.source, "machine.options")
        raise JobError(path, [Problem(key, str(error))]) from error
    return script


def _rate(text: str) -> tuple[str, float]:
    what, _, rate = text.partition("=")
    try:
        return what.strip(), float(rate)
    except ValueError:
        raise JobError("--fault", [Problem(text, 'must be such as "lead off=0.01"')]) from None


def _note(job: Job) -> None:
    if job.machine.adapter != "mock" and "facts" not in job.machine.options:
        tell(f"the job states no facts of {job.machine.name!r}: it is rehearsed on the virtual machine's own.")


def _one(script: Script, number: int, *, as_json: bool) -> int:
    """Make one run again and show the account of it; what comes after the touch is not in the table."""
    if as_json:
        print(json.dumps(plain_run(rehearsed(script, number)), ensure_ascii=False, indent=2))
        return DONE
    summary, _ = played(script, number)
    print(f"run {number} of seed {script.seed}")
    return show(summary, Watch(moved=summary.moved), as_json=False)


class _Counter:
    """Tells on a terminal how many runs are done."""

    def __init__(self) -> None:
        self._told = 0.0

    def __call__(self, done: int, of: int) -> None:
        now = time.monotonic()
        if now - self._told >= TICK_S or done == of:
            self._told = now
            print(f"\rrehearsed {done} of {of}", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        print("\r" + " " * 40 + "\r", end="", file=sys.stderr, flush=True)


# ---- the account, in lines ----------------------------------------------------------------------------------


def lines(found: Account, script: Script, source: str) -> list[str]:
    """Return the account as lines of at most 80 columns."""
    low, high = found.success.bounds
    mean, late, longest = found.machine_s
    told = [
        f"{script.job.title}: {found.runs} runs of seed {script.seed} on virtual machines",
        "",
        f"went well    {found.success.count} of {found.runs}, {_percent(found.success.value)}"
        f" (at 95 %: {_percent(low)} to {_percent(high)})",
        f"machine time {clock(mean)} on average, {clock(late)} at 95 %, {clock(longest)} at most",
        f"deepest      {found.deepest[1]:.3f} mm past a surface, {found.deepest[0]:.3f} mm at 95 %",
    ]
    told += [f"fault        {name}: {count}" for name, count in found.faults]
    return [*told, "", *_table(found.axes), "", *_worst(found, script, source)]


HEADINGS = ("part", "axis", "mean", "sd", "95 % of errors", "worst", "stated", "inside")
UNITS = ("", "", "µm", "µm", "µm", "µm", "± µm", "")


def _table(axes: Sequence[AxisAccount]) -> list[str]:
    rows = [HEADINGS, UNITS, *(_cells(axis) for axis in axes)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADINGS))]
    drawn = []
    for row in rows:
        cells = (
            cell.ljust(width) if column < 2 else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        drawn.append("  ".join(cells).rstrip())
    drawn.insert(2, "  ".join("-" * width for width in widths))
    return drawn


def _cells(axis: AxisAccount) -> tuple[str, ...]:
    name = axis.part if len(axis.part) <= 16 else f"{axis.part[:15]}…"
    return (
        name,
        axis.axis,
        _um(axis.mean),
        f"{1000.0 * axis.standard_deviation:.1f}",
        f"{_um(axis.low)} … {_um(axis.high)}",
        _um(axis.worst),
        "" if axis.stated is None else f"{1000.0 * axis.stated:.1f}",
        "" if axis.inside is None else _percent(axis.inside.value),
    )


def _worst(found: Account, script: Script, source: str) -> list[str]:
    told = ["The runs to look at first"]
    for record in found.worst:
        what = ", ".join(record.faults) or f"off by {record.badness:.2f} × what was stated"
        told.append(f"  {record.number}: {what}, {record.deepest:.3f} mm deep, {clock(record.machine_s)}")
    first = found.worst[0].number
    more = "".join(f' --fault "{what}={rate:g}"' for what, rate in script.rates)
    return [*told, f"Make one again: gingerly rehearse {source} --seed {script.seed}{more} --run {first}"]


def _um(value: float) -> str:
    return f"{1000.0 * value:+.1f}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %"
