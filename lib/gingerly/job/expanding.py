"""From the tables of a job's parts to its parts: names are looked up, defaults filled in, grids written out.

What cannot be is noted, for every part, not only the first; a table that is None could not be read, and has been
complained about already.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from gingerly.geometry import Corner, Position
from gingerly.job.model import OnFault, Part, Staged
from gingerly.job.parts import (
    ROUTINES,
    AnyPartTable,
    GridTable,
    PlatedTable,
    ReferenceTable,
    SpotTable,
    StopTestTable,
    ToolChangeTable,
    built,
)
from gingerly.job.problems import Problems, below, item, nearest
from gingerly.job.tables import DefaultsTable, PlaceTable, SimulatedTable, StockTable, WishesTable
from gingerly.job.typed import given_fields
from gingerly.messages.faults import fault_classes
from gingerly.planner import ANY, Wishes
from gingerly.plate import Placement, Plate
from gingerly.routines import Above, StopTest, ToolChange, TopSpot
from gingerly.stock import Stock
from gingerly.tool import Tool

T = TypeVar("T")

NO_PLATE = "none"
"""What a part says instead of a plate's name when the stock itself is touched."""

WITHIN = 1.0
"""Millimetres within which a place is known where nobody says: the routines' own default."""

OFFSETS = 9
"""The work offsets are numbered from 1 to this. Source: NISTIR 6556 (RS274/NGC), 3.5.13."""

MOST_PARTS = 100_000
"""No job has more parts, grids written out. Our own choice."""


class PartBuilder:
    """Builds the parts of one draft; `defaults` is None where they were given and could not be read."""

    def __init__(
        self,
        problems: Problems,
        *,
        tables: Sequence[AnyPartTable | None],
        defaults: DefaultsTable | None,
        tools: Mapping[str, Tool | None],
        plates: Mapping[str, Plate | None],
    ) -> None:
        self._problems = problems
        self._tables = tables
        self._defaults = defaults or DefaultsTable()
        self._defaults_unread = defaults is None
        self._tools = tools
        self._plates = plates
        self._spots: dict[str, TopSpot | None] = {}
        self._wave = 1
        self._tool: Tool | None = None
        self._mounted = 0
        self._mounted_at: dict[str, int] = {}
        self._fits: dict[int, int] = {}

    def parts(self) -> tuple[Part, ...]:
        """Return all parts that could be built, in order."""
        self._check_defaults()
        names: dict[str, int] = {}
        set_by: dict[tuple[int, int], int] = {}
        found: list[Part] = []
        for index, table in enumerate(self._tables):
            if table is None:
                continue
            path = item("parts", index)
            self._check_wave(path, table)
            for part in self._tried(path, index, table):
                self._refuse_second_name(path, part.name, names, index)
                self._refuse_second_offset(path, part, set_by, index)
                self._refuse_wrong_height(path, part)
                self._wave = part.wave
                found.append(part)
            if len(found) > MOST_PARTS:
                self._problems.add(path, f"makes more than {MOST_PARTS} parts; split the job")
                break
        return tuple(found)

    def _check_defaults(self) -> None:
        """Note names in the defaults that nothing is called by; once, not for every part."""
        for key, known in (("tool", self._tools), ("plate", self._plates)):
            name = getattr(self._defaults, key)
            if name is not None and name not in known and (key, name) != ("plate", NO_PLATE):
                self._chosen("defaults", key, name, known)

    def _tried(self, path: str, index: int, table: AnyPartTable) -> list[Part]:
        """Return the parts of one table; its grid is looked at also where no part can be built."""
        try:
            part = self._part(path, index, table)
            grid = table.grid if isinstance(table, SpotTable) else None
            if grid is None:
                return [] if part is None else [part]
            assert isinstance(table, SpotTable)
            places = self._places(below(path, "grid"), table, grid)
            fits = self._check_numbers(below(path, "grid"), table, grid, len(places))
            return list(self._written_out(part, grid, places)) if part is not None and fits else []
        except ValueError as error:
            self._problems.blame(path, table, error)
            return []

    # ---- what may stand only once ---------------------------------------------------------------------

    def _refuse_second_name(self, path: str, name: str, names: dict[str, int], index: int) -> None:
        other = names.setdefault(name.casefold(), index)
        if other != index:
            self._problems.add(below(path, "name"), f"{name!r} is already the name of {item('parts', other)}")

    def _refuse_second_offset(self, path: str, part: Part, set_by: dict[tuple[int, int], int], index: int) -> None:
        if isinstance(part.routine, ToolChange):
            return
        for number in part.offsets:
            other = set_by.setdefault((part.wave, number), index)
            if other != index:
                what = f"work offset {number} is already set by {item('parts', other)}"
                hint = "" if part.wave > 1 else '; a later `wave`, or offset = "record only", may use it'
                self._problems.add(below(path, "offset"), what + hint)

    def _refuse_wrong_height(self, path: str, part: Part) -> None:
        """Note a tool change that compares with a height at which its offsets no longer fit: Z would come out wrong.

        What counts is each time a tool was put in, since nobody puts it back as deep as it was.
        """
        self._mounted += part.tool != self._tool
        self._tool = part.tool
        self._mounted_at[part.name] = self._mounted
        if part.compare_with is not None:
            compared = self._mounted_at.get(part.compare_with)
            for number in part.offsets:
                if compared is not None and self._fits.get(number, compared) != compared:
                    what = f"{part.compare_with!r} was touched before the tool of work offset {number} went in"
                    hint = "compare with the part at which that very tool touched the face"
                    self._problems.add(below(path, "compare_with"), f"{what}; {hint}")
        self._fits |= dict.fromkeys(part.offsets, self._mounted)

    def _check_wave(self, path: str, table: AnyPartTable) -> None:
        if table.wave is not None and table.wave < self._wave:
            what = f"is {table.wave}, after a part of wave {self._wave}; waves never go back"
            self._problems.add(below(path, "wave"), what)

    # ---- one part -------------------------------------------------------------------------------------

    def _part(self, path: str, index: int, table: AnyPartTable) -> Part | None:
        if isinstance(table, ToolChangeTable) and len(set(table.offsets)) != len(table.offsets):
            self._problems.add(below(path, "offsets"), f"{table.offsets} names a work offset twice")
            return None
        spot = self._spot(path, table)
        self._spots[table.name] = spot
        wishes = self._wishes(path, table.wishes)
        staged = self._staged(path, table.simulated)
        if spot is None:
            return None
        return Part(
            name=table.name,
            routine=self._routine(table, spot),
            on_fault=OnFault(table.on_fault or self._defaults.on_fault or "stop"),
            wishes=wishes,
            compare_with=table.compare_with if isinstance(table, ToolChangeTable) else None,
            staged=staged,
            wave=table.wave or self._wave,
            say=table.say or "",
            new_blank=table.new_blank,
            wired=bool(_first(table.wired, self._defaults.wired, False)),
        )

    def _routine(self, table: AnyPartTable, spot: TopSpot) -> Any:
        if isinstance(table, ToolChangeTable):
            return ToolChange(spot=spot, offsets=tuple(table.offsets))
        if isinstance(table, ReferenceTable):
            return ToolChange(spot=spot)
        if isinstance(table, StopTestTable):
            return _stop_test(table, spot.tool)
        assert isinstance(table, SpotTable)
        assert type(table) in ROUTINES
        faced = _first(getattr(table, "flute_faced", None), self._defaults.flute_faced, False)
        return built(table, spot, flute_faced=faced)

    # ---- a grid of equal parts ------------------------------------------------------------------------

    def _check_numbers(self, path: str, table: SpotTable, grid: GridTable, count: int) -> bool:
        """Return whether there are enough work offsets for a grid of so many places; where not, note it."""
        number = getattr(table, "offset", None)
        if not isinstance(number, int):
            return True
        last = number - 1 + min(grid.per_wave or count, count)
        if last > OFFSETS:
            what = (
                f"counts work offsets from {number} to {last}, and there are {OFFSETS}: say per_wave ="
                f' {OFFSETS + 1 - number} or less, or offset = "record only"'
            )
            self._problems.add(path, what)
        return last <= OFFSETS

    def _written_out(self, part: Part, grid: GridTable, places: list[tuple[int, int, Position]]) -> Iterator[Part]:
        """Yield a part for each place of the grid, row by row."""
        per_wave = grid.per_wave or len(places)
        number = part.offsets[0] if part.offsets else None
        for count, (row, column, shift) in enumerate(places):
            spot = replace(part.spot, place=_shifted(part.spot.place, shift))
            other: Any = part.with_spot(spot)
            routine = other.routine
            if number is not None:
                routine = replace(routine, offset=number + count % per_wave)
            name = f"{part.name} {row}-{column}"
            self._spots[name] = spot
            yield replace(other, name=name, routine=routine, wave=part.wave + count // per_wave)

    def _places(self, path: str, table: SpotTable, grid: GridTable) -> list[tuple[int, int, Position]]:
        if not isinstance(table.place, PlaceTable):
            raise ValueError('a grid needs a place with x, y and z, not "here"')
        pitches = []
        for key, count in (("pitch_x", grid.columns), ("pitch_y", grid.rows)):
            pitch = float(getattr(grid, key) or 0.0)
            if count > 1 and pitch == 0.0:
                self._problems.add(below(path, key), f"is missing; must be the way from one to the next of {count}")
            pitches.append(pitch)
        if grid.rows * grid.columns > MOST_PARTS:
            raise ValueError(f"the grid has more than {MOST_PARTS} places; split the job")
        left_out = {(spot.row, spot.column) for spot in grid.leave_out}
        for index, spot in enumerate(grid.leave_out):
            if spot.row > grid.rows or spot.column > grid.columns:
                what = f"is row {spot.row}, column {spot.column} of {grid.rows} rows and {grid.columns} columns"
                self._problems.add(item(below(path, "leave_out"), index), what)
        return [
            (row, column, Position((column - 1) * pitches[0], (row - 1) * pitches[1], 0.0))
            for row in range(1, grid.rows + 1)
            for column in range(1, grid.columns + 1)
            if (row, column) not in left_out
        ]

    # ---- where a part is touched ----------------------------------------------------------------------

    def _spot(self, path: str, table: AnyPartTable) -> TopSpot | None:
        tool = self._chosen(path, "tool", table.tool, self._tools, default=self._defaults.tool)
        within = float(_first(table.within, self._defaults.within, WITHIN))
        if isinstance(table, ToolChangeTable):
            return self._compared_spot(path, table, tool, within)
        if isinstance(table, StopTestTable):
            return None if tool is None else StopTest(tool=tool).spot
        assert isinstance(table, SpotTable)
        stock = self._stock(path, table.stock)
        plate, laid = self._plate(path, table)
        place = self._place(path, table)
        if tool is None or stock is None or place is None or not laid:
            return None
        plated = table if isinstance(table, PlatedTable) else None
        placement = _first(plated and plated.placement, self._defaults.placement, "seated")
        return TopSpot(
            tool=tool,
            stock=stock,
            place=place,
            within=within,
            corner=Corner.named(_first(table.corner, self._defaults.corner, "front left")),
            plate=plate,
            placement=Placement(placement if plate is not None else "seated"),
            at=None if table.at is None else (float(table.at.x), float(table.at.y)),
        )

    def _plate(self, path: str, table: SpotTable) -> tuple[Plate | None, bool]:
        """Return the plate to be laid, or None on bare stock, and whether that much is known."""
        if not isinstance(table, PlatedTable):
            return None, True
        if _first(table.plate, self._defaults.plate) == NO_PLATE:
            return None, True
        otherwise, default = f', or "{NO_PLATE}" to touch the stock itself', self._defaults.plate
        plate = self._chosen(path, "plate", table.plate, self._plates, otherwise, default=default)
        return plate, plate is not None

    def _compared_spot(self, path: str, table: ToolChangeTable, tool: Tool | None, within: float) -> TopSpot | None:
        at = below(path, "compare_with")
        if table.compare_with not in self._spots:
            if None in self._tables:
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
        return replace(spot, tool=tool, within=within)

    def _chosen(
        self,
        path: str,
        key: str,
        name: str | None,
        known: Mapping[str, T | None],
        otherwise: str = "",
        *,
        default: str | None = None,
    ) -> T | None:
        """Return what is called `name`, or else `default`, whose own mistakes are told elsewhere."""
        at = below(path, key)
        if name is None and default is not None:
            return known.get(default)
        choices = ", ".join(map(repr, list(known)[:12]))
        if name is None:
            self._missing(at, f"one of {choices or 'those of its table'}{otherwise}")
        elif name not in known:
            what = f"no {key} is called {name!r}; known are {choices or 'none'}{otherwise}{nearest(name, known)}"
            self._problems.add(at, what)
        else:
            return known[name]
        return None

    def _missing(self, at: str, wanted: str) -> None:
        """Note what neither a part nor the defaults say, unless these are there and could not be read."""
        if not self._defaults_unread:
            self._problems.add(at, f"is missing, here and in [defaults]; must be {wanted}")

    def _stock(self, path: str, table: StockTable | None) -> Stock | None:
        own = table is not None
        table = table or self._defaults.stock
        if table is None:
            self._missing(below(path, "stock"), "a table with its sizes")
            return None
        try:
            return Stock(**given_fields(table))
        except ValueError as error:
            self._problems.blame(below(path if own else "defaults", "stock"), table, error)
            return None

    def _place(self, path: str, table: SpotTable) -> Position | Above | None:
        if isinstance(table.place, PlaceTable):
            if table.height is not None:
                self._problems.add(below(path, "height"), 'belongs to place = "here" alone')
            return Position(float(table.place.x), float(table.place.y), float(table.place.z))
        if table.height is None:
            what = 'is missing; with place = "here" say how far the tool stands above the flat'
            self._problems.add(below(path, "height"), what)
            return None
        return Above(float(table.height))

    # ---- the rest of a part ---------------------------------------------------------------------------

    def _wishes(self, path: str, table: WishesTable | None) -> Wishes:
        given = {**given_fields(self._defaults.wishes), **given_fields(table)}
        try:
            return Wishes(**given) if given else ANY
        except ValueError as error:
            self._problems.blame(below(path, "wishes"), table or self._defaults.wishes, error)
            return ANY

    def _staged(self, path: str, table: SimulatedTable | None) -> Staged | None:
        if table is None:
            return None
        at = below(path, "simulated")
        skew = table.skew_deg or 0.0
        # A clamped blank is not turned further by mistake. Our own choice.
        if not 0.0 <= skew <= 10.0:
            self._problems.add(below(at, "skew_deg"), f"is {skew:g}; must lie from 0 to 10 degrees")
        faults = [fault.__name__ for fault in fault_classes()]
        if table.expect is not None and table.expect not in faults:
            hint = nearest(table.expect, faults)
            self._problems.add(below(at, "expect"), f"no fault is called {table.expect!r}{hint}")
        return Staged(lead_off_after=table.lead_off_after, skew=math.radians(skew), expect=table.expect)


def _first(*values: Any) -> Any:
    return next((value for value in values if value is not None), None)


def _stop_test(table: StopTestTable, tool: Tool) -> StopTest:
    given = {"height": table.rise, "feed": table.feed}
    return StopTest(tool=tool, **{key: float(value) for key, value in given.items() if value is not None})


def _shifted(place: Position | Above, shift: Position) -> Position | Above:
    return place.plus(shift) if isinstance(place, Position) else place
