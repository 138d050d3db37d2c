"""A job, ready to be done: parts in order, each with its routine. Frozen; read from a file or made by a script."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum

from gingerly.geometry import KeepOut, Position
from gingerly.planner import ANY, Wishes
from gingerly.routines import OutsideCorner, Routine, Surface, ToolChange, TopSpot
from gingerly.tool import Tool

PartRoutine = Surface | OutsideCorner | ToolChange
"""The routines that a job can name."""


class OnFault(Enum):
    """What becomes of the batch when a part ends in a fault."""

    STOP = "stop"
    """Nothing more is begun."""
    SKIP = "skip"
    """Go on with the next part, if the fault left the machine at rest, idle and clear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """What a simulated machine makes of a part; a real one ignores it.

    The test lead falls off once `lead_off_after` contacts were made, the stock lies turned by up to `skew` rad, and
    `expect` names the fault that is part of the show.
    """

    lead_off_after: int | None = None
    skew: float = 0.0
    expect: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of a job: its name, its routine, and what to do when that fails.

    `compare_with` names the part whose height a tool change compares with; the routine gets that height when it
    begins. A `ToolChange` that shifts no offsets records a reference height.
    """

    name: str
    routine: PartRoutine
    on_fault: OnFault = OnFault.STOP
    wishes: Wishes = ANY
    compare_with: str | None = None
    rehearsal: Rehearsal | None = None

    @property
    def spot(self) -> TopSpot:
        """Where this part is touched first."""
        return self.routine.spot

    @property
    def tool(self) -> Tool:
        """The tool that touches this part."""
        return self.routine.spot.tool

    @property
    def kind(self) -> str:
        """The routine's name, as a job file gives it."""
        match self.routine:
            case Surface():
                return "surface"
            case OutsideCorner():
                return "outside corner"
            case ToolChange():
                return "tool change" if self.routine.offsets else "reference"

    @property
    def offsets(self) -> tuple[int, ...]:
        """The work offsets (1–9) that this part writes."""
        if isinstance(self.routine, ToolChange):
            return self.routine.offsets
        return (self.routine.offset,) if self.routine.offset is not None else ()

    def moved(self, up: float) -> Part:
        """Return this part with its expected place `up` mm higher: a longer tool stands higher at contact."""
        place = self.spot.place
        if up == 0.0 or not isinstance(place, Position):
            return self
        spot = replace(self.spot, place=place.plus(Position(0.0, 0.0, up)))
        return replace(self, routine=replace(self.routine, spot=spot))

    def compared(self, before: float) -> Routine:
        """Return the routine of a tool change that compares with the height `before` (machine Z, mm)."""
        assert isinstance(self.routine, ToolChange)
        return replace(self.routine, before=before)


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineChoice:
    """Which machine a job is for: the installed adapter, the name people know it by, what the adapter is told."""

    adapter: str
    name: str
    options: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Parts in the order in which they are done, on one machine. `source` says where the job comes from."""

    machine: MachineChoice
    parts: tuple[Part, ...]
    keep_outs: tuple[KeepOut, ...] = ()
    title: str = "job"
    source: str = ""

    def with_options(self, **options: object) -> Job:
        """Return this job with some of the adapter's options changed."""
        merged = {**self.machine.options, **options}
        return replace(self, machine=replace(self.machine, options=merged))
