"""Speaking a wire profile: from what is meant to the lines that say it.

Reads the profile's TOML by itself, so that a mistake of the adapter's reading is not repeated here.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

MM_DECIMALS = 4
INCH_DECIMALS = 5
"""Decimals of the lengths that are told. Our own choice."""

LENGTH_FIELDS = ["x", "y", "z", "origin_x", "origin_y", "origin_z", "shift_x", "shift_y", "shift_z", "tool_length"]


class Speaker:
    """Turns meanings into lines of one profile, given as the plain table of its TOML file."""

    def __init__(self, table: Mapping[str, Any]) -> None:
        self.table = table
        self.words: Mapping[str, Any] = table.get("words", {})
        self.flags: Mapping[str, str] = table.get("flags", {})
        self.ending = {"lf": "\n", "cr": "\r", "crlf": "\r\n"}[table.get("line", {}).get("ending", "lf")]

    def knows(self, means: str) -> bool:
        """Return whether the profile has any way to say this."""
        return any(form["means"] == means for form in self.table["reply"])

    def word(self, name: str, meaning: str) -> str:
        """Return the first word that the profile has for a meaning; the meaning itself where it has none."""
        spelled = self.words.get(name, {}).get(meaning, [])
        return str(spelled[0]) if spelled else meaning

    def say(self, means: str, fields: Mapping[str, Any]) -> list[str]:
        """Return the lines that say this, in order; none where the profile has no way to say it."""
        forms = [form for form in self.table["reply"] if form["means"] == means]
        if means not in ("state", "offset"):
            forms = forms[:1]
        lines = [self._line(form, fields) for form in forms]
        if forms and forms[-1].get("more"):
            lines += [self._line(form, {}) for form in self.table["reply"] if form["means"] == "end"][:1]
        return lines

    def _line(self, form: Mapping[str, Any], fields: Mapping[str, Any]) -> str:
        if "text" in form:
            return self._fill(form["text"], fields)
        if "pieces" in form:
            pieces = [piece for piece in form["pieces"] if form.get("ordered") or _sayable(piece, fields)]
            inner = form["between"].join(self._fill(piece, fields) for piece in pieces)
            return f"{form.get('start', '')}{inner}{form.get('end', '')}"
        tree: dict[str, Any] = {}
        for path, value in form["json"].items():
            _plant(tree, path.split("/"), value)
        for name, path in form.get("fields", {}).items():
            if fields.get(name) is not None:
                _plant(tree, path.split("/"), self._value(name, fields[name]))
        return json.dumps(_listed(tree))

    def _fill(self, pattern: str, fields: Mapping[str, Any]) -> str:
        text, at = "", 0
        while at < len(pattern):
            if pattern[at : at + 2] in ("{{", "}}"):
                text, at = text + pattern[at], at + 2
            elif pattern[at] == "{":
                end = pattern.index("}", at)
                name, _, kind = pattern[at + 1 : end].partition(":")
                text += self._spell(name, kind, fields.get(name))
                at = end + 1
            else:
                text, at = text + pattern[at], at + 1
        return text

    def _spell(self, name: str, kind: str, value: Any) -> str:
        if value is None:
            return {"number": "0", "whole": "0", "word": "none", "rest": ""}[kind]
        if isinstance(value, float):
            spelled = f"{value:.{INCH_DECIMALS if kind == 'number' and name in LENGTH_FIELDS else MM_DECIMALS}f}"
            return spelled if kind == "number" else str(value)
        return str(value)

    def _value(self, name: str, value: Any) -> Any:
        if isinstance(value, float):
            return round(value, INCH_DECIMALS)
        if value in ("true", "false"):
            return value == "true"
        return value


def _sayable(piece: str, fields: Mapping[str, Any]) -> bool:
    return all(part.partition(":")[0] in fields for part in _names(piece))


def _names(piece: str) -> list[str]:
    return [part.partition("}")[0] for part in piece.replace("{{", "").split("{")[1:]]


def _plant(tree: dict[str, Any], path: list[str], value: Any) -> None:
    for step in path[:-1]:
        tree = tree.setdefault(step, {})
    tree[path[-1]] = value


def _listed(tree: Any) -> Any:
    """Return the tree with every table whose keys are 0, 1, 2 … turned into a list."""
    if not isinstance(tree, dict):
        return tree
    made = {key: _listed(value) for key, value in tree.items()}
    if made and sorted(made) == [str(at) for at in range(len(made))]:
        return [made[str(at)] for at in range(len(made))]
    return made
