"""What is data cannot be changed, nor be given what it has no place for; the few that change are known by name."""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import is_dataclass
from functools import cache

import gingerly

CHANGE = {
    "batch.resume.Remainder",
    "batch.standing.PartStanding",
    "batch.standing.Standing",
    "batch.standing.Write",
    "cli.jogging.JogScreen",
    "conformance.interrupt.Ended",
    "conformance.report.Report",
    "cycle.session.Session",
    "explore.explorer.Findings",
    "explore.explorer._Fork",
    "explore.features.Seated",
    "explore.features.TwoSided",
    "explore.invariants.Monitor",
    "explore.paper.Paper",
    "journal.recorder.Heading",
}
"""Gathered bit by bit, or, as the session of a run, changed by it alone."""

KEEP = {"driver.result.Result"}
"""Works its budgets out once, when they are asked for, and keeps them."""


@cache
def kinds() -> dict[str, type]:
    """All dataclasses of the library, by name."""
    found = {}
    for module in pkgutil.walk_packages(gingerly.__path__, "gingerly."):
        if not module.name.endswith("__main__"):
            for thing in vars(importlib.import_module(module.name)).values():
                if isinstance(thing, type) and is_dataclass(thing) and thing.__module__ == module.name:
                    found[f"{module.name}.{thing.__name__}".removeprefix("gingerly.")] = thing
    return found


def test_all_data_but_what_is_listed_is_frozen() -> None:
    assert {name for name, kind in kinds().items() if not kind.__dataclass_params__.frozen} == CHANGE  # type: ignore[attr-defined]


def test_all_data_but_what_is_listed_has_a_place_for_what_it_holds_and_for_nothing_else() -> None:
    assert {name for name, kind in kinds().items() if "__slots__" not in vars(kind)} == KEEP
