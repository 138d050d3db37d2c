"""From typed tables to a `Job`: names are looked up, defaults filled in, and what cannot be is noted, all of it.

A draft is what `typed.read_fields` left: a table that could not be read is None, and has been complained about
already.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from itertools import combinations
from typing import Any, TypeVar

from gingerly.geometry import Corner, KeepOut, Position
from gingerly.job.model import Job, MachineChoice, OnFault, Part, Rehearsal
from gingerly.job.problems import Problems, below, item, nearest
from gingerly.job.tables import (
    DefaultsTable,
    KeepOutTable,
    MachineTable,
    OutsideCornerTable,
    PartTable,
    PlaceTable,
    PlateTable,
    ReadsTable,
    ReferenceTable,
    SimulatedTable,
    SpotTable,
    StockTable,
    SurfaceTable,
    ToolChangeTable,
    ToolTable,
    WishesTable,
)
from gingerly.messages.faults import fault_classes
from gingerly.planner import ANY, Wishes
from gingerly.plate import Bolt, Placement, Plate
from gingerly.routines import Above, OutsideCorner, Surface, ToolChange, TopSpot
from gingerly.stock import Stock
from gingerly.tool import Tip, Tool

T = TypeVar("T")

NO_PLATE = "none"
"""What a part says instead of a plate's name when the stock itself is touched."""

WITHIN = 1.0
"""Millimetres within which a place is known where nobody says: the routines' own default."""

_SUBJECT = re.compile(r"(?:tool|plate|stock|bolt) (\w+)")


class Builder:
    """Builds the domain objects of one draft; `problems` collects what is wrong."""

    def __init__(self, draft: Mapping[str, Any], problems: Problems) -> None:
        self._draft = draft
        self._problems = problems
        self._defaults: DefaultsTable = draft.get("defaults") or DefaultsTable()
        self._tools = self._named("tools", self._tool)
        self._plates = self._named("plates", self._plate)
        self._spots: dict[str, TopSpot | None] = {}

    def job(self, source: str) -> Job | None:
        """Return the job, or None where anything was wrong."""
        keep_outs = self._keep_outs()
        parts = self._parts()
        if len(self._problems):
            return None
        machine: MachineTable = self._draft["machine"]
        return Job(
            machine=MachineChoice(
                adapter=machine.adapter, name=machine.name or machine.adapter, options=machine.options
            ),
            parts=parts,
            keep_outs=keep_outs,
            title=self._draft.get("title") or "job",
            source=source,
        )

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
            subject = _SUBJECT.search(str(error))
            key = subject[1] if subject and hasattr(table, subject[1]) else None
            self._problems.add(below(path, key) if key else path, error)
            return None

    def _tool(self, path: str, name: str, table: ToolTable) -> Tool:
        given = _given(table, "helix_deg", "v_angle_deg", "tip")
        for ours, theirs in (("helix_deg", "helix"), ("v_angle_deg", "v_angle")):
            if getattr(table, ours) is not None:
                given[theirs] = math.radians(getattr(table, ours))
        return Tool(name=name, tip=Tip(table.tip), **given)

    def _plate(self, path: str, name: str, table: PlateTable) -> Plate:
        if name.casefold() == NO_PLATE:
            raise ValueError(f"no plate may be called {NO_PLATE!r}: that means that the stock itself is touched")
        bolt = Bolt(**_given(table.bolt)) if table.bolt is not None else None
        return Plate(name=name, bolt=bolt, **_given(table, "bolt"))

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
            low=(_mm(low[0]), _mm(low[1])),
            high=(_mm(high[0]), _mm(high[1])),
            height_above_stock=None if table.height_above_stock is None else _mm(table.height_above_stock),
        )

    # ---- parts ----------------------------------------------------------------------------------------

    def _parts(self) -> tuple[Part, ...]:
        tables: list[PartTable | None] = self._draft.get("parts") or []
        found = []
        names: dict[str, int] = {}
        set_by: dict[int, int] = {}
        for index, table in enumerate(tables):
            if table is None:
                continue
            path = item("parts", index)
            self._refuse_second_name(path, table.name, names, index)
            self._refuse_second_offset(path, table, set_by, index)
            part = self._tried(path, self._part, str(index), table)
            found.append(part)
        return tuple(part for part in found if part is not None)

    def _refuse_second_name(self, path: str, name: str, names: dict[str, int], index: int) -> None:
        other = names.setdefault(name.casefold(), index)
        if other != index:
            self._problems.add(below(path, "name"), f"{name!r} is already the name of {item('parts', other)}")

    def _refuse_second_offset(self, path: str, table: PartTable, set_by: dict[int, int], index: int) -> None:
        if isinstance(table, ToolChangeTable):
            if len(set(table.offsets)) != len(table.offsets):
                self._problems.add(below(path, "offsets"), f"{table.offsets} names a work offset twice")
        elif not isinstance(table, ReferenceTable) and isinstance(table.offset, int):
            other = set_by.setdefault(table.offset, index)
            if other != index:
                what = f"work offset {table.offset} is already set by {item('parts', other)}"
                self._problems.add(below(path, "offset"), what)

    def _part(self, path: str, index: str, table: PartTable) -> Part | None:
        spot = self._spot(path, int(index), table)
        self._spots[table.name] = spot
        wishes = self._wishes(path, table.wishes)
        rehearsal = self._rehearsal(path, table.simulated)
        if spot is None or (isinstance(table, ToolChangeTable) and len(set(table.offsets)) != len(table.offsets)):
            return None
        return Part(
            name=table.name,
            routine=self._routine(table, spot),
            on_fault=OnFault(table.on_fault or self._defaults.on_fault or "stop"),
            wishes=wishes,
            compare_with=table.compare_with if isinstance(table, ToolChangeTable) else None,
            rehearsal=rehearsal,
        )

    def _routine(self, table: PartTable, spot: TopSpot) -> Surface | OutsideCorner | ToolChange:
        match table:
            case SurfaceTable():
                return Surface(spot=spot, offset=_offset(table.offset), reads=_mm(table.reads))
            case OutsideCornerTable():
                reads = table.reads or ReadsTable()
                return OutsideCorner(
                    spot=spot,
                    offset=_offset(table.offset),
                    reads=Position(_mm(reads.x), _mm(reads.y), _mm(reads.z)),
                    flute_faced=_first(table.flute_faced, self._defaults.flute_faced, False),
                    assure_lead=table.assure_lead,
                )
            case ReferenceTable():
                return ToolChange(spot=spot)
            case ToolChangeTable():
                return ToolChange(spot=spot, offsets=tuple(table.offsets))

    # ---- where a part is touched ----------------------------------------------------------------------

    def _spot(self, path: str, index: int, table: PartTable) -> TopSpot | None:
        tool = self._chosen(path, "tool", table.tool or self._defaults.tool, self._tools)
        within = _mm(_first(table.within, self._defaults.within, WITHIN))
        if isinstance(table, ToolChangeTable):
            return self._compared_spot(path, table, tool, within)
        stock = self._stock(path, table.stock)
        plate_name = _first(table.plate, self._defaults.plate, None)
        plate = None
        if plate_name != NO_PLATE:
            plate = self._chosen(
                path, "plate", plate_name, self._plates, f', or "{NO_PLATE}" to touch the stock itself'
            )
        place = self._place(path, index, table)
        if tool is None or stock is None or place is None or (plate is None and plate_name != NO_PLATE):
            return None
        return TopSpot(
            tool=tool,
            stock=stock,
            place=place,
            within=within,
            corner=Corner.named(_first(table.corner, self._defaults.corner, "front left")),
            plate=plate,
            placement=Placement(_first(table.placement, self._defaults.placement, "seated")),
        )

    def _compared_spot(self, path: str, table: ToolChangeTable, tool: Tool | None, within: float) -> TopSpot | None:
        at = below(path, "compare_with")
        if table.compare_with not in self._spots:
            if None in self._draft["parts"]:
                return None  # it may be a part that could not be read
            hint = nearest(table.compare_with, self._spots)
            self._problems.add(at, f"no earlier part is called {table.compare_with!r}{hint}")
            return None
        spot = self._spots[table.compare_with]
        if spot is None or tool is None:
            return None
        if isinstance(spot.place, Above):
            self._problems.add(at, f'{table.compare_with!r} has no place; give it x, y and z instead of "here"')
            return None
        return TopSpot(
            tool=tool,
            stock=spot.stock,
            place=spot.place,
            within=within,
            corner=spot.corner,
            plate=spot.plate,
            placement=spot.placement,
        )

    def _chosen(
        self, path: str, key: str, name: str | None, known: Mapping[str, T | None], otherwise: str = ""
    ) -> T | None:
        at = below(path, key)
        choices = ", ".join(map(repr, list(known)[:12]))
        if name is None:
            what = (
                f"is missing, here and in [defaults]; must be one of {choices or 'those of its table'}{otherwise}"
            )
            self._problems.add(at, what)
        elif name not in known:
            what = f"no {key} is called {name!r}; known are {choices or 'none'}{otherwise}{nearest(name, known)}"
            self._problems.add(at, what)
        else:
            return known[name]
        return None

    def _stock(self, path: str, table: StockTable | None) -> Stock | None:
        own = table is not None
        table = table or self._defaults.stock
        if table is None:
            self._problems.add(
                below(path, "stock"), "is missing, here and in [defaults]; must be a table with its sizes"
            )
            return None
        at = below(path if own else "defaults", "stock")
        return self._tried(at, lambda *_: Stock(**_given(table)), "", table)

    def _place(self, path: str, index: int, table: SpotTable) -> Position | Above | None:
        if isinstance(table.place, PlaceTable):
            if table.height is not None:
                self._problems.add(below(path, "height"), 'belongs to place = "here" alone')
            return Position(_mm(table.place.x), _mm(table.place.y), _mm(table.place.z))
        if index > 0:
            what = '"here" is where the tool stands when the job begins, so only the first part can begin there'
            self._problems.add(below(path, "place"), what)
            return None
        if table.height is None:
            what = 'is missing; with place = "here" say how far the tool stands above the flat'
            self._problems.add(below(path, "height"), what)
            return None
        return Above(_mm(table.height))

    # ---- the rest of a part ---------------------------------------------------------------------------

    def _wishes(self, path: str, table: WishesTable | None) -> Wishes:
        given = {**_given(self._defaults.wishes), **_given(table)}
        found = self._tried(below(path, "wishes"), lambda *_: Wishes(**given), "", table or self._defaults.wishes)
        return found or ANY

    def _rehearsal(self, path: str, table: SimulatedTable | None) -> Rehearsal | None:
        if table is None:
            return None
        at = below(path, "simulated")
        skew = table.skew_deg or 0.0
        if not 0.0 <= skew <= 10.0:
            self._problems.add(below(at, "skew_deg"), f"is {skew:g}; must lie from 0 to 10 degrees")
        faults = [fault.__name__ for fault in fault_classes()]
        if table.expect is not None and table.expect not in faults:
            hint = nearest(table.expect, faults)
            self._problems.add(below(at, "expect"), f"no fault is called {table.expect!r}{hint}")
        return Rehearsal(lead_off_after=table.lead_off_after, skew=math.radians(skew), expect=table.expect)


def _given(table: object, *without: str) -> dict[str, Any]:
    """Return the fields of a table that were given, by name."""
    fields = getattr(table, "__struct_fields__", ())
    return {
        name: getattr(table, name) for name in fields if name not in without and getattr(table, name) is not None
    }


def _first(*values: Any) -> Any:
    return next((value for value in values if value is not None), None)


def _mm(value: float | str) -> float:
    """A length that the reader has turned into mm already; its type still says that a file may hold a text."""
    return float(value)


def _offset(value: int | str) -> int | None:
    return value if isinstance(value, int) else None


def _overlap(first: KeepOut, second: KeepOut) -> bool:
    return all(first.low[n] < second.high[n] and second.low[n] < first.high[n] for n in (0, 1))
