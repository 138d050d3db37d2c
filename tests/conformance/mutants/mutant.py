"""How a wrong adapter is put on the list, with the check that must catch it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import gingerly as g
from conformance.plain_subjects import MemoryAdapter
from tcp_adapter.adapter import PlainAdapter

Kind = type[MemoryAdapter]


@dataclass(frozen=True)
class Mutant:
    """A wrong adapter, and the name of the check that must catch it."""

    kind: Kind
    caught_by: str

    @property
    def label(self) -> str:
        return f"{self.kind.__name__}-{self.caught_by}"


MUTANTS: list[Mutant] = []


def caught_by(*checks: str) -> Callable[[Kind], Kind]:
    """Enter a mutant into the list, once for each check that must catch it."""

    def enter(kind: Kind) -> Kind:
        MUTANTS.extend(Mutant(kind, check) for check in checks)
        return kind

    return enter


def with_facts(**changes: Any) -> g.MachineFacts:
    """Return the example's facts with some of them changed."""
    return replace(PlainAdapter.facts, **changes)
