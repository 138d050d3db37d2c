"""Lengths and feeds as people write them, turned into millimetres and mm/min.

Accepted: a bare number (mm, or mm/min for a feed), ``"6 mm"``, ``"0.25in"``, ``"1/4 in"``, ``"1 1/2 in"``,
``"300 mm/min"``, ``"12 in/min"``, ``"5 mm/s"``. Nothing else is guessed at. An inch is 25.4 mm exactly
(international inch, 1959).
"""

from __future__ import annotations

import math
import re
from fractions import Fraction

INCH = 25.4

LENGTH_LIMIT = 100_000.0
"""No length on a milling machine comes near a hundred metres; a larger number is a slip."""

FEED_LIMIT = 1_000_000.0
"""No feed comes near a kilometre a minute; a larger number is a slip."""

_LENGTHS = {"mm": 1.0, "in": INCH}
_FEEDS = {"mm/min": 1.0, "in/min": INCH, "mm/s": 60.0}

_QUANTITY = re.compile(
    r"(?P<sign>[+-]?)\s*"
    r"(?:(?P<whole>\d{1,9})\s+(?=\d+\s*/))?"
    r"(?:(?P<over>\d{1,9})\s*/\s*(?P<under>\d{1,9})|(?P<decimal>\d{1,12}(?:\.\d{0,12})?|\.\d{1,12}))"
    r"\s*(?P<unit>[a-z]+(?:/[a-z]+)?)?",
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


def _quantity(value: object, *, name: str, units: dict[str, float], limit: float, examples: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(f"{name} must be a number or a text such as {examples}, not {value!r}")
    number = _parse(value, name=name, units=units, examples=examples) if isinstance(value, str) else _real(value)
    if not math.isfinite(number):
        raise ValueError(f"{name} must be a finite number, not {value!r}")
    if abs(number) > limit:
        raise ValueError(f"{name} is {number:g}, far beyond any machine; write a value such as {examples}")
    return number


def _real(value: float) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _parse(text: str, *, name: str, units: dict[str, float], examples: str) -> float:
    match = _QUANTITY.fullmatch(text.strip()) if len(text) <= 64 else None
    if match is None:
        raise ValueError(f"{name} {text[:64]!r} is not a quantity; write a value such as {examples}")
    unit = match["unit"] or next(iter(units))
    if unit not in units:
        known = ", ".join(units)
        raise ValueError(f"{name} {text!r} has the unit {unit!r}; known are {known}, as in {examples}")
    if match["under"] is not None:
        if int(match["under"]) == 0:
            raise ValueError(f"{name} {text!r} divides by zero; write a value such as {examples}")
        number = Fraction(match["whole"] or 0) + Fraction(int(match["over"]), int(match["under"]))
    else:
        number = Fraction(match["decimal"].rstrip(".") or 0)
    signed = -number if match["sign"] == "-" else number
    return float(signed * Fraction(str(units[unit])))
