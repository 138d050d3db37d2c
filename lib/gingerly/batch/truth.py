"""What a simulated machine must have on its table for a routine, and what the routine should then find there."""

from __future__ import annotations

from gingerly.driver.adapter import Feature
from gingerly.geometry import Axis, Position
from gingerly.job import Part
from gingerly.messages.commands import AxisValues
from gingerly.routines import (
    BlockMiddle,
    BoreCentre,
    BossCentre,
    InsideCorner,
    OutsideCorner,
    PocketMiddle,
    RibMiddle,
    Routine,
    SingleEdge,
    SkewedCorner,
    SlotMiddle,
    Surface,
    Verify,
)

Centred = BoreCentre | BossCentre | SlotMiddle | RibMiddle | PocketMiddle


def routine_of(part: Part) -> Routine:
    """Return what a part touches: to verify a routine is to do it again."""
    return part.routine.routine if isinstance(part.routine, Verify) else part.routine


def feature_for(routine: Routine) -> Feature | None:
    """Return what must be milled into the blank, or left standing, for the routine; None for a corner."""
    match routine:
        case BoreCentre():
            return Feature("bore", routine.centre, (routine.diameter, routine.diameter), routine.deep)
        case BossCentre():
            return Feature("boss", routine.centre, (routine.diameter, routine.diameter), routine.height)
        case SlotMiddle():
            return Feature("pocket", routine.centre, _across(routine), routine.deep)
        case RibMiddle():
            return Feature("island", routine.centre, _across(routine), routine.height)
        case PocketMiddle():
            return Feature("pocket", routine.centre, routine.sizes, routine.deep)
        case InsideCorner():
            return Feature("pocket", _middle_of(routine), routine.sizes, routine.deep)
        case BlockMiddle() if routine.sizes is not None and routine.centre is not None:
            return Feature("island", routine.centre, routine.sizes, routine.height or routine.spot.stock.proud)
    return None


def _across(routine: SlotMiddle | RibMiddle) -> tuple[float, float]:
    across = (routine.width, routine.length)
    return across if routine.axis is Axis.X else (across[1], across[0])


def _middle_of(routine: InsideCorner) -> tuple[float, float]:
    """Return where the pocket's middle lies, in mm inward from the stock's corner."""
    signs, stock_signs = routine.which.inward, routine.spot.corner.inward
    return (
        routine.at[0] + routine.sizes[0] / 2.0 * signs[0] * stock_signs[0],
        routine.at[1] + routine.sizes[1] / 2.0 * signs[1] * stock_signs[1],
    )


def truth_for(routine: Routine, corner: Position, turn: float) -> AxisValues:
    """Return the axes that a routine should find (mm), for stock whose corner truly lies there, turned by `turn` (rad).

    Empty where the routine finds no origin.
    """
    match routine:
        case OutsideCorner(reads=reads):
            return tuple(zip(Axis, corner.minus(reads), strict=True))
        case SkewedCorner(reads=reads):
            return tuple(zip(Axis, corner.minus(reads.turned(turn)), strict=True))
        case Surface(reads=height):
            return ((Axis.Z, corner.z - height),)
        case SingleEdge(axis=axis):
            return _axes(corner, routine.reads, (axis,), with_top=routine.with_top)
        case SlotMiddle(axis=axis) | RibMiddle(axis=axis):
            return _axes(_place(routine, corner, turn), routine.reads, (axis,), with_top=routine.with_top)
        case BoreCentre() | BossCentre() | PocketMiddle() | InsideCorner() | BlockMiddle():
            both = (Axis.X, Axis.Y)
            return _axes(_place(routine, corner, turn), routine.reads, both, with_top=routine.with_top)
    return ()


def _place(routine: Centred | InsideCorner | BlockMiddle, corner: Position, turn: float) -> Position:
    stock, inward = routine.spot.stock, routine.spot.corner.inward
    if isinstance(routine, InsideCorner):
        x, y = routine.at
    else:
        x, y = routine.centre or (stock.size_x / 2.0, stock.size_y / 2.0)
    return corner.plus(Position(x * inward[0], y * inward[1], 0.0).turned(turn))


def _axes(place: Position, reads: Position, axes: tuple[Axis, ...], *, with_top: bool) -> AxisValues:
    found = (*axes, Axis.Z) if with_top else axes
    return tuple((axis, place[axis] - reads[axis]) for axis in found)
