"""RS274/NGC lines, out of numbers and our own fixed words only.

Every line is one that the open report defines (NISTIR 6556; sections in brackets below): at most 256 characters
[3.3], numbers without an exponent [3.3.2.1], no word twice [3.3.5], no two words of one modal group [3.3.6]. No
text from anybody can get in: every value is a float or a small whole number before it is written.

The fixed modal state is: XY plane, millimetres, no radius compensation, no canned cycle, absolute distances,
feed in units a minute. Origin shift, tool length offset, rotation, override and spindle are never touched.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from gingerly.geometry import Axis, Position

LONGEST = 256
"""The longest line, in characters. Source: NISTIR 6556, 3.3."""

HIGHEST_LINE_NUMBER = 99_999
"""Source: NISTIR 6556, 3.3.1."""

LARGEST = 1_000_000.0
"""No coordinate in mm and no feed in mm/min is as large as this; a larger number is a slip. Our own choice."""

FEED_DECIMALS = 2
"""A hundredth of a millimetre a minute is finer than any controller keeps. Our own choice."""

MODAL_STATE = "G17 G21 G40 G80 G90 G94"
"""The fixed modal state: only words that neither move anything nor shift an origin."""

ABSOLUTE = "G90"
"""Back to absolute distances, after a relative sense."""

SYSTEMS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
"""The words that select work offsets 1–9 [3.5.13]."""


def number(value: float, decimals: int) -> str:
    """Return a number as the report writes it: plain decimals, no exponent, never a negative zero.

    Raises `TypeError` for what is no number, `ValueError` for one that is not finite or beyond any machine.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"only numbers can be written to a controller, not a {type(value).__name__}")
    if not math.isfinite(value) or abs(value) >= LARGEST:
        raise ValueError(f"{value!r} is no number that a controller can be given")
    text = f"{float(value):.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def system_word(offset: int) -> str:
    """Return the word that selects work offset `offset` (1–9); raises `ValueError` for another number."""
    return SYSTEMS[_offset_number(offset) - 1]


def system_number(word: str) -> int | None:
    """Return which work offset (1–9) a word or a plain number stands for, or None."""
    if word in SYSTEMS:
        return SYSTEMS.index(word) + 1
    return int(word) if word in tuple("123456789") else None


def traverse(to: Position, feed: float | None, *, decimals: int) -> str:
    """Return a straight move to `to` in machine coordinates (mm) at `feed` mm/min, or as fast as it goes.

    Source: 3.5.12, which allows G53 with G0 and G1 only.
    """
    words = _axis_words(dict(zip(Axis, to, strict=True)), decimals)
    if feed is None:
        return f"G90 G53 G0 {words}"
    return f"G90 G53 G1 {words} F{_feed(feed)}"


def sense_relative(way: Position, feed: float, *, decimals: int) -> str:
    """Return a straight probe by the displacement `way` (mm) at `feed` mm/min; leaves relative distances in force.

    Source: 3.5.9 and 3.5.17; a relative target needs no origin to be known, whatever shift is in force.
    """
    words = _axis_words(dict(zip(Axis, way, strict=True)), decimals)
    return f"G91 G38.2 {words} F{_feed(feed)}"


def sense_in_work(to: Position, feed: float, *, decimals: int) -> str:
    """Return a straight probe to `to`, given in the work system that is in force (mm), at `feed` mm/min."""
    words = _axis_words(dict(zip(Axis, to, strict=True)), decimals)
    return f"G90 G38.2 {words} F{_feed(feed)}"


def set_offset(offset: int, axes: Mapping[Axis, float], *, decimals: int) -> str:
    """Return the one line that sets the named axes of a work offset, in machine coordinates (mm).

    Source: 3.5.5; axes that are not named keep their values. Raises `ValueError` without any axis.
    """
    if not axes:
        raise ValueError("a work offset cannot be written without naming an axis")
    return f"G10 L2 P{_offset_number(offset)} {_axis_words(axes, decimals)}"


def numbered(line_number: int, line: str) -> str:
    """Return the line with its line number in front [3.3.1]; raises `ValueError` for a line that is too long."""
    if not 0 <= line_number <= HIGHEST_LINE_NUMBER:
        raise ValueError(f"line numbers run from 0 to {HIGHEST_LINE_NUMBER}, not to {line_number}")
    return checked(f"N{line_number} {line}")


def checked(line: str) -> str:
    """Return the line; raises `ValueError` where it is too long or holds anything but printable ASCII."""
    if len(line) > LONGEST or not line.isascii() or not line.isprintable():
        raise ValueError("a line for a controller is printable ASCII of at most 256 characters")
    return line


def _axis_words(axes: Mapping[Axis, float], decimals: int) -> str:
    return " ".join(f"{Axis(axis).name}{number(axes[axis], decimals)}" for axis in sorted(axes))


def _feed(feed: float) -> str:
    text = number(feed, FEED_DECIMALS)
    if feed <= 0.0 or text == "0":
        raise ValueError(f"a feed must be more than {10**-FEED_DECIMALS:g} mm/min, not {feed!r}")
    return text


def _offset_number(offset: int) -> int:
    if isinstance(offset, bool) or not isinstance(offset, int) or not 1 <= offset <= len(SYSTEMS):
        raise ValueError(f"work offsets are numbered from 1 to 9, not {offset!r}")
    return offset
