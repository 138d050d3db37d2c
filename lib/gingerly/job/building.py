"""From typed tables to a `Job`: names are looked up, defaults filled in, and what cannot be is noted, all of it.

A draft is what `typed.read_fields` left: a table that could not be read is None, and has been complained about
already.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from itertools import combinations
from pathlib import Path
from typing import Any, TypeVar

from gingerly.budgets import DEFAULTS, Doubts
from gingerly.geometry import KeepOut
from gingerly.job.doubts import DoubtsTable, built
from gingerly.job.expanding import NO_PLATE, PartBuilder
from gingerly.job.model import Job, MachineChoice
from gingerly.job.problems import JobError, Problems, below, item
from gingerly.job.reading import parsed, read_text
from gingerly.job.tables import (
    DefaultsTable,
    FactsTable,
    KeepOutTable,
    MachineTable,
    PlateTable,
    ToolTable,
)
from gingerly.job.typed import given_fields, read_fields
from gingerly.plate import Bolt, Plate
from gingerly.tool import Tip, Tool

T = TypeVar("T")

FILE_OPTIONS = ("profile", "memory", "transcript")
"""What an adapter's options call a file, whatever the adapter: like the journal's, its place is beside the job."""


class Builder:
    """Builds the domain objects of one draft; `problems` collects what is wrong.

    `machine` is there once the job was built, or tried to be, as far as its own table could be read.
    """

    def __init__(self, draft: Mapping[str, Any], problems: Problems, *, folder: Path = Path()) -> None:
        self._draft = draft
        self._problems = problems
        self._folder = folder
        self.machine: MachineChoice | None = None
        self._tools = self._named("tools", self._tool)
        self._plates = self._named("plates", self._plate)

    def job(self, source: str) -> Job | None:
        """Return the job, or None where anything was wrong."""
        keep_outs = self._keep_outs()
        defaults = None if "defaults" in self._draft and self._draft["defaults"] is None else DefaultsTable()
        parts = PartBuilder(
            self._problems,
            tables=self._draft.get("parts") or [],
            defaults=self._draft.get("defaults") or defaults,
            tools=self._tools,
            plates=self._plates,
        ).parts()
        self.machine = self._machine()
        doubts = self._doubts()
        if len(self._problems) or self.machine is None:
            return None
        return Job(
            machine=self.machine,
            parts=parts,
            keep_outs=keep_outs,
            doubts=doubts,
            title=self._draft.get("title") or "job",
            journal=self._draft.get("journal"),
            source=source,
        )

    # ---- the machine ----------------------------------------------------------------------------------

    def _machine(self) -> MachineChoice | None:
        table: MachineTable | None = self._draft.get("machine")
        if table is None:
            return None
        options = {name: self._beside(name, value) for name, value in table.options.items()}
        facts = self._facts(table.facts)
        if facts and "facts" in options:
            self._problems.add("machine.options.facts", "the facts stand in machine.facts already; say them once")
        if facts:
            options["facts"] = facts
        return MachineChoice(adapter=table.adapter, name=table.name or table.adapter, options=options)

    def _beside(self, name: str, value: Any) -> Any:
        """Return an option, and of one that names a file where that lies; a bare word is a profile that ships."""
        if name not in FILE_OPTIONS or not isinstance(value, str) or not value:
            return value
        if name == "profile" and Path(value).name == value and not Path(value).suffix:
            return value
        return str(self._folder / value)

    def _facts(self, told: FactsTable | str | None) -> dict[str, Any]:
        if isinstance(told, str):
            return self._facts_of_file(told)
        return given_fields(told) if told is not None else {}

    def _facts_of_file(self, name: str) -> dict[str, Any]:
        """Return the facts of a file beside the job; what is wrong there is told with that file's name."""
        found = Problems()
        try:
            table = read_fields(FactsTable, parsed(read_text(self._folder / name), name), found)
        except JobError as error:
            found.found.extend(error.problems)
            table = {}
        for problem in found.found:
            self._problems.add("machine.facts", f"in {name!r}: {problem}")
        return given_fields(FactsTable(**{key: value for key, value in table.items() if value is not None}))

    def _doubts(self) -> Doubts:
        table: DoubtsTable | None = self._draft.get("doubts")
        if table is None:
            return DEFAULTS
        try:
            return built(table)
        except ValueError as error:
            key, _, what = str(error).partition(": ")
            self._problems.add(below("doubts", key), what)
            return DEFAULTS

    # ---- tools, plates, keep-outs ---------------------------------------------------------------------

    def _named(self, key: str, build: Callable[[str, str, Any], T]) -> dict[str, T | None]:
        tables = self._draft.get(key) or {}
        return {name: self._tried(below(key, name), build, name, table) for name, table in tables.items()}

    def _tried(self, path: str, build: Callable[[str, str, Any], T], name: str, table: Any) -> T | None:
        if table is None:
            return None
        try:
            return build(path, name, table)
        except ValueError as error:
            self._problems.blame(path, table, error)
            return None

    def _tool(self, path: str, name: str, table: ToolTable) -> Tool:
        given = given_fields(table, "helix_deg", "v_angle_deg", "tip")
        for ours, theirs in (("helix_deg", "helix"), ("v_angle_deg", "v_angle")):
            if getattr(table, ours) is not None:
                given[theirs] = math.radians(getattr(table, ours))
        return Tool(name=name, tip=Tip(table.tip), **given)

    def _plate(self, path: str, name: str, table: PlateTable) -> Plate:
        if name.casefold() == NO_PLATE:
            raise ValueError(f"no plate may be called {NO_PLATE!r}: that means that the stock itself is touched")
        bolt = Bolt(**given_fields(table.bolt)) if table.bolt is not None else None
        return Plate(name=name, bolt=bolt, **given_fields(table, "bolt"))

    def _keep_outs(self) -> tuple[KeepOut, ...]:
        tables = self._draft.get("keep_outs") or []
        built = [
            (index, self._tried(item("keep_outs", index), self._keep_out, "", table))
            for index, table in enumerate(tables)
        ]
        found = [(index, keep_out) for index, keep_out in built if keep_out is not None]
        for (_, first), (index, second) in combinations(found, 2):
            if _overlap(first, second):
                what = f"{second.name!r} overlaps {first.name!r}; measure them again, or write them as one"
                self._problems.add(item("keep_outs", index), what)
        return tuple(keep_out for _, keep_out in found)

    def _keep_out(self, path: str, name: str, table: KeepOutTable) -> KeepOut:
        low, high = (table.low.x, table.low.y), (table.high.x, table.high.y)
        return KeepOut(
            name=table.name,
            low=(float(low[0]), float(low[1])),
            high=(float(high[0]), float(high[1])),
            height_above_stock=None if table.height_above_stock is None else float(table.height_above_stock),
        )


def _overlap(first: KeepOut, second: KeepOut) -> bool:
    return all(first.low[n] < second.high[n] and second.low[n] < first.high[n] for n in (0, 1))
