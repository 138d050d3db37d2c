"""Put a place into a job file: one line of it is changed, and nothing else.

The file is read again before it is replaced, so that it still says what it said, but for the place.
"""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path
from typing import Any

from gingerly.geometry import Position

_HEADER = re.compile(r"^\s*\[")
_PART = re.compile(r"^\s*\[\[\s*parts\s*\]\]")
_PLACE = re.compile(r'^(\s*)place(\s*)=(\s*)(?:"here"|\'here\'|\{[^}#]*\})(.*)$')
_HEIGHT = re.compile(r"^\s*height\s*=")


def as_toml(place: Position) -> str:
    """Return a place as a job file says it, rounded to a micrometre."""
    return f"{{ x = {place.x:.3f}, y = {place.y:.3f}, z = {place.z:.3f} }}"


def store(path: Path, part: str, place: Position) -> bool:
    """Write the place (mm) of the part of this name into the job file; return False, unchanged, where it cannot be.

    Its `height`, which belongs to a part that begins "here", becomes a comment.
    """
    text = path.read_text(encoding="utf-8")
    changed = with_place(text, part, place)
    if changed is None:
        return False
    fresh = path.with_name(f".{path.name}.new")
    fresh.write_text(changed, encoding="utf-8")
    os.replace(fresh, path)
    return True


def with_place(text: str, part: str, place: Position) -> str | None:
    """Return the text of a job with one part's place replaced, or None where its line cannot be told for sure."""
    wanted = tomllib.loads(text)
    index = _index(wanted, part)
    if index is None:
        return None
    wanted["parts"][index]["place"] = tomllib.loads(f"place = {as_toml(place)}")["place"]
    wanted["parts"][index].pop("height", None)
    lines = text.split("\n")
    begin, end = _section(lines, index)
    for number in range(begin, end):
        lines[number] = _changed(lines[number], place)
    changed = "\n".join(lines)
    try:
        return changed if tomllib.loads(changed) == wanted else None
    except tomllib.TOMLDecodeError:
        return None


def _index(data: dict[str, Any], part: str) -> int | None:
    names = [table.get("name") for table in data.get("parts", [])]
    return names.index(part) if part in names else None


def _section(lines: list[str], index: int) -> tuple[int, int]:
    """Return the first line of a part's own table, and the first behind it."""
    headers = [number for number, line in enumerate(lines) if _HEADER.match(line)]
    parts = [number for number in headers if _PART.match(lines[number])]
    if index >= len(parts):
        return 0, 0
    return parts[index] + 1, next((number for number in headers if number > parts[index]), len(lines))


def _changed(line: str, place: Position) -> str:
    if _HEIGHT.match(line):
        return f"# {line}"
    match = _PLACE.match(line)
    if match is None:
        return line
    indent, before, after, rest = match.groups()
    return f"{indent}place{before}={after}{as_toml(place)}{rest}"
