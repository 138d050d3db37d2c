"""Lines into replies: what one line from the controller means, by the profile. Pure; nothing here can hang.

A line that no form of a reply fits means nothing and is None; it is never guessed at.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any

from gingerly_serial.grammar import DIGITS, LONGEST_NUMBER, Fields, Pattern, Value, compile_pattern, read_field
from gingerly_serial.profile import FIELDS, NUMBERS, WHOLES, Form, Profile

MOST_PARTS = 64
"""A line cut into more parts than this is nothing that a controller says. Our own choice."""

LIMIT = 1e9
"""A number beyond this is no position, feed or speed. Our own choice."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One line understood: what it means, its fields, which form of reply it had, and whether more lines follow."""

    means: str
    fields: Fields
    form: int = 0
    more: bool = False


class Ear:
    """Understands the lines of one profile."""

    def __init__(self, profile: Profile) -> None:
        self._forms = [_compiled(at, form) for at, form in enumerate(profile.reply)]
        self._absent = _checked(dict(profile.state.absent)) or dict(profile.state.absent)

    def understand(self, line: bytes) -> Heard | None:
        """Return what a line means, or None where it means nothing."""
        try:
            text = line.decode("ascii").strip(" \t")
        except UnicodeDecodeError:
            return None
        parsed: list[Any] = []
        for form in self._forms:
            raw = form.match(text, parsed)
            fields = None if raw is None else _checked(raw)
            if fields is not None:
                if form.form.means == "state" and not form.form.more:
                    fields = {**self._absent, **fields}
                return Heard(form.form.means, fields, form.at, form.form.more)
        return None


@dataclass(frozen=True, slots=True)
class _Compiled:
    at: int
    form: Form
    patterns: tuple[Pattern, ...]

    def match(self, text: str, parsed: list[Any]) -> Fields | None:
        form = self.form
        if form.text is not None:
            return self.patterns[0].match(text)
        if form.json is not None:
            if not parsed:
                parsed.append(_json(text))
            return _json_fields(form, parsed[0])
        if not (text.startswith(form.start) and text.endswith(form.end)):
            return None
        if len(text) < len(form.start) + len(form.end):
            return None
        inner = text[len(form.start) : len(text) - len(form.end)]
        parts = inner.split(form.between, MOST_PARTS)
        if len(parts) > MOST_PARTS:
            return None
        return self._ordered(parts) if form.ordered else self._unordered(parts)

    def _ordered(self, parts: list[str]) -> Fields | None:
        if len(parts) != len(self.patterns):
            return None
        found: Fields = {}
        for part, pattern in zip(parts, self.patterns, strict=True):
            fields = pattern.match(part.strip(" \t"))
            if fields is None:
                return None
            found |= fields
        return found

    def _unordered(self, parts: list[str]) -> Fields | None:
        found: Fields = {}
        for part in parts:
            for pattern in self.patterns:
                fields = pattern.match(part.strip(" \t"))
                if fields is not None:
                    found |= fields
                    break
        return found or None


def _compiled(at: int, form: Form) -> _Compiled:
    sources = [form.text] if form.text is not None else form.pieces or []
    return _Compiled(at, form, tuple(compile_pattern(source, known=FIELDS) for source in sources))


def _checked(fields: Fields) -> Fields | None:
    """Return the fields with each of its own kind, or None where one is not what it must be."""
    found: Fields = {}
    for name, value in fields.items():
        kept = _as_number(value) if name in NUMBERS else _as_whole(value) if name in WHOLES else _as_word(value)
        if kept is None:
            return None
        found[name] = kept
    return found


def _as_number(value: Value) -> float | None:
    if isinstance(value, str):
        read, ended = read_field("number", value, 0)
        if read is None or ended != len(value):
            return None
        value = read
    number = float(value)
    return number if math.isfinite(number) and abs(number) < LIMIT else None


def _as_whole(value: Value) -> int | None:
    if isinstance(value, str):
        if not value or len(value) > LONGEST_NUMBER or not all(char in DIGITS for char in value):
            return None
        value = int(value)
    if isinstance(value, float):
        if not value.is_integer():
            return None
        value = int(value)
    return value if 0 <= value < LIMIT else None


def _as_word(value: Value) -> str:
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value)


# ---- JSON lines -------------------------------------------------------------------------------------------


def _json(text: str) -> Any:
    if not text.startswith("{"):
        return None
    try:
        return json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        return None


def _no_constant(spelled: str) -> float:
    raise ValueError(f"{spelled} is no JSON")


def _json_fields(form: Form, found: Any) -> Fields | None:
    if not isinstance(found, dict):
        return None
    for path, wanted in (form.json or {}).items():
        if _plain(_at(found, path)) != _plain(wanted):
            return None
    fields: Fields = {}
    for name, path in form.fields.items():
        value = _plain(_at(found, path))
        if value is not None:
            fields[name] = value
        elif name in ("x", "y", "z"):
            return None
    return fields


def _at(found: Any, path: str) -> Any:
    for step in path.split("/"):
        if isinstance(found, dict):
            found = found.get(step)
        elif isinstance(found, list) and step.isascii() and step.isdigit() and int(step) < len(found):
            found = found[int(step)]
        else:
            return None
    return found


def _plain(value: Any) -> Value | None:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        # A whole number of a thousand digits has no place here, and cannot become a float.
        return value if abs(value) < LIMIT else None
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, str | float) else None
