"""What a job says about what nobody measured: limits and certificates of tool, plate, seat, stock and spindle.

A tolerance stands as its limits, ``{ low = -0.005, high = 0.005 }``, or as a certificate states it,
``{ U = 0.004, k = 2 }``; a bare ± would leave open what it means.
"""

from __future__ import annotations

import math
from typing import Any, Literal

from gingerly.budgets import DEFAULTS, Doubts
from gingerly.geometry import Limits
from gingerly.job.tables import LatchTable
from gingerly.job.typed import Length, NonNegativeLength, Number, PositiveLength, Table, given_fields
from gingerly.uncertainty import Arcsine, Flat, Normal, Shape

Side = Literal["plus", "minus", "either"]
SIDES = {"plus": 1, "minus": -1, "either": 0}


class ToleranceTable(Table, kw_only=True, frozen=True):
    """A length that is not known: its limits `low` and `high`, or a certificate's `U` and coverage factor `k`."""

    low: Length | None = None
    high: Length | None = None
    U: PositiveLength | None = None
    k: Number | None = None


class AngleTable(Table, kw_only=True, frozen=True):
    """An angle that is not known, in degrees: its limits."""

    low: Number
    high: Number


class ApproachTable(Table, kw_only=True, frozen=True):
    """In which direction of each axis the work will be approached, so that backlash lies always on one side."""

    x: Side | None = None
    y: Side | None = None
    z: Side | None = None


class DoubtsTable(Table, kw_only=True, frozen=True):
    """What nobody measures at the touch; see `gingerly.budgets.Doubts`. What is left out has honest defaults.

    `runout` is how far the tool's axis lies off the spindle's, `screw` the most that a screw is off within one full
    motor step; both have a size and an unknown angle. `latch_s` limits the mean lateness of the latch.
    """

    radius: ToleranceTable | None = None
    spring: ToleranceTable | None = None
    runout: NonNegativeLength | None = None
    thickness: ToleranceTable | None = None
    lip: ToleranceTable | None = None
    seating: ToleranceTable | None = None
    form: ToleranceTable | None = None
    skew_deg: AngleTable | None = None
    screw: NonNegativeLength | None = None
    spindle_growth: ToleranceTable | None = None
    rehoming: ToleranceTable | None = None
    backlash: ToleranceTable | None = None
    approach: ApproachTable | None = None
    latch_s: LatchTable | None = None


_SIZES = ("runout", "screw")
_OTHERS = ("skew_deg", "approach", "latch_s")


def built(table: DoubtsTable) -> Doubts:
    """Return the doubts that a table states; raises `ValueError` that begins with the key of what cannot be."""
    values: dict[str, Any] = {}
    for name, value in given_fields(table, *_OTHERS).items():
        values[name] = Arcsine(value) if name in _SIZES else _shape(name, value)
    if table.skew_deg is not None:
        low, high = table.skew_deg.low, table.skew_deg.high
        values["skew"] = _flat("skew_deg", math.radians(low), math.radians(high))
    if table.latch_s is not None:
        values["latch_s"] = Limits(table.latch_s.low, table.latch_s.high)
    if table.approach is not None:
        said = (table.approach.x, table.approach.y, table.approach.z)
        values["approach"] = tuple(
            usual if side is None else SIDES[side] for side, usual in zip(said, DEFAULTS.approach, strict=True)
        )
    return Doubts(**values)


def _shape(name: str, given: dict[str, float]) -> Shape:
    if set(given) == {"low", "high"}:
        return _flat(name, given["low"], given["high"])
    if set(given) == {"U", "k"}:
        if not given["k"] > 0.0:
            raise ValueError(f"{name}: the coverage factor k must be above 0, not {given['k']:g}")
        return Normal.expanded(given["U"], k=given["k"])
    raise ValueError(f"{name}: say either low and high, or U and k, not {', '.join(given) or 'nothing'}")


def _flat(name: str, low: float, high: float) -> Flat:
    try:
        return Flat.between(low, high)
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from None
