"""Everything that a routine, a tool, a plate or a machine's facts can be told can be said in a job file."""

from __future__ import annotations

import dataclasses
import inspect

import pytest

from gingerly import KeepOut, MachineFacts, Plate, Stock, Tool, routines
from gingerly.budgets import Doubts
from gingerly.job.doubts import DoubtsTable
from gingerly.job.parts import _OTHERWISE, ROUTINES, AnyPartTable
from gingerly.job.tables import (
    FactsTable,
    KeepOutTable,
    PlateTable,
    StockTable,
    ToolTable,
    WishesTable,
)
from gingerly.job.typed import Table
from gingerly.planner import Wishes

OTHERWISE = {"StopTest": {"rise": "height"}, "ToolChange": {"before": None, "offsets": None}}
"""What goes by another key, or (None) belongs to the table of the tool change, not to that of its reference."""

BY_COMMAND = {"Verify"}
"""Said by a command (`gingerly verify`), since it does another routine again."""


def keys(table: type[Table], routine: str = "") -> set[str]:
    said = OTHERWISE.get(routine, {})
    names = {name.removesuffix("_deg") for name in table.__struct_fields__}
    return {said.get(name) or _OTHERWISE.get(name, name) for name in names}


def arguments(kind: type) -> set[str]:
    return {field.name for field in dataclasses.fields(kind) if field.init}


@pytest.mark.parametrize(("table", "routine"), ROUTINES.items(), ids=lambda one: one.__name__)
def test_every_argument_of_a_routine_has_a_key(table: type[AnyPartTable], routine: type) -> None:
    elsewhere = {name for name, key in OTHERWISE.get(routine.__name__, {}).items() if key is None}
    assert arguments(routine) - keys(table, routine.__name__) - elsewhere - {"spot"} == set()


def test_every_routine_has_a_table() -> None:
    whole = {
        name
        for name, one in vars(routines).items()
        if inspect.isclass(one) and dataclasses.is_dataclass(one) and hasattr(one, "plan")
    }
    assert whole - {one.__name__ for one in ROUTINES.values()} == BY_COMMAND


@pytest.mark.parametrize(
    ("table", "kind"),
    [
        (ToolTable, Tool),
        (PlateTable, Plate),
        (StockTable, Stock),
        (WishesTable, Wishes),
        (FactsTable, MachineFacts),
        (KeepOutTable, KeepOut),
        (DoubtsTable, Doubts),
    ],
    ids=lambda one: one.__name__,
)
def test_every_size_of_a_thing_has_a_key(table: type[Table], kind: type) -> None:
    """A tool's and a plate's name is the key of its table."""
    named = {"name"} if kind in (Tool, Plate) else set()
    assert arguments(kind) - named == keys(table)
