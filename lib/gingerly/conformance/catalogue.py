"""The ordered list of all checks, and how a check says that something is wrong.

A check is a plain asynchronous function of a `Case`. Its docstring has three parts: the rule it holds the adapter
to, in one sentence; after ``Does:`` what it does; after ``Why:`` why that matters at a machine. Failures print
all three.
"""

from __future__ import annotations

import inspect
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gingerly.conformance.case import Case

Body = Callable[["Case"], Awaitable[None]]

TOPICS = ("facts", "door", "look", "offsets", "traverse", "stop", "sense", "cancel", "trouble", "sharing")
"""Groups of checks, in the order in which an adapter is best written: each needs the methods of those before."""


class Failure(AssertionError):
    """The adapter broke a rule; the text says what it did."""


class NotApplicable(Exception):
    """The rule does not concern this adapter, because of what its facts or its nature say; the text says why."""


class NotExercised(Exception):
    """The subject gave no way to provoke what the rule is about; the text says what was missing."""


@dataclass(frozen=True, slots=True)
class Check:
    """One rule, and the function that holds an adapter to it."""

    name: str
    topic: str
    rule: str
    does: str
    why: str
    body: Body
    moves: bool
    opens: bool

    def explain(self, did: str) -> str:
        """Return advice for an author whose adapter did what `did` says."""
        return (
            f"{self.name}\n"
            f"  the adapter:  {did}\n"
            f"  the contract: {self.rule}\n"
            f"  why:          {self.why}\n"
            f"  this check:   {self.does}"
        )


CATALOGUE: dict[str, Check] = {}
"""All checks by name, in the order in which they were written down."""


def check(topic: str, *, moves: bool = True, opens: bool = True) -> Callable[[Body], Body]:
    """Return a decorator that enters a check into the catalogue.

    A check that `moves` begins at the safe point; one that does not `open` gets an adapter that was never opened.
    """

    def enter(body: Body) -> Body:
        name = getattr(body, "__name__", "")
        rule, does, why = _parts(inspect.getdoc(body) or "", name)
        if topic not in TOPICS or name in CATALOGUE:
            raise ValueError(f"the check {name!r} has an unknown topic or a name that is taken")
        CATALOGUE[name] = Check(name, topic, rule, does, why, body, moves and opens, opens)
        return body

    return enter


def _parts(text: str, name: str) -> tuple[str, str, str]:
    rule, found, rest = text.partition("\n\nDoes: ")
    does, found_too, why = rest.partition("\nWhy: ")
    if not (found and found_too and rule and does and why):
        raise ValueError(f"the check {name!r} must say its rule, what it does, and why")
    return " ".join(rule.split()), " ".join(does.split()), " ".join(why.split())
