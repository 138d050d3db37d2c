"""From a path to plain TOML data, or to a `JobError` that says what is wrong with the file. Nothing is guessed."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from gingerly.job.problems import JobError, Problem, Problems

LARGEST = 4 * 1024 * 1024
"""No job file is larger than 4 MiB; ten thousand parts fit in half of that. Our own choice."""

MOST_POINTS = 100
"""No line of a job has more points outside comments. The parser's time grows with the square of a key's steps.
Our own choice."""

_WHERE = re.compile(r"\s*\((?:at line (\d+), column (\d+)|at end of document)\)\s*$")


def read_text(path: str | os.PathLike[str]) -> str:
    """Return the text of a job file; raises `JobError` where it cannot be read, is too large, or is not UTF-8."""
    name = os.fsdecode(path)
    try:
        data = _read_bytes(Path(path))
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise JobError(name, [_problem("", f"cannot be read: {reason}")]) from None
    if len(data) > LARGEST:
        raise JobError(name, [_problem("", f"is larger than {LARGEST // 2**20} MiB; a job file never is")])
    return decoded(data, name)


def _read_bytes(path: Path) -> bytes:
    if not stat.S_ISREG(path.stat().st_mode):
        raise ValueError("it is not a file (a job is a TOML file on disk)")
    with path.open("rb") as file:
        return file.read(LARGEST + 1)


def decoded(data: bytes, name: str) -> str:
    """Return UTF-8 text, without the mark that some editors put in front of it; raises `JobError` otherwise."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"byte {data[error.start]:#04x} is not UTF-8 text; save the file as UTF-8"
        raise JobError(name, [_problem(f"line {line}", what)]) from None


def parsed(text: str, name: str) -> dict[str, Any]:
    """Return TOML text as plain data; raises `JobError` with line and column where it is not TOML."""
    for number, line in enumerate(text.split("\n"), 1):
        if line.count(".") > MOST_POINTS and line.partition("#")[0].count(".") > MOST_POINTS:
            raise JobError(
                name, [_problem(f"line {number}", f"has more than {MOST_POINTS} points; no key needs that")]
            )
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        where, what = _located(str(error))
        raise JobError(name, [_problem(where, f"not TOML: {what}")]) from None
    except RecursionError:
        raise JobError(
            name, [_problem("", "is nested too deeply; a job needs no more than a few levels")]
        ) from None
    except ValueError:  # Python refuses to read whole numbers of thousands of digits
        raise JobError(name, [_problem("", "not TOML: a whole number has thousands of digits")]) from None


def _located(message: str) -> tuple[str, str]:
    match = _WHERE.search(message)
    if match is None:
        return "", message
    what = message[: match.start()]
    where = f"line {match[1]}, column {match[2]}" if match[1] else "end of the file"
    return where, what[:1].lower() + what[1:]


def _problem(where: str, what: str) -> Problem:
    problems = Problems()
    problems.add(where, what)
    return problems.found[0]
