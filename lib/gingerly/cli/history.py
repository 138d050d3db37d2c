"""`gingerly history`: what was set, when, how sure, and whether lead and plate came off afterwards.

``--json`` prints ``{"format": 1, "journal": …, "set": […]}``, one object for each work offset that was set:
``number`` (of the entry), ``at`` (UTC), ``machine``, ``job``, ``part``, ``offset``, ``old``, ``new`` and ``read``
(mm), ``released``, ``waived``, ``accepted`` (by a person, as it stood), ``uncertainty`` (by axis: ``half_width`` in
mm of the interval that holds it with ``probability``; null where nothing is known of it). ``--all`` prints every
entry of the journal as JSON Lines.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from gingerly.cli.columns import tell, wrapped
from gingerly.job.problems import JobError, Problem, printable
from gingerly.journal import SetOffset, as_csv, as_json_lines, default_path, open_journal, what_was_set
from gingerly.journal.place import VARIABLE
from gingerly.journal.store import Journal
from gingerly.messages.faults import NotRecorded

FAULT, BAD_INPUT = 1, 2

HEADINGS = ("when (UTC)", "machine", "part", "no", "X", "Y", "Z", "± µm", "remark")
NUMBERS = range(3, 7)
"""Which columns hold numbers. The ± is half the width of the 95 % interval of each axis that was found, in order."""

NAMED = 9
"""So many parts are named where all of them would be too many to read. Our own choice."""

SHOWN = 50
"""So many lines are printed where nobody asks for more. Our own choice."""


def run(arguments: argparse.Namespace) -> int:
    """Print what was set, and return the exit code."""
    try:
        since_s, until_s = _day(arguments.since), _day(arguments.until, after=1)
    except ValueError:
        print("a date is a year, a month and a day, as 2026-01-31", file=sys.stderr)
        return BAD_INPUT
    path = Path(arguments.journal) if arguments.journal is not None else default_path()
    if not os.path.exists(path):  # a path that cannot even be looked at is no journal either
        return _without(arguments, path)
    try:
        with open_journal(path, only_read=True) as journal:
            _show(arguments, journal, since_s, until_s)
    except NotRecorded as fault:
        tell(f"the journal cannot be read: {fault.detail}")
        return FAULT
    return 0


def _without(arguments: argparse.Namespace, path: Path) -> int:
    """Tell that there is no journal: bad input where somebody named it, and else nothing was set here so far."""
    named = "--journal" if arguments.journal is not None else VARIABLE if os.environ.get(VARIABLE) else ""
    if named:
        raise JobError(named, [Problem("", f"there is no journal at {str(path)!r}")])
    tell(f"there is no journal yet ({path}): nothing was set")
    if arguments.csv:
        as_csv([], sys.stdout)
    elif arguments.json:
        _as_document([], path)
    return 0


def _show(arguments: argparse.Namespace, journal: Journal, since_s: float | None, until_s: float | None) -> None:
    if arguments.all:
        entries = journal.entries(
            machine=arguments.machine,
            job=_job(arguments.job),
            part=arguments.part,
            since_s=since_s,
            until_s=until_s,
            last=arguments.last,
        )
        as_json_lines(entries, sys.stdout)
        return
    last = arguments.last if arguments.last is not None or arguments.json or arguments.csv else SHOWN
    found = what_was_set(
        journal,
        machine=arguments.machine,
        job=_job(arguments.job),
        part=arguments.part,
        since_s=since_s,
        until_s=until_s,
        last=last,
    )
    if arguments.csv:
        as_csv(found, sys.stdout)
    elif arguments.json:
        _as_document(found, journal.path)
    else:
        _table(found)
        if len(found) == last == SHOWN and arguments.last is None:
            print(f"these are the latest {SHOWN}; --last N shows more", file=sys.stderr)


def _as_document(found: list[SetOffset], path: Path) -> None:
    document = {"format": 1, "journal": str(path), "set": [one.plain() for one in found]}
    print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))


def _table(found: list[SetOffset]) -> None:
    if not found:
        print("nothing of this kind was set", file=sys.stderr)
        return
    lines = [HEADINGS, *map(_cells, found)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(HEADINGS))]
    for line in lines:
        padded = [
            text.rjust(width) if column in NUMBERS else text.ljust(width)
            for column, (text, width) in enumerate(zip(line, widths, strict=True))
        ]
        print(" ".join(padded).rstrip())
    waiting = [one for one in found if not one.released]
    if waiting:
        names = list(dict.fromkeys(f"{printable(one.part)} on {printable(one.machine)}" for one in waiting))
        told = ", ".join(names[:NAMED]) + (f" … ({len(names)} in all)" if len(names) > NAMED else "")
        print("\n" + wrapped(f"NOT RELEASED, lead and plate were never confirmed off: {told}"))


def _cells(one: SetOffset) -> tuple[str, ...]:
    where = one.read or one.new
    spot = tuple("?" if where is None else f"{value:.3f}" for value in where or "???")
    stated = [str(math.ceil(1000.0 * one.half_widths[axis])) for axis in "XYZ" if axis in one.half_widths]
    when, part = one.when[:16].replace("T", " "), _short(one.part, 20)
    return (when, _short(one.machine, 16), part, str(one.offset), *spot, " ".join(stated), _remark(one))


def _remark(one: SetOffset) -> str:
    said = [] if one.released else ["NOT RELEASED"]
    said += ["circuit check waived"] if one.waived else []
    said += ["accepted as it stood, not touched"] if one.accepted else []
    said += ["not read back"] if one.read is None else []
    return ", ".join(said)


def _short(text: str, width: int) -> str:
    text = printable(text)
    return text if len(text) <= width else text[: width - 1] + "…"


def _job(given: str | None) -> str | None:
    """A job stands in the journal under its file's full path."""
    if given is None:
        return None
    path = Path(given)
    return str(path.resolve()) if path.is_file() else given


def _day(text: str | None, *, after: int = 0) -> float | None:
    if text is None:
        return None
    day = date.fromisoformat(text) + timedelta(days=after)
    return datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()
