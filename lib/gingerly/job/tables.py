"""What a job file may say besides its parts, as types: one table, one class. The parts are in `parts`.

Lengths are numbers of mm or texts with a unit, feeds numbers of mm/min or texts with a unit, angles degrees. A key
that is left out of a part is taken from ``[defaults]``.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from gingerly.job.typed import (
    Feed,
    FileName,
    Length,
    Meta,
    Name,
    NonNegativeLength,
    Number,
    PositiveLength,
    Table,
    made,
)

# Work offsets are numbered as in NISTIR 6556 (RS274/NGC), 3.5.13; the other bounds here are our own choice.
OffsetNumber = Annotated[int, Meta(ge=1, le=9, description="A work offset: a whole number from 1 to 9.")]
RecordOnly = Literal["record only"]
Count = Annotated[int, Meta(ge=0, le=50)]
CornerName = Literal["front left", "front right", "back right", "back left"]
PlacementName = Literal["seated", "flat", "flipped"]
OnFaultName = Literal["stop", "skip"]


class PositionTable(Table, kw_only=True, frozen=True):
    """A position in machine coordinates."""

    x: Length
    y: Length
    z: Length


class EnvelopeTable(Table, kw_only=True, frozen=True):
    """The axis limits, or the free box that you vouch for where there are no home switches."""

    low: PositionTable
    high: PositionTable


class LatchTable(Table, kw_only=True, frozen=True):
    """How late a contact may be latched, in seconds: from `low` to `high`."""

    low: Number
    high: Number


class FactsTable(Table, kw_only=True, frozen=True):
    """What you know of the machine; see `gingerly.MachineFacts`. What is left out, the adapter fills in."""

    name: Name | None = None
    envelope: EnvelopeTable | None = None
    resolution: PositiveLength | None = None
    acceleration: Number | None = None
    top_feed: Feed | None = None
    rapid_feed: Feed | None = None
    latch_s: LatchTable | None = None
    stop_reaction_s: Number | None = None
    sample_interval_s: Number | None = None
    look_interval_s: Number | None = None
    settle_s: Number | None = None
    answer_s: Number | None = None
    offset_resolution: PositiveLength | None = None
    backlash: NonNegativeLength | None = None
    guard: Literal["none", "polled", "sensed"] | None = None
    home: Literal["switches", "none"] | None = None
    spindle: Literal["measured", "commanded", "by hand"] | None = None
    circuit_known: bool | None = None
    alarm_known: bool | None = None
    in_force_known: bool | None = None
    offsets_readable: bool | None = None
    alarm_on_miss: bool | None = None


class MachineTable(Table, kw_only=True, frozen=True):
    """Which machine: its installed adapter, the name people know it by, what its adapter is told, and its facts.

    `facts` is a table, or the name of a TOML file that holds them, beside the job; the options `profile`, `memory`
    and `transcript` name files beside the job too.
    """

    adapter: Name
    name: Name | None = None
    options: dict[str, Any] = made(dict)
    facts: FactsTable | FileName | None = None


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
    uncertainty: PositiveLength | None = None
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
    wired: bool | None = None
    on_fault: OnFaultName | None = None
    wishes: WishesTable | None = None
