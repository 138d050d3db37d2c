"""`gingerly history`: what was set, when, how sure, and whether lead and plate came off afterwards.

``--json`` prints ``{"format": 1, "journal": …, "set": […]}``, one object for each work offset that was set:
``number`` (of the entry), ``at`` (UTC), ``machine``, ``job``, ``part``, ``offset``, ``old``, ``new`` and ``read``
(mm), ``released``, ``waived``, ``uncertainty``. ``--all`` prints every entry of the journal as JSON Lines.
"""

from __future__ import annotations

import argparse
import json
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from gingerly.geometry import Position
from gingerly.job.problems import printable
from gingerly.journal import SetOffset, as_csv, as_json_lines, default_path, open_journal, what_was_set
from gingerly.journal.store import Journal
from gingerly.messages.faults import NotRecorded

FAULT, BAD_INPUT = 1, 2

SHOWN = 50
"""So many lines are printed where nobody asks for more."""


def run(arguments: argparse.Namespace) -> int:
    """Print what was set, and return the exit code."""
    try:
        since_s, until_s = _day(arguments.since), _day(arguments.until, after=1)
    except ValueError:
        print("a date is a year, a month and a day, as 2026-01-31", file=sys.stderr)
        return BAD_INPUT
    path = Path(arguments.journal) if arguments.journal is not None else default_path()
    try:
        with open_journal(path, only_read=True) as journal:
            _show(arguments, journal, since_s, until_s)
    except NotRecorded as fault:
        print(f"the journal cannot be read: {fault.detail}", file=sys.stderr)
        return FAULT
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
        document = {"format": 1, "journal": str(journal.path), "set": [one.plain() for one in found]}
        print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
    else:
        _table(found)


def _table(found: list[SetOffset]) -> None:
    if not found:
        print("nothing of this kind was set", file=sys.stderr)
        return
    print(f"{'when (UTC)':<20} {'machine':<16} {'part':<20} {'no':>2} {'origin now':<30} remark")
    for one in found:
        where = one.read or one.new
        print(
            f"{one.when:<20} {_short(one.machine, 16)} {_short(one.part, 20)} {one.offset:>2}"
            f" {str(where) if isinstance(where, Position) else '?':<30} {_remark(one)}".rstrip()
        )
    waiting = [one for one in found if not one.released]
    if waiting:
        names = ", ".join(dict.fromkeys(f"{printable(one.part)} on {printable(one.machine)}" for one in waiting))
        print(f"\nNOT RELEASED, lead and plate were never confirmed off: {names}")


def _remark(one: SetOffset) -> str:
    said = [] if one.released else ["NOT RELEASED"]
    said += ["circuit check waived"] if one.waived else []
    said += ["not read back"] if one.read is None else []
    interval = one.uncertainty.get("told") if isinstance(one.uncertainty, dict) else None
    return ", ".join([*([str(interval)] if interval else []), *said])


def _short(text: str, width: int) -> str:
    text = printable(text)
    return f"{text if len(text) <= width else text[: width - 1] + '…':<{width}}"


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
