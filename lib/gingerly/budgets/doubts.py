"""What nobody measures at the touch itself, with honest defaults for home-made parts, in this one place."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.geometry import Limits
from gingerly.uncertainty.bounded import Arcsine, Flat
from gingerly.uncertainty.shapes import Shape

EITHER = 0
"""Work that is approached in both directions of an axis, unlike +1 (always towards plus) and −1."""

# What nobody measured: our own choice for home-made parts, said in every budget and replaced by whoever knows.
RADIUS = Flat(0.005)
SPRING = Flat(0.002)
RUNOUT = Arcsine(0.015)
PLATE = Flat(0.01)
SEATING = Flat.between(0.0, 0.02)
FORM = Flat(0.01)
SKEW = Flat(math.radians(0.1))
SCREW = Arcsine(0.00125)
SPINDLE_GROWTH = Flat.between(0.0, 0.01)
NOTHING = Flat(0.0)
LEAST_BACKLASH = 0.5
"""What share of the stated backlash there is at least: stated is the most, and wear is uneven along a screw.
Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """What is known of everything that is not measured at the touch itself; mm, radians, seconds.

    Each is a shape: `Flat.between(low, high)` for limits, `Normal.expanded(U, k=2)` for a certificate's U.

    `radius`: real less stated tool radius. `spring`: how far tool or plate yield before the circuit closes.
    `runout`: distance of the tool's axis from the spindle's (an indicator reads twice that); it keeps its
    direction while the tool stays in. `thickness` and `lip`: real less stated metal of the plate. `seating`: gap
    between plate and stock, one-sided. `form`: the touched face, real less ideal, outward. `skew`: rotation of
    the stock about Z. `screw`: error within a full motor step. `spindle_growth`: how much longer the spindle
    is at the cut, one-sided, for Z. `rehoming`: what homing may differ by, if the machine is homed before the cut.

    `approach` says for X, Y and Z in which direction (+1, −1, or `EITHER`) the work will be approached: touches
    the other way are off by the `backlash`, which lies between half and all of that of the facts unless measured.
    `latch_s` limits the *mean* lateness of the latch where it was calibrated; otherwise the facts do.
    """

    radius: Shape = RADIUS
    spring: Shape = SPRING
    runout: Arcsine = RUNOUT
    thickness: Shape = PLATE
    lip: Shape = PLATE
    seating: Shape = SEATING
    form: Shape = FORM
    skew: Shape = SKEW
    screw: Shape = SCREW
    spindle_growth: Shape = SPINDLE_GROWTH
    rehoming: Shape = NOTHING
    backlash: Shape | None = None
    approach: tuple[int, int, int] = (EITHER, EITHER, -1)
    latch_s: Limits | None = None

    def __post_init__(self) -> None:
        if len(self.approach) != 3 or any(side not in (-1, 0, 1) for side in self.approach):
            raise ValueError(f"work is approached along +1, −1 or either (0) on X, Y and Z, not {self.approach}")


DEFAULTS = Doubts()

CERTAIN = Doubts(
    radius=NOTHING,
    spring=NOTHING,
    runout=Arcsine(0.0),
    thickness=NOTHING,
    lip=NOTHING,
    seating=NOTHING,
    form=NOTHING,
    skew=NOTHING,
    screw=Arcsine(0.0),
    spindle_growth=NOTHING,
)
"""Nothing in doubt but what the machine itself leaves open: for what exists on paper or in memory only."""
