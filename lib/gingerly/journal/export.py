"""The journal as text that other programs read: JSON Lines with everything, CSV with a line per work offset."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from typing import TextIO

from gingerly.journal.entry import Entry
from gingerly.journal.history import SetOffset

FIELDS = (
    "number",
    "at",
    "machine",
    "job",
    "part",
    "offset",
    *(f"{when}_{axis}" for when in ("old", "new", "read") for axis in "xyz"),
    "released",
    "waived",
    "accepted",
)


def as_json_lines(entries: Iterable[Entry], out: TextIO) -> None:
    """Write entries, one JSON document a line, with all that they hold."""
    for entry in entries:
        out.write(json.dumps(entry.plain(), ensure_ascii=False, separators=(",", ":")) + "\n")


def as_csv(found: Iterable[SetOffset], out: TextIO) -> None:
    """Write work offsets that were set as CSV (RFC 4180) with a heading; lengths in mm.

    A text that begins like a formula gets an apostrophe in front, so that no spreadsheet runs it.
    """
    rows = csv.writer(out)
    rows.writerow(FIELDS)
    for one in found:
        plain = one.plain()
        row = [plain[name] for name in FIELDS[:2]]
        row += [_harmless(str(plain[name])) for name in FIELDS[2:5]] + [plain["offset"]]
        for when in ("old", "new", "read"):
            spot = plain[when] or {}
            row += [spot.get(axis, "") for axis in "xyz"]
        rows.writerow([*row, *("yes" if said else "no" for said in (one.released, one.waived, one.accepted))])


def _harmless(text: str) -> str:
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
