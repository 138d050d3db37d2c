"""Everything a job file may say, as types: one table, one class.

Lengths are numbers of mm or texts with a unit, feeds numbers of mm/min or texts with a unit, angles degrees. A key
that is left out of a part is taken from ``[defaults]``.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from gingerly.job.typed import Feed, Length, Meta, Name, NonNegativeLength, Number, PositiveLength, Table, made

OffsetNumber = Annotated[int, Meta(ge=1, le=9, description="A work offset: a whole number from 1 to 9.")]
Count = Annotated[int, Meta(ge=0, le=50)]
CornerName = Literal["front left", "front right", "back right", "back left"]
PlacementName = Literal["seated", "flat", "flipped"]
OnFaultName = Literal["stop", "skip"]


class MachineTable(Table, kw_only=True, frozen=True):
    """Which machine: its installed adapter, the name people know it by, and what its adapter is told."""

    adapter: Name
    name: Name | None = None
    options: dict[str, Any] = made(dict)


class PointTable(Table, kw_only=True, frozen=True):
    """A point seen from above, in machine coordinates."""

    x: Length
    y: Length


class PlaceTable(Table, kw_only=True, frozen=True):
    """A place in machine coordinates; of a part: its stock's corner, the top face in z."""

    x: Length
    y: Length
    z: Length


class KeepOutTable(Table, kw_only=True, frozen=True):
    """A column that the tool may not enter, from `low` to `high`; without its height it has no upper end."""

    name: Name
    low: PointTable
    high: PointTable
    height_above_stock: Length | None = None


class ToolTable(Table, kw_only=True, frozen=True):
    """A pin or cutter; see `gingerly.Tool`."""

    diameter: PositiveLength
    free_length: PositiveLength
    tip: Literal["flat", "ball", "v", "hollow"] = "flat"
    shank: PositiveLength | None = None
    flutes: Annotated[int, Meta(ge=0, le=24)] = 0
    helix_deg: Number | None = None
    core: Number | None = None
    v_angle_deg: Number | None = None
    edge_width: PositiveLength | None = None
    clip_height: PositiveLength | None = None
    clip_radius: PositiveLength | None = None
    nut_height: PositiveLength | None = None
    nut_radius: PositiveLength | None = None
    overtravel: PositiveLength | None = None
    miss_limit: PositiveLength | None = None


class BoltTable(Table, kw_only=True, frozen=True):
    """A screw or socket on top of the plate."""

    a: Length
    b: Length
    radius: PositiveLength
    height: PositiveLength


class PlateTable(Table, kw_only=True, frozen=True):
    """A corner touch plate; see `gingerly.Plate`."""

    size_a: PositiveLength
    size_b: PositiveLength
    height: PositiveLength
    recess_a: PositiveLength
    recess_b: PositiveLength
    recess_depth: PositiveLength
    top: PositiveLength | None = None
    lip_a: PositiveLength | None = None
    lip_b: PositiveLength | None = None
    relief_radius: NonNegativeLength | None = None
    relief_through: bool | None = None
    bolt: BoltTable | None = None
    chamfer: NonNegativeLength | None = None
    density: Number | None = None


class StockTable(Table, kw_only=True, frozen=True):
    """A rectangular blank, how far jaws reach up its sides, and whether it can be touched itself."""

    size_x: PositiveLength
    size_y: PositiveLength
    thickness: PositiveLength
    jaw_height: NonNegativeLength = 0.0
    conductive: bool = False


class WishesTable(Table, kw_only=True, frozen=True):
    """What is fixed of the plan of a touch; the planner chooses the rest."""

    fast_feed: Feed | None = None
    slow_feed: Feed | None = None
    back_off: PositiveLength | None = None
    spread: PositiveLength | None = None
    retouches: Count | None = None
    extras: Count | None = None


class ReadsTable(Table, kw_only=True, frozen=True):
    """The work coordinates that the touched faces shall have."""

    x: Length = 0.0
    y: Length = 0.0
    z: Length = 0.0


class SimulatedTable(Table, kw_only=True, frozen=True):
    """What a simulated machine makes of this part; a real machine ignores it.

    The stock lies turned by up to `skew_deg`; the test lead falls off once `lead_off_after` contacts were made.
    `expect` names the fault that is part of the show.
    """

    lead_off_after: Annotated[int, Meta(ge=0, le=10_000)] | None = None
    skew_deg: Number | None = None
    expect: Name | None = None


class DefaultsTable(Table, kw_only=True, frozen=True):
    """What holds for every part that says nothing else."""

    tool: Name | None = None
    plate: Name | None = None
    placement: PlacementName | None = None
    corner: CornerName | None = None
    stock: StockTable | None = None
    within: NonNegativeLength | None = None
    flute_faced: bool | None = None
    on_fault: OnFaultName | None = None
    wishes: WishesTable | None = None


class AnyPartTable(Table, kw_only=True, frozen=True):
    """What every part may say."""

    name: Name
    tool: Name | None = None
    within: NonNegativeLength | None = None
    on_fault: OnFaultName | None = None
    wishes: WishesTable | None = None
    simulated: SimulatedTable | None = None


class SpotTable(AnyPartTable, kw_only=True, frozen=True):
    """What a part that has a place of its own may say.

    `place` is where the stock's corner is expected, as the job's first tool would touch its top face, or
    ``"here"``: the tool stands `height` above the middle of the flat when the job begins. `plate` is ``"none"``
    where the stock itself is touched.
    """

    place: PlaceTable | Literal["here"]
    height: PositiveLength | None = None
    plate: Name | None = None
    placement: PlacementName | None = None
    corner: CornerName | None = None
    stock: StockTable | None = None


class SurfaceTable(SpotTable, kw_only=True, frozen=True, tag="surface", tag_field="routine"):
    """Touch a top face and set, or only record, its height."""

    offset: OffsetNumber | Literal["record only"]
    reads: Length = 0.0


class OutsideCornerTable(SpotTable, kw_only=True, frozen=True, tag="outside corner", tag_field="routine"):
    """Touch the top face and both walls of a corner and set, or only record, the origin."""

    offset: OffsetNumber | Literal["record only"]
    reads: ReadsTable | None = None
    flute_faced: bool | None = None
    assure_lead: bool = True


class ReferenceTable(SpotTable, kw_only=True, frozen=True, tag="reference", tag_field="routine"):
    """Touch a reference face and remember its height for a tool change; writes nothing."""


class ToolChangeTable(AnyPartTable, kw_only=True, frozen=True, tag="tool change", tag_field="routine"):
    """Change to `tool`, touch the face of the part `compare_with` again, and shift the Z of `offsets`.

    Place, plate and stock are those of that part.
    """

    compare_with: Name
    offsets: Annotated[list[OffsetNumber], Meta(min_length=1, max_length=9)]


PartTable = SurfaceTable | OutsideCornerTable | ReferenceTable | ToolChangeTable


class JobTable(Table, kw_only=True, frozen=True):
    """A whole job file."""

    machine: MachineTable
    tools: Annotated[dict[Name, ToolTable], Meta(min_length=1)]
    parts: Annotated[list[PartTable], Meta(min_length=1)]
    title: Name | None = None
    plates: dict[Name, PlateTable] = made(dict)
    keep_outs: list[KeepOutTable] = made(list)
    defaults: DefaultsTable = DefaultsTable()
