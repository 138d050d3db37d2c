"""The table of results, within 80 columns; in colours on a terminal, by `rich`, which is loaded only then."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from typing import TextIO

from gingerly.report import Row

HEADINGS = ("part", "work", "axis", "before", "found", "±", "truth", "error", "touch", "time")
UNITS = ("", "no.", "", "mm", "mm", "µm", "mm", "µm", "", "min:s")
NAME_WIDTH = 16
"""Columns of a part's name. Our own choice."""

FITS = 80
"""Columns of a narrow terminal; a table that is wider closes its gaps: common practice, no source."""


def on_terminal(stream: TextIO) -> bool:
    """Return whether `stream` is a terminal that can be drawn on."""
    return stream.isatty() and os.environ.get("TERM", "") != "dumb"


def cells(row: Row) -> tuple[str, ...]:
    """Return one row as texts, in the order of `HEADINGS`."""
    return (
        _short(row.part),
        "" if row.offset is None else str(row.offset),
        row.axis,
        _mm(row.before),
        _mm(row.found),
        "" if row.stated_um is None else str(math.ceil(row.stated_um)),
        _mm(row.truth),
        "" if row.error_um is None else f"{round(row.error_um):+d}".replace("+0", "0"),
        "" if row.touches is None else str(row.touches),
        clock(row.time_s),
    )


def clock(seconds: float | None) -> str:
    """Return seconds as minutes and seconds, or nothing."""
    if seconds is None:
        return ""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _mm(value: float | None) -> str:
    return "" if value is None else f"{value:.3f}"


def _short(name: str) -> str:
    return name if len(name) <= NAME_WIDTH else f"{name[: NAME_WIDTH - 1]}…"


def plain(rows: Sequence[Row]) -> list[str]:
    """Return the table as lines without any drawing."""
    body = [cells(row) for row in rows]
    widths = [max(len(line[column]) for line in (HEADINGS, UNITS, *body)) for column in range(len(HEADINGS))]
    gap = "  " if sum(widths) + 2 * len(widths) - 2 <= FITS else " "
    rule = tuple("-" * width for width in widths)
    lines = [_line(texts, widths, gap) for texts in (HEADINGS, UNITS, rule)]
    for row, texts in zip(rows, body, strict=True):
        line = _line(texts, widths, gap)
        if row.remark:
            start = sum(widths[:2]) + 2 * len(gap)
            line = f"{line[:start].ljust(start)}{row.remark}{line[start + len(row.remark) :]}"
        lines.append(line)
    return lines


def _line(texts: Sequence[str], widths: Sequence[int], gap: str) -> str:
    padded = [
        text.ljust(width) if column in (0, 2) else text.rjust(width)
        for column, (text, width) in enumerate(zip(texts, widths, strict=True))
    ]
    return gap.join(padded).rstrip()


def draw(rows: Sequence[Row], stream: TextIO) -> None:
    """Write the table to `stream`, in colours where that is a terminal that wants them."""
    lines = plain(rows)
    if not on_terminal(stream):
        stream.write("\n".join(lines) + "\n")
        return
    from rich.console import Console
    from rich.text import Text

    console = Console(file=stream, highlight=False)
    for row, line in zip((None, None, None, *rows), lines, strict=True):
        text = Text(line, no_wrap=True, overflow="crop", style="dim" if row is None else "")
        if row is not None:
            text.stylize("bold", 0, len(_short(row.part)))
            if row.remark:
                text.highlight_words([row.remark], "bold red" if row.wrong else "dim")
            found = _mm(row.found)
            if found:  # nothing would be found at every letter
                text.highlight_words([found], "green")
        console.print(text, soft_wrap=True)
