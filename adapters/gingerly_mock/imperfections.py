"""How far off everything may truly be, as shapes to draw from.

They come from the plain sizes of the options, or from a job's own doubts, so that a rehearsal draws just what the
job holds for possible.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.budgets import Doubts
from gingerly.geometry import Limits
from gingerly.uncertainty import Arcsine, Flat, Shape
from gingerly_mock.options import Options

FULL_STEP = 16
"""Motor steps within which a screw's error repeats. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Imperfections:
    """What may be off: shapes in mm (`skew` in rad), and the amplitudes `runout` and `screw` in mm.

    `latch_s` limits the mean lateness of the latch where it is known better than by the facts; `backlash` is None
    where the facts say it all.
    """

    radius: Shape
    thickness: Shape
    lip: Shape
    seating: Shape
    form: Shape
    spring: Shape
    skew: Shape
    runout: float
    screw: float
    backlash: Shape | None = None
    latch_s: Limits | None = None


def imperfections(options: Options) -> Imperfections:
    """Return what may be off on the machine that the options ask for."""
    doubts = options.doubts
    if doubts is not None:
        return _doubted(doubts)
    return Imperfections(
        radius=Flat(options.tool_tolerance),
        thickness=Flat(options.plate_tolerance),
        lip=Flat(options.plate_tolerance),
        seating=Flat.between(0.0, options.seating_gap),
        form=Flat(options.edge_form),
        spring=Flat(0.0),
        skew=Flat(0.0),
        runout=options.runout,
        screw=0.0,
    )


def _doubted(doubts: Doubts) -> Imperfections:
    return Imperfections(
        radius=doubts.radius,
        thickness=doubts.thickness,
        lip=doubts.lip,
        seating=doubts.seating,
        form=doubts.form,
        spring=doubts.spring,
        skew=doubts.skew,
        runout=doubts.runout.amplitude,
        screw=drawn_size(doubts.screw),
        backlash=doubts.backlash,
        latch_s=doubts.latch_s,
    )


def drawn_size(shape: Shape) -> float:
    """Return the amplitude of an arcsine, or of any other shape the one that scatters alike (mm)."""
    return shape.amplitude if isinstance(shape, Arcsine) else shape.u * math.sqrt(2.0)
