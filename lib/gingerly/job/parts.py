"""The parts of a job file, as types: one routine, one table.

A routine is added by writing its table, with the routine's own argument names as keys, and one line in
`ROUTINES`. Keys that end in ``_deg`` are angles; see `built` for what becomes of tables, axes and corners.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

from gingerly import routines
from gingerly.geometry import Axis, Corner, Position
from gingerly.job.doubts import DoubtsTable
from gingerly.job.model import PartRoutine
from gingerly.job.tables import (
    CornerName,
    DefaultsTable,
    KeepOutTable,
    MachineTable,
    OffsetNumber,
    OnFaultName,
    PlacementName,
    PlaceTable,
    PlateTable,
    PointTable,
    ReadsTable,
    RecordOnly,
    SimulatedTable,
    StockTable,
    ToolTable,
    WishesTable,
)
from gingerly.job.typed import (
    Feed,
    FileName,
    Length,
    Meta,
    Name,
    NonNegativeLength,
    Number,
    PositiveLength,
    Sentence,
    Table,
    made,
)

AxisName = Literal["X", "Y"]
# At the most so many of anything: our own choice. What a part leaves out is the routine's own default.
Touches = Annotated[int, Meta(ge=3, le=64, description="How many touches: a whole number from 3 to 64.")]
Wave = Annotated[int, Meta(ge=1, le=10_000, description="A wave: a whole number from 1 on.")]
Number1000 = Annotated[int, Meta(ge=1, le=1000)]


class SpotInGrid(Table, kw_only=True, frozen=True):
    """One place of a grid, counted from 1; row 1 and column 1 are at the part's own place."""

    row: Number1000
    column: Number1000


class GridTable(Table, kw_only=True, frozen=True):
    """Equal parts in rows along Y and columns along X, without writing them out.

    The part's place is that of row 1, column 1; they are done row by row and called after the part, "lid 2-3" in
    row 2, column 3. Work offsets count up from the part's own. With `per_wave` they begin anew after so many parts,
    in the next wave.
    """

    rows: Number1000
    columns: Number1000
    pitch_x: Length | None = None
    pitch_y: Length | None = None
    per_wave: Annotated[int, Meta(ge=1, le=9)] | None = None
    leave_out: list[SpotInGrid] = made(list)


class AnyPartTable(Table, kw_only=True, frozen=True):
    """What every part may say.

    `say` is told to the operator before the part. `new_blank` asks for hands although nothing else changes: a blank
    is clamped or turned over. `wired` says that the test lead reaches this part's bare stock without hands. A work
    offset may be set once in each `wave`; a wave begins when the parts of the one before it are finished.
    """

    name: Name
    tool: Name | None = None
    within: NonNegativeLength | None = None
    on_fault: OnFaultName | None = None
    wishes: WishesTable | None = None
    simulated: SimulatedTable | None = None
    wave: Wave | None = None
    say: Sentence | None = None
    new_blank: bool = False
    wired: bool | None = None


class SpotTable(AnyPartTable, kw_only=True, frozen=True):
    """What a part that has a place of its own may say; the stock itself is touched.

    `place` is where the stock's corner is expected, as the job's first tool would touch its top face, or
    ``"here"``: the tool is brought there step by step, and then stands `height` above the flat. `at` says where the
    top is touched, in mm inward from the corner.
    """

    place: PlaceTable | Literal["here"]
    height: PositiveLength | None = None
    corner: CornerName | None = None
    stock: StockTable | None = None
    at: PointTable | None = None
    grid: GridTable | None = None


class PlatedTable(SpotTable, kw_only=True, frozen=True):
    """A part that may be touched on a plate; `plate` is ``"none"`` where the stock itself is touched."""

    plate: Name | None = None
    placement: PlacementName | None = None


class WallTable(PlatedTable, kw_only=True, frozen=True):
    """A part whose walls are touched from outside at a corner of the stock."""

    flute_faced: bool | None = None


class SurfaceTable(PlatedTable, kw_only=True, frozen=True, tag="surface", tag_field="routine"):
    """Touch a top face and set, or only record, its height."""

    offset: OffsetNumber | RecordOnly
    reads: Length = 0.0


class OutsideCornerTable(WallTable, kw_only=True, frozen=True, tag="outside corner", tag_field="routine"):
    """Touch the top face and both walls of a corner and set, or only record, the origin."""

    offset: OffsetNumber | RecordOnly
    reads: ReadsTable | None = None
    assure_lead: bool = True


class SkewedCornerTable(WallTable, kw_only=True, frozen=True, tag="skewed corner", tag_field="routine"):
    """Touch the top face, one wall twice and the other once: the origin of a corner, and how far it is turned."""

    offset: OffsetNumber | RecordOnly
    long_wall: AxisName | None = None
    reads: ReadsTable | None = None
    near: PositiveLength | None = None
    far: PositiveLength | None = None
    skew_within_deg: Number | None = None
    assure_lead: bool = True


class SingleEdgeTable(WallTable, kw_only=True, frozen=True, tag="single edge", tag_field="routine"):
    """Touch the top face and the wall across `axis`, and set, or only record, that axis."""

    offset: OffsetNumber | RecordOnly
    axis: AxisName
    reads: ReadsTable | None = None
    along: PositiveLength | None = None
    with_top: bool = False


class EdgeSkewTable(WallTable, kw_only=True, frozen=True, tag="edge skew", tag_field="routine"):
    """Touch one wall twice and find how far the stock is turned; writes nothing."""

    axis: AxisName | None = None
    near: PositiveLength | None = None
    far: PositiveLength | None = None
    skew_within_deg: Number | None = None
    assure_lead: bool = True


class OriginTable(SpotTable, kw_only=True, frozen=True):
    """A feature of bare stock whose middle or corner is set, or only recorded."""

    offset: OffsetNumber | RecordOnly
    reads: ReadsTable | None = None
    with_top: bool = False


class InsideCornerTable(OriginTable, kw_only=True, frozen=True, tag="inside corner", tag_field="routine"):
    """Touch both walls of a pocket's corner from inside; `meets_at` is where, inward from the stock's corner."""

    meets_at: PointTable
    which: CornerName
    sizes: PointTable
    deep: PositiveLength


class BoreCentreTable(OriginTable, kw_only=True, frozen=True, tag="bore centre", tag_field="routine"):
    """Touch a bore all round from inside."""

    centre: PointTable
    diameter: PositiveLength
    deep: PositiveLength
    touches: Touches = 4


class BossCentreTable(OriginTable, kw_only=True, frozen=True, tag="boss centre", tag_field="routine"):
    """Touch a round boss all round from outside."""

    centre: PointTable
    diameter: PositiveLength
    height_of_boss: PositiveLength
    touches: Touches = 4
    assure_lead: bool = False


class SlotMiddleTable(OriginTable, kw_only=True, frozen=True, tag="slot middle", tag_field="routine"):
    """Touch both walls of a slot across `axis` from inside."""

    axis: AxisName
    centre: PointTable
    width: PositiveLength
    length: PositiveLength
    deep: PositiveLength


class PocketMiddleTable(OriginTable, kw_only=True, frozen=True, tag="pocket middle", tag_field="routine"):
    """Touch all four walls of a pocket from inside; `sizes` are along X and Y."""

    centre: PointTable
    sizes: PointTable
    deep: PositiveLength


class RibMiddleTable(OriginTable, kw_only=True, frozen=True, tag="rib middle", tag_field="routine"):
    """Touch both walls of a rib across `axis` from outside."""

    axis: AxisName
    centre: PointTable
    width: PositiveLength
    length: PositiveLength
    height_of_rib: PositiveLength
    assure_lead: bool = True


class BlockMiddleTable(OriginTable, kw_only=True, frozen=True, tag="block middle", tag_field="routine"):
    """Touch all four walls of a block from outside; what is left out of its sizes is the whole stock's."""

    centre: PointTable | None = None
    sizes: PointTable | None = None
    height_of_block: PositiveLength | None = None
    assure_lead: bool = True


class SurfaceGridTable(SpotTable, kw_only=True, frozen=True, tag="surface grid", tag_field="routine"):
    """Touch a bare face at many places: flatness, tilt, and the shims that the supports need; writes nothing."""

    columns: Annotated[int, Meta(ge=2, le=200)] = 3
    rows: Annotated[int, Meta(ge=2, le=200)] = 3
    margin: PositiveLength | None = None
    uneven: PositiveLength | None = None
    supports: list[PointTable] = made(list)


class RepeatabilityTable(PlatedTable, kw_only=True, frozen=True, tag="repeatability", tag_field="routine"):
    """Touch one spot many times and find how far the touches lie apart; writes nothing."""

    touches: Annotated[int, Meta(ge=2, le=100)] = 10


class ReactionTimeTable(PlatedTable, kw_only=True, frozen=True, tag="reaction time", tag_field="routine"):
    """Touch one spot at several feeds and find how late a contact is latched; writes nothing."""

    feeds: list[Feed] = made(list)
    rounds: Annotated[int, Meta(ge=1, le=25)] = 3


class ToolDiameterTable(SpotTable, kw_only=True, frozen=True, tag="tool diameter", tag_field="routine"):
    """Touch both walls of a block of known `width` and find how wide the tool is; writes nothing.

    With `half_turn` the spindle is turned by hand by half a turn and they are touched again: its runout is found.
    """

    width: PositiveLength
    axis: AxisName | None = None
    centre: PointTable | None = None
    length: PositiveLength | None = None
    height_of_block: PositiveLength | None = None
    half_turn: bool = False
    assure_lead: bool = True


class PlateCalibrationTable(PlatedTable, kw_only=True, frozen=True, tag="plate calibration", tag_field="routine"):
    """Touch a seated plate and the bare block beside it, and find the plate's sizes; writes nothing."""

    assure_lead: bool = True


class ReferenceTable(PlatedTable, kw_only=True, frozen=True, tag="reference", tag_field="routine"):
    """Touch a reference face and remember its height for a tool change; writes nothing."""


class ToolChangeTable(AnyPartTable, kw_only=True, frozen=True, tag="tool change", tag_field="routine"):
    """Change to `tool`, touch the face of the part `compare_with` again, and shift the Z of `offsets`.

    Place, plate and stock are those of that part.
    """

    compare_with: Name
    offsets: Annotated[list[OffsetNumber], Meta(min_length=1, max_length=9)]


class StopTestTable(AnyPartTable, kw_only=True, frozen=True, tag="stop test", tag_field="routine"):
    """The test of the first day: rise in free air until a touch, and once more until the machine's own stop.

    It touches no stock and needs no place; the tool begins where it stands and rises twice, by `rise` mm at most, at
    `feed`. Best in a job of its own: the machine's own stop leaves most controllers in alarm.
    """

    rise: PositiveLength | None = None
    feed: Feed | None = None


PartTable = (
    SurfaceTable
    | OutsideCornerTable
    | SkewedCornerTable
    | SingleEdgeTable
    | EdgeSkewTable
    | InsideCornerTable
    | BoreCentreTable
    | BossCentreTable
    | SlotMiddleTable
    | PocketMiddleTable
    | RibMiddleTable
    | BlockMiddleTable
    | SurfaceGridTable
    | RepeatabilityTable
    | ReactionTimeTable
    | ToolDiameterTable
    | PlateCalibrationTable
    | ReferenceTable
    | ToolChangeTable
    | StopTestTable
)

ROUTINES: Mapping[type[AnyPartTable], Callable[..., PartRoutine]] = {
    SurfaceTable: routines.Surface,
    OutsideCornerTable: routines.OutsideCorner,
    SkewedCornerTable: routines.SkewedCorner,
    SingleEdgeTable: routines.SingleEdge,
    EdgeSkewTable: routines.EdgeSkew,
    InsideCornerTable: routines.InsideCorner,
    BoreCentreTable: routines.BoreCentre,
    BossCentreTable: routines.BossCentre,
    SlotMiddleTable: routines.SlotMiddle,
    PocketMiddleTable: routines.PocketMiddle,
    RibMiddleTable: routines.RibMiddle,
    BlockMiddleTable: routines.BlockMiddle,
    SurfaceGridTable: routines.SurfaceGrid,
    RepeatabilityTable: routines.Repeatability,
    ReactionTimeTable: routines.ReactionTime,
    ToolDiameterTable: routines.ToolDiameter,
    PlateCalibrationTable: routines.PlateCalibration,
    ReferenceTable: routines.ToolChange,
    StopTestTable: routines.StopTest,
}
"""The routine that each table is for."""


class JobTable(Table, kw_only=True, frozen=True):
    """A whole job file; `journal` is the file beside it in which its runs are kept, instead of the user's own."""

    machine: MachineTable
    tools: Annotated[dict[Name, ToolTable], Meta(min_length=1)]
    parts: Annotated[list[PartTable], Meta(min_length=1, max_length=100_000)]
    title: Name | None = None
    journal: FileName | None = None
    plates: dict[Name, PlateTable] = made(dict)
    keep_outs: Annotated[list[KeepOutTable], Meta(max_length=200)] = made(list)
    defaults: DefaultsTable = DefaultsTable()
    doubts: DoubtsTable = DoubtsTable()


# ---- from a table to its routine ----------------------------------------------------------------------------

_OTHERWISE = {
    "meets_at": "at",
    "height_of_boss": "height",
    "height_of_rib": "height",
    "height_of_block": "height",
}
"""Keys that say more than the routine's own argument, because a part has a key of that name already."""

_OF_THE_PART = frozenset(PlatedTable.__struct_fields__)


def built(table: SpotTable, spot: routines.TopSpot, *, flute_faced: bool = False) -> PartRoutine:
    """Return the routine that a part's table asks for at `spot`; raises `ValueError` as the routine does."""
    given: dict[str, Any] = {}
    for key in table.__struct_fields__:
        value = getattr(table, key)
        if key in _OF_THE_PART or value is None:
            continue
        if key.endswith("_deg"):
            key, value = key.removesuffix("_deg"), math.radians(value)
        given[_OTHERWISE.get(key, key)] = _plain(key, value)
    if isinstance(table, WallTable):
        given["flute_faced"] = flute_faced
    return ROUTINES[type(table)](spot=spot, **given)


def _plain(key: str, value: Any) -> Any:
    """Return what a routine takes: points as pairs, coordinates as a position, axes and corners by name."""
    match value:
        case PointTable():
            return (float(value.x), float(value.y))
        case ReadsTable():
            return Position(float(value.x), float(value.y), float(value.z))
        case list():
            return tuple(_plain(key, one) for one in value)
        case "record only":
            return None
        case str() if key in ("axis", "long_wall"):
            return Axis[value]
        case str() if key == "which":
            return Corner.named(value)
    return value
