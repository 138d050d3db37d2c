"""Reading one line of RS274/NGC, for the practice controller only (NISTIR 6556, 3.3).

Written from the report, and from nothing else in this project.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

C = TypeVar("C", str, int)

GROUPS: dict[str, tuple[str, ...]] = {
    "motion": ("0", "1", "2", "3", "38.2", "80", "81", "82", "83", "84", "85", "86", "87", "88", "89"),
    "plane": ("17", "18", "19"),
    "distance": ("90", "91"),
    "feed mode": ("93", "94"),
    "units": ("20", "21"),
    "radius": ("40", "41", "42"),
    "length": ("43", "49"),
    "return": ("98", "99"),
    "system": ("54", "55", "56", "57", "58", "59", "59.1", "59.2", "59.3"),
    "path": ("61", "61.1", "64"),
    "other": ("4", "10", "28", "30", "53", "92", "92.1", "92.2", "92.3"),
}
"""The modal groups of G words. Source: NISTIR 6556, Table 4."""

M_GROUPS: dict[str, tuple[int, ...]] = {
    "stop": (0, 1, 2, 30, 60),
    "tool": (6,),
    "spindle": (3, 4, 5),
    "coolant": (7, 8, 9),
    "overrides": (48, 49),
}
"""The modal groups of M words. Source: NISTIR 6556, Table 4."""

LETTERS = "ABCDFGHIJKLMNPQRSTXYZ"
MOST_CHARACTERS = 256
"""The longest line. Source: NISTIR 6556, 3.3."""


class BadBlock(Exception):
    """A line that the report does not allow; `code` is the practice controller's own."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


@dataclass(slots=True)
class Block:
    """One line: its line number, G words by modal group, M words by group, and the other words."""

    number: int | None = None
    g: dict[str, str] = field(default_factory=dict)
    m: dict[str, int] = field(default_factory=dict)
    words: dict[str, float] = field(default_factory=dict)

    @property
    def axes(self) -> dict[str, float]:
        """The X, Y and Z words."""
        return {letter: self.words[letter] for letter in "XYZ" if letter in self.words}


def read_block(line: str) -> Block:
    """Return what a line says; raises `BadBlock`."""
    if len(line) > MOST_CHARACTERS:
        raise BadBlock("long", f"more than {MOST_CHARACTERS} characters")
    text = _without_comments(line).replace(" ", "").replace("\t", "").upper()
    text = text.removeprefix("/")
    block, at = Block(), 0
    while at < len(text):
        letter = text[at]
        if letter not in LETTERS:
            raise BadBlock("letter", f"no word begins with {letter!r}")
        spelled, at = _spelled(text, at + 1)
        if letter == "N":
            _take_line_number(block, spelled, first=at == len(spelled) + 1)
        else:
            _take_word(block, letter, spelled)
    return block


def _without_comments(line: str) -> str:
    kept, inside = [], False
    for char in line:
        if char == "(":
            if inside:
                raise BadBlock("comment", "a comment inside a comment")
            inside = True
        elif char == ")" and inside:
            inside = False
        elif not inside:
            kept.append(char)
    if inside:
        raise BadBlock("comment", "a comment without an end")
    return "".join(kept)


def _spelled(text: str, at: int) -> tuple[str, int]:
    end = at
    if end < len(text) and text[end] in "+-":
        end += 1
    while end < len(text) and text[end] in "0123456789.":
        end += 1
    spelled = text[at:end]
    digits = spelled.lstrip("+-")
    if not digits or digits == "." or digits.count(".") > 1:
        raise BadBlock("number", f"{spelled or 'nothing'!r} is no number")
    return spelled, end


def _take_line_number(block: Block, spelled: str, *, first: bool) -> None:
    if not first or not spelled.isdigit() or len(spelled) > 5:
        raise BadBlock("number", f"{spelled!r} is no line number")
    block.number = int(spelled)


def _take_word(block: Block, letter: str, spelled: str) -> None:
    value = float(spelled)
    if letter == "G":
        _take_grouped(block.g, GROUPS, letter, f"{value:g}")
    elif letter == "M":
        if not value.is_integer():
            raise BadBlock("unknown", f"M{spelled} is not in the report")
        _take_grouped(block.m, M_GROUPS, letter, int(value))
    elif letter in block.words:
        raise BadBlock("twice", f"the letter {letter} stands there twice")
    else:
        block.words[letter] = value


def _take_grouped(taken: dict[str, C], groups: Mapping[str, Collection[C]], letter: str, code: C) -> None:
    """Take a word of a modal group, of which a line may hold one."""
    group = next((name for name, codes in groups.items() if code in codes), None)
    if group is None:
        raise BadBlock("unknown", f"{letter}{code} is not in the report")
    if group in taken:
        raise BadBlock("group", f"{letter}{taken[group]} and {letter}{code} belong to one modal group")
    taken[group] = code
