"""What is wrong with a job file, so that a person can mend it: where, what stands there, what would be right."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass

SHOWN = 50
"""No message lists more problems than this. Our own choice."""

LONGEST = 400
"""No sentence of a problem has more characters than this, whatever it quotes. Our own choice."""


_SUBJECT = re.compile(r"(?:tool|plate|stock|bolt) (\w+)")


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: `where` is the key's full path, or the line and column; `what` one sentence."""

    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}" if self.where else self.what


class JobError(ValueError):
    """A job file that cannot be used. `path` is the file, `problems` everything found wrong in it, in order."""

    def __init__(self, path: str, problems: Iterable[Problem]) -> None:
        self.path = printable(path)
        self.problems = tuple(problems)
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """Return one line per problem, each beginning with the file; at most `SHOWN` of them."""
        lines = [f"{self.path}: {problem}" for problem in self.problems[:SHOWN]]
        left = len(self.problems) - SHOWN
        return [*lines, f"{self.path}: and {left} more of the kind"] if left > 0 else lines


class Problems:
    """Collects what is found wrong, so that every part of a file is looked at before anything is said."""

    def __init__(self) -> None:
        self.found: list[Problem] = []

    def add(self, where: str, what: object) -> None:
        """Note one problem; whatever it quotes is made printable and kept short."""
        text = printable(str(what))
        if len(text) > LONGEST:
            text = f"{text[:LONGEST]}…"
        self.found.append(Problem(where, text))

    def blame(self, path: str, table: object, error: ValueError) -> None:
        """Note why nothing could be made of the table at `path`, at the very key where the error names one."""
        subject = _SUBJECT.search(str(error))
        key = subject[1] if subject and hasattr(table, subject[1]) else None
        self.add(below(path, key) if key else path, error)

    def __len__(self) -> int:
        return len(self.found)


def printable(text: str) -> str:
    """Return `text` with all that does not print written out, so that it cannot play with a terminal."""
    return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text)


def below(path: str, key: str) -> str:
    """Return the path of `key` inside the table at `path`, written as TOML writes it."""
    bare = key.isascii() and key.replace("-", "a").replace("_", "a").isalnum()
    short = key if len(key) <= 60 else f"{key[:60]}…"
    step = short if bare else printable(json.dumps(short, ensure_ascii=False))
    return f"{path}.{step}" if path else step


def item(path: str, index: int) -> str:
    """Return the path of the item `index`, counted from 0, of the list at `path`."""
    return f"{path}[{index}]"


def nearest(word: str, known: Iterable[str]) -> str:
    """Return ``; did you mean …?`` for the known spelling nearest to `word`, or nothing where none is near."""
    # How alike is alike enough: our own choice.
    choices = {str(choice).lower(): str(choice) for choice in known}
    short = str(word)[:60].lower()
    near = [choice for choice in choices if len(short) >= 4 and short in choice][:1]
    near = near or difflib.get_close_matches(short, choices, n=1, cutoff=0.55)
    return f"; did you mean {choices[near[0]]!r}?" if near else ""
