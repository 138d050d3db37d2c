"""A job, ready to be done: parts in order, each with its routine. Frozen; read from a file or made by a script."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from typing import Any, Protocol

from gingerly.budgets import DEFAULTS, Doubts
from gingerly.geometry import KeepOut, Position
from gingerly.planner import ANY, Wishes
from gingerly.routines import Above, PlannedCourse, Routine, Site, StopTest, ToolChange, TopSpot
from gingerly.tool import Tool


class PartRoutine(Protocol):
    """A routine that a job can name: it begins with the top face at a spot."""

    @property
    def spot(self) -> TopSpot:
        """Where the top face is touched first."""
        ...

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site, checked; raises a `PlanFault` where it must not begin."""
        ...


_CAPITAL = re.compile(r"([A-Z])")


class OnFault(Enum):
    """What becomes of the batch when a part ends in a fault."""

    STOP = "stop"
    """Nothing more is begun."""
    SKIP = "skip"
    """Go on with the next part, if the fault left the machine at rest, idle and clear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Staged:
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
    begins. A `ToolChange` that shifts no offsets records a reference height. `wave` counts from 1 and never falls
    along a job. `say` is told to the operator before the part, and goes nowhere else; `new_blank` asks for hands
    although nothing else changes; `wired` says that the lead reaches the bare stock of this part without hands.
    """

    name: str
    routine: PartRoutine
    on_fault: OnFault = OnFault.STOP
    wishes: Wishes = ANY
    compare_with: str | None = None
    staged: Staged | None = None
    wave: int = 1
    say: str = ""
    new_blank: bool = False
    wired: bool = False

    @property
    def spot(self) -> TopSpot:
        """Where this part is touched first."""
        return self.routine.spot

    @property
    def tool(self) -> Tool:
        """The tool that touches this part."""
        return self.routine.spot.tool

    @property
    def here(self) -> bool:
        """Whether the tool has to be brought over this part, because nobody says where it lies."""
        return isinstance(self.spot.place, Above)

    @property
    def kind(self) -> str:
        """The routine's name, as a job file gives it: that of its class, in words."""
        if isinstance(self.routine, ToolChange):
            return "tool change" if self.routine.offsets else "reference"
        return _CAPITAL.sub(r" \1", type(self.routine).__name__).strip().lower()

    @property
    def offsets(self) -> tuple[int, ...]:
        """The work offsets (1–9) that this part writes."""
        if isinstance(self.routine, ToolChange):
            return self.routine.offsets
        number = getattr(self.routine, "offset", None)
        return (number,) if number is not None else ()

    def same_setting(self, before: Part) -> bool:
        """Return whether plate, lead and blank may stay just as they are after `before`, so that no hand is needed.

        Where the tool is brought by hand, or a new blank is put in, they may not. A wired lead reaches bare stock
        wherever it lies.
        """
        if self.here or self.new_blank:
            return False
        if self.wired and before.wired and self.spot.plate is None and before.spot.plate is None:
            return True
        one, other = (replace(part.spot, tool=self.tool, within=0.0, at=None) for part in (before, self))
        return one == other

    def moved(self, up: float) -> Part:
        """Return this part with its expected place `up` mm higher: a longer tool stands higher at contact."""
        place = self.spot.place
        if up == 0.0 or not isinstance(place, Position) or isinstance(self.routine, StopTest):
            return self
        return self.with_spot(replace(self.spot, place=place.plus(Position(0.0, 0.0, up))))

    def with_spot(self, spot: TopSpot) -> Part:
        """Return this part, touched at another spot."""
        routine: Any = self.routine
        return replace(self, routine=replace(routine, spot=spot))

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
    """Parts in the order in which they are done, on one machine. `source` says where the job comes from.

    `journal` names the file in which its runs are kept, beside the job; None is the user's own.
    """

    machine: MachineChoice
    parts: tuple[Part, ...]
    keep_outs: tuple[KeepOut, ...] = ()
    doubts: Doubts = DEFAULTS
    title: str = "job"
    journal: str | None = None
    source: str = ""

    @property
    def waves(self) -> tuple[int, ...]:
        """The numbers of the waves in which the parts are done, in order."""
        return tuple(dict.fromkeys(part.wave for part in self.parts))

    def wave(self, number: int) -> Job:
        """Return the job of one wave alone; raises `ValueError` for a wave that it does not have."""
        if number not in self.waves:
            raise ValueError(f"the job has the waves {', '.join(map(str, self.waves))}, and not {number}")
        return replace(self, parts=tuple(part for part in self.parts if part.wave == number))

    def with_options(self, **options: object) -> Job:
        """Return this job with some of the adapter's options changed."""
        merged = {**self.machine.options, **options}
        return replace(self, machine=replace(self.machine, options=merged))
