"""The small grammar in which a profile says what a line looks like.

A pattern is literal text with typed fields: ``at {x:number}, {y:number}``. Matching goes once from left to
right and never tries anything twice, so no pattern, however hostile, can take longer than the line is long.

========  ======================================================================================
number    an optional sign, digits, at most one decimal point; at most `LONGEST_NUMBER` characters
whole     digits only
word      letters, digits, and ``_ . + -``; at least one character
rest      whatever is left of the line, perhaps nothing; only at the end of a pattern
========  ======================================================================================

A blank in a pattern stands for one or more blanks in the line, and for none at its end. ``{{`` and ``}}`` are
braces. A field called ``_`` is read and forgotten.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

Value = float | int | str
Fields = dict[str, Value]

LONGEST_PATTERN = 512
MOST_FIELDS = 40
LONGEST_NUMBER = 24
"""Characters of a pattern, its fields, and digits of a number, at the most. Our own choice."""

DIGITS = frozenset("0123456789")
WORDLY = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_.+-")
KINDS = ("number", "whole", "word", "rest")


class PatternError(ValueError):
    """A pattern that cannot be read; the message says where."""


@dataclass(frozen=True, slots=True)
class Field:
    """A typed field of a pattern."""

    name: str
    kind: str


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern ready to be matched."""

    source: str
    parts: tuple[str | Field, ...]

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields that the pattern yields, in order."""
        return tuple(part for part in self.parts if isinstance(part, Field) and part.name != "_")

    def match(self, text: str) -> Fields | None:
        """Return the fields of a line that looks like this pattern, or None."""
        at, found = 0, {}
        for part in self.parts:
            if isinstance(part, str):
                ended = _literal(part, text, at)
                if ended is None:
                    return None
                at = ended
                continue
            value, ended = read_field(part.kind, text, at)
            if value is None:
                return None
            at = ended
            if part.name != "_":
                found[part.name] = value
        return found if not text[at:].strip(" \t") else None


def compile_pattern(source: object, *, known: frozenset[str] | None = None) -> Pattern:
    """Return the pattern that `source` spells; raises `PatternError` that says what is wrong with it.

    With `known`, only fields of these names are allowed.
    """
    if not isinstance(source, str) or not 0 < len(source) <= LONGEST_PATTERN:
        raise PatternError(f"a pattern is a text of 1 to {LONGEST_PATTERN} characters")
    if not source.isascii() or not source.isprintable():
        raise PatternError(f"the pattern {source!r} may hold printable ASCII only")
    while "  " in source:
        source = source.replace("  ", " ")
    parts = tuple(_parts(source, known))
    fields = [part for part in parts if isinstance(part, Field)]
    if len(fields) > MOST_FIELDS:
        raise PatternError(f"the pattern {source!r} has more than {MOST_FIELDS} fields")
    names = [field.name for field in fields if field.name != "_"]
    for name in names:
        if names.count(name) > 1:
            raise PatternError(f"the pattern {source!r} has the field {name!r} twice")
    for before, after in pairwise(parts):
        if isinstance(before, Field) and isinstance(after, Field):
            raise PatternError(f"in {source!r} nothing stands between {before.name!r} and {after.name!r}")
        if isinstance(before, Field) and before.kind == "rest":
            raise PatternError(f"in {source!r} the field {before.name!r} takes the rest, so nothing may follow")
    return Pattern(source, parts)


def _parts(source: str, known: frozenset[str] | None) -> Iterator[str | Field]:
    literal, at = "", 0
    while at < len(source):
        char = source[at]
        if char in "{}" and source[at : at + 2] == char * 2:
            literal, at = literal + char, at + 2
        elif char == "{":
            end = source.find("}", at)
            if end < 0:
                raise PatternError(f"in {source!r} a brace is opened and never closed")
            if literal:
                yield literal
            literal = ""
            yield _field(source[at + 1 : end], source, known)
            at = end + 1
        elif char == "}":
            raise PatternError(f"in {source!r} a brace is closed that was never opened; write '}}}}' for a brace")
        else:
            literal, at = literal + char, at + 1
    if literal:
        yield literal


def _field(spelled: str, source: str, known: frozenset[str] | None) -> Field:
    name, colon, kind = spelled.partition(":")
    if not colon or kind not in KINDS:
        raise PatternError(f"in {source!r} the field {{{spelled}}} needs a kind: one of {', '.join(KINDS)}")
    if name != "_" and known is not None and name not in known:
        raise PatternError(f"in {source!r} the field {name!r} is unknown; known are {', '.join(sorted(known))}")
    return Field(name, kind)


def _literal(part: str, text: str, at: int) -> int | None:
    for char in part:
        if char == " ":
            skipped = at
            while skipped < len(text) and text[skipped] in " \t":
                skipped += 1
            if skipped == at and at < len(text):
                return None
            at = skipped
        elif at < len(text) and text[at] == char:
            at += 1
        else:
            return None
    return at


def read_field(kind: str, text: str, at: int) -> tuple[Value | None, int]:
    """Return the value of a field that begins at `at`, and where it ends; the value is None where there is none."""
    end = at
    if kind == "rest":
        return text[at:].strip(" \t"), len(text)
    if kind == "word":
        while end < len(text) and text[end] in WORDLY:
            end += 1
        return (text[at:end] or None), end
    if kind == "number" and end < len(text) and text[end] in "+-":
        end += 1
    point = kind == "whole"
    while end < len(text) and (text[end] in DIGITS or (text[end] == "." and not point)):
        point = point or text[end] == "."
        end += 1
    spelled = text[at:end]
    if len(spelled) > LONGEST_NUMBER or not any(char in DIGITS for char in spelled):
        return None, at
    return (int(spelled) if kind == "whole" else float(spelled)), end
