"""Lengths and feeds as people write them, turned into millimetres and mm/min.

Accepted: a bare number (mm, or mm/min for a feed), ``"6 mm"``, ``"0.25in"``, ``"1/4 in"``, ``"1 1/2 in"``,
``"300 mm/min"``, ``"12 in/min"``, ``"5 mm/s"``. Nothing else is guessed at: a fraction without a unit is
refused, since ``"1/4"`` is most often an inch size. An inch is 25.4 mm exactly (international inch, 1959).
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from numbers import Real

INCH = 25.4
"""Millimetres in an inch, exactly. Source: the international agreement on yard and pound of 1959, from memory."""

LENGTH_LIMIT = 100_000.0
"""No length on a milling machine comes near a hundred metres; a larger number is a slip. Our own choice."""

FEED_LIMIT = 1_000_000.0
"""No feed comes near a kilometre a minute; a larger number is a slip. Our own choice."""

TEXT_LIMIT = 64
"""No quantity needs more characters than this, and no message quotes more of what it was given. Our own choice."""

_LENGTHS = {"mm": 1.0, "in": INCH}
_FEEDS = {"mm/min": 1.0, "in/min": INCH, "mm/s": 60.0}

_QUANTITY = re.compile(
    r"(?P<sign>[+-]?)\s*"
    r"(?:(?P<whole>\d{1,9})\s+(?=\d+\s*/))?"
    r"(?:(?P<over>\d{1,9})\s*/\s*(?P<under>\d{1,9})|(?P<decimal>\d{1,12}(?:\.\d{0,12})?|\.\d{1,12}))"
    r"\s*(?P<unit>[A-Za-z]+(?:/[A-Za-z]+)?)?",
    re.ASCII,
)


def length(value: object, *, name: str = "length") -> float:
    """Return a length in mm; `name` says in messages what it is.

    Raises `ValueError` for text that is no length, and for numbers that are not finite or beyond any machine.
    """
    return _quantity(value, name=name, units=_LENGTHS, limit=LENGTH_LIMIT, examples='6, "6 mm" or "1/4 in"')


def positive_length(value: object, *, name: str = "length") -> float:
    """Return a length in mm that is greater than nothing; raises `ValueError` otherwise."""
    found = length(value, name=name)
    if found <= 0.0:
        raise ValueError(f"{name} must be greater than 0 mm, not {found:g}")
    return found


def feed(value: object, *, name: str = "feed") -> float:
    """Return a feed in mm/min that is greater than nothing; raises `ValueError` otherwise."""
    found = _quantity(value, name=name, units=_FEEDS, limit=FEED_LIMIT, examples='300, "300 mm/min" or "12 in/min"')
    if found <= 0.0:
        raise ValueError(f"{name} must be greater than 0 mm/min, not {found:g}")
    return found


def number(value: object, *, name: str) -> float:
    """Return a finite number that bears no unit people would write: a share, a density, an angle in radians.

    Raises `ValueError` for text, and for numbers that are not finite.
    """
    if not _is_number(value):
        raise ValueError(f"{name} must be a plain number such as 0.5, not {shown(value)}")
    found = _real(value)
    if not math.isfinite(found):
        raise ValueError(f"{name} must be a finite number such as 0.5, not {shown(value)}")
    return found


def shown(value: object) -> str:
    """Return what a message may quote of `value`: one short line, whatever it is given.

    Text and numbers are quoted, at most `TEXT_LIMIT` characters of them; of anything else only the kind is
    named, since what is inside may be long, or secret, or fail to print.
    """
    if value is None or isinstance(value, bool):
        return str(value)
    if isinstance(value, str):
        return repr(value) if len(value) <= TEXT_LIMIT else f"{value[:TEXT_LIMIT]!r}… ({len(value)} characters)"
    if isinstance(value, float):
        return f"{float(value):g}"
    if isinstance(value, int):
        digits = int(abs(value).bit_length() * math.log10(2.0)) + 1
        return str(int(value)) if digits <= TEXT_LIMIT else f"a whole number of about {digits} digits"
    return f"a value of type {type(value).__name__[:TEXT_LIMIT]}"


def _quantity(value: object, *, name: str, units: dict[str, float], limit: float, examples: str) -> float:
    if isinstance(value, str):
        found = _parse(value, name=name, units=units, examples=examples)
    elif _is_number(value):
        found = _real(value)
    else:
        raise ValueError(f"{name} must be a number or a text such as {examples}, not {shown(value)}")
    if not math.isfinite(found):
        raise ValueError(f"{name} must be a finite number such as {examples}, not {shown(value)}")
    if abs(found) > limit:
        raise ValueError(f"{name} is {found:g}, far beyond any machine; write a value such as {examples}")
    return found


def _is_number(value: object) -> bool:
    if type(value) is float:  # most are, and to ask the abstract class takes thirty times as long
        return True
    # True and False are whole numbers to Python; in a job file they are slips.
    return isinstance(value, Real | Decimal) and not isinstance(value, bool)


def _real(value: object) -> float:
    try:
        return float(value)  # type: ignore[arg-type]  # only called for what `_is_number` lets pass
    except OverflowError:
        return math.inf
    except ValueError:  # a decimal that signals that it is no number
        return math.nan


def _parse(text: str, *, name: str, units: dict[str, float], examples: str) -> float:
    match = _QUANTITY.fullmatch(text.strip()) if len(text) <= TEXT_LIMIT else None
    if match is None:
        comma = "; the decimal sign is a point" if "," in text else ""
        raise ValueError(f"{name} {shown(text)} is not a quantity{comma}; write a value such as {examples}")
    unit = match["unit"]
    if unit is None and match["under"] is not None:
        raise ValueError(f"{name} {shown(text)} is a fraction of what? Write its unit, as in {examples}")
    if unit is not None and unit not in units:
        known = ", ".join(units)
        raise ValueError(f"{name} {shown(text)} has the unit {unit!r}; known are {known}, as in {examples}")
    if match["under"] is not None and int(match["under"]) == 0:
        raise ValueError(f"{name} {shown(text)} divides by zero; write a value such as {examples}")
    factor = units[unit] if unit is not None else 1.0
    return float(_exact(match) * Fraction(str(factor)))


def _exact(match: re.Match[str]) -> Fraction:
    """Return the number in a match, without rounding, so that 1/3 in is rounded once only."""
    if match["under"] is not None:
        found = Fraction(match["whole"] or 0) + Fraction(int(match["over"]), int(match["under"]))
    else:
        found = Fraction(match["decimal"].rstrip("."))
    return -found if match["sign"] == "-" else found
