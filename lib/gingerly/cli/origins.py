"""The origins that a run found, as a table for the next program: comma-separated values, one line a part.

Its columns are ``part``, ``routine``, ``tool``, ``offset`` (the work offset written, or nothing), ``x``, ``y``,
``z`` (the origin in machine coordinates, mm; nothing where an axis was not found) and ``unconfirmed`` (yes or no;
nothing for what an earlier run has found, which the journal tells).
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

from gingerly.batch import Summary
from gingerly.geometry import Axis
from gingerly.job import JobError, Problem

COLUMNS = ("part", "routine", "tool", "offset", "x", "y", "z", "unconfirmed")
NO_ORIGIN = ("reference", "tool change")


def rows(summary: Summary) -> list[tuple[str, ...]]:
    """Return one row for each part whose origin was found, in this run or in the one that it goes on with."""
    found = []
    for entry in summary.parts:
        if entry.fault is not None or entry.part.kind in NO_ORIGIN or not entry.found:
            continue
        axes = dict(entry.found)
        number = str(entry.part.offsets[0]) if entry.part.offsets else ""
        values = [f"{axes[axis]:.4f}" if axis in axes else "" for axis in Axis]
        account = entry.account
        unsure = "" if account is None else "yes" if account.unconfirmed else "no"
        found.append((entry.part.name, entry.part.kind, entry.part.tool.name, number, *values, unsure))
    return found


def reserve(path: str) -> None:
    """Create the table with its heading, before anything moves; raises `JobError` where it cannot be written."""
    try:
        _write(Path(path), [])
    except OSError as error:
        raise JobError(path, [Problem("--table", f"cannot be written: {error.strerror}")]) from None


def write(path: str, summary: Summary) -> None:
    """Write the table, whole or not at all."""
    _write(Path(path), rows(summary))


def _write(path: Path, lines: list[tuple[str, ...]]) -> None:
    fresh = path.with_name(f".{path.name}.new")
    with fresh.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(COLUMNS)
        table.writerows(lines)
        file.flush()
        os.fsync(file.fileno())
    os.replace(fresh, path)
