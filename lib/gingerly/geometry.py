"""Axes, positions, boxes: the few pieces of geometry that everything else is told in.

Right-handed Cartesian millimetres in machine coordinates, Z up, unless a name says ``work``. Nothing here
knows what a machine, a tool or a plate is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, IntEnum
from typing import NamedTuple

from gingerly.units import shown

Point = tuple[float, float]
"""A point in the plane, in millimetres."""

SLACK = 1e-9
"""A millionth of a micrometre: what rounding may add to a coordinate without its being outside. Our own choice."""


_new = tuple.__new__
"""Makes a position of three numbers without the detour through its constructor: a run makes thousands."""


class Axis(IntEnum):
    """A linear axis; its value indexes a `Position`."""

    X = 0
    Y = 1
    Z = 2


class Position(NamedTuple):
    """A point, or a displacement, in millimetres."""

    x: float
    y: float
    z: float

    def plus(self, other: Position) -> Position:
        """Return the sum of two displacements, or a point moved by one."""
        (x, y, z), (by_x, by_y, by_z) = self, other
        return _new(Position, (x + by_x, y + by_y, z + by_z))

    def minus(self, other: Position) -> Position:
        """Return the displacement that leads from `other` to here."""
        (x, y, z), (from_x, from_y, from_z) = self, other
        return _new(Position, (x - from_x, y - from_y, z - from_z))

    def times(self, factor: float) -> Position:
        """Return the displacement stretched by `factor`."""
        x, y, z = self
        return _new(Position, (x * factor, y * factor, z * factor))

    def dot(self, other: Position) -> float:
        """Return the scalar product, in mm²."""
        return self.x * other.x + self.y * other.y + self.z * other.z

    def length(self) -> float:
        """Return the Euclidean length in millimetres."""
        return math.hypot(*self)

    def distance(self, other: Position) -> float:
        """Return the distance to another point in millimetres."""
        return math.dist(self, other)

    def unit(self) -> Position:
        """Return the displacement of length one in the same direction.

        Raises `ValueError` for a displacement of no length.
        """
        length = math.hypot(*self)
        if length == 0.0:
            raise ValueError("a displacement of no length has no direction")
        x, y, z = self
        return _new(Position, (x / length, y / length, z / length))

    def towards(self, other: Position, distance: float) -> Position:
        """Return the point `distance` mm from here on the straight line to `other`, but never past it."""
        whole = self.distance(other)
        if whole == 0.0 or distance >= whole:
            return other
        return self.plus(other.minus(self).times(distance / whole))

    def turned(self, turn: float) -> Position:
        """Return the displacement turned about Z by `turn` rad, counter-clockwise from above."""
        (x, y, z), cos, sin = self, math.cos(turn), math.sin(turn)
        return _new(Position, (cos * x - sin * y, sin * x + cos * y, z))

    def with_axes(self, values: Mapping[Axis, float]) -> Position:
        """Return this position with the named axes replaced and the others untouched."""
        x, y, z = self
        return _new(Position, (values.get(Axis.X, x), values.get(Axis.Y, y), values.get(Axis.Z, z)))

    def is_finite(self) -> bool:
        """Return whether all three coordinates are finite numbers."""
        x, y, z = self
        return math.isfinite(x) and math.isfinite(y) and math.isfinite(z)

    def __str__(self) -> str:
        return f"X{self.x:.3f} Y{self.y:.3f} Z{self.z:.3f}"


ORIGIN = Position(0.0, 0.0, 0.0)


def distance_to_line(point: Position, start: Position, direction: Position) -> float:
    """Return how far `point` lies beside the line through `start` along the unit vector `direction`, in mm."""
    (x, y, z), (from_x, from_y, from_z), (way_x, way_y, way_z) = point, start, direction
    dx, dy, dz = x - from_x, y - from_y, z - from_z
    along = dx * way_x + dy * way_y + dz * way_z
    return math.hypot(dx - way_x * along, dy - way_y * along, dz - way_z * along)


@dataclass(frozen=True, slots=True)
class Limits:
    """A closed range of one number, `low` ≤ value ≤ `high`.

    Raises `ValueError` for limits that are not finite or the wrong way round.
    """

    low: float
    high: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low) and math.isfinite(self.high)):
            raise ValueError(f"limits must be finite, not {self.low} … {self.high}")
        if self.low > self.high:
            raise ValueError(f"the lower limit {self.low} is above the upper limit {self.high}")

    @property
    def middle(self) -> float:
        """The value half-way between the limits."""
        return (self.low + self.high) / 2.0

    @property
    def half_width(self) -> float:
        """Half the distance between the limits."""
        return (self.high - self.low) / 2.0

    def hold(self, value: float, *, slack: float = 0.0) -> bool:
        """Return whether `value` lies within the limits widened by `slack`."""
        return self.low - slack <= value <= self.high + slack


@dataclass(frozen=True, slots=True)
class Box:
    """An axis-aligned volume from corner `low` to corner `high`, in millimetres.

    Raises `ValueError` for corners that are not finite or the wrong way round.
    """

    low: Position
    high: Position

    def __post_init__(self) -> None:
        if not (self.low.is_finite() and self.high.is_finite()):
            raise ValueError("a box needs finite corners")
        for axis in Axis:
            if self.low[axis] > self.high[axis]:
                raise ValueError(
                    f"the box is inside out on {axis.name}: {self.low[axis]} is above {self.high[axis]}"
                )

    def excess(self, point: Position) -> tuple[Axis, float] | None:
        """Return the axis on which `point` is furthest outside, and by how many mm; None if it is inside.

        A coordinate that is no number is outside by an infinite distance.
        """
        worst: tuple[Axis, float] | None = None
        for axis in Axis:
            beyond = max(self.low[axis] - point[axis], point[axis] - self.high[axis])
            if math.isnan(beyond):
                return axis, math.inf
            if beyond > SLACK and (worst is None or beyond > worst[1]):
                worst = (axis, beyond)
        return worst


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A column that the tool may not enter: clamps, vise jaws, a sensor on its post.

    `low` and `high` bound it in X and Y, in machine coordinates. `height_above_stock` says how far it stands
    above the stock's top face, in millimetres (negative where it stays below), or is None where nobody measured
    it: then the column has no upper end. While the tool's length is unknown every column is treated as endless.

    Raises `ValueError` for bounds that are not finite or enclose nothing.
    """

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    height_above_stock: float | None = None

    def __post_init__(self) -> None:
        if not all(math.isfinite(value) for value in (*self.low, *self.high)):
            raise ValueError(f"keep-out {self.name!r} needs finite corners")
        if self.low[0] >= self.high[0] or self.low[1] >= self.high[1]:
            raise ValueError(f"keep-out {self.name!r} is inside out: {self.low} is not below {self.high}")
        if self.height_above_stock is not None and not math.isfinite(self.height_above_stock):
            raise ValueError(f"keep-out {self.name!r} needs a finite height, or none at all")

    def clearance(self, start: Position, end: Position) -> float:
        """Return the smallest XY distance in mm between the segment `start`–`end` and the column; 0 inside."""
        return segment_to_rectangle((start.x, start.y), (end.x, end.y), self.low, self.high)


def segment_to_rectangle(start: Point, end: Point, low: Point, high: Point) -> float:
    """Return the distance in mm between a segment and an axis-aligned rectangle in the plane; 0 if they meet.

    Liang–Barsky clipping decides whether they meet; if they do not, the least distance is found between a
    corner and the segment, or between an end of the segment and the rectangle.
    """
    if _segment_meets_rectangle(start, end, low, high):
        return 0.0
    corners = [(x, y) for x in (low[0], high[0]) for y in (low[1], high[1])]
    to_segment = (_point_to_segment(corner, start, end) for corner in corners)
    to_rectangle = (_point_to_rectangle(point, low, high) for point in (start, end))
    return min(*to_segment, *to_rectangle)


def _segment_meets_rectangle(start: Point, end: Point, low: Point, high: Point) -> bool:
    enter, leave = 0.0, 1.0
    for axis in (0, 1):
        step = end[axis] - start[axis]
        if step == 0.0:
            if not low[axis] <= start[axis] <= high[axis]:
                return False
            continue
        first, second = sorted(((low[axis] - start[axis]) / step, (high[axis] - start[axis]) / step))
        enter, leave = max(enter, first), min(leave, second)
    return enter <= leave


def _point_to_segment(point: Point, start: Point, end: Point) -> float:
    along = (end[0] - start[0], end[1] - start[1])
    squared = along[0] ** 2 + along[1] ** 2
    share = 0.0
    if squared > 0.0:
        share = ((point[0] - start[0]) * along[0] + (point[1] - start[1]) * along[1]) / squared
    share = min(1.0, max(0.0, share))
    return math.dist(point, (start[0] + share * along[0], start[1] + share * along[1]))


def _point_to_rectangle(point: Point, low: Point, high: Point) -> float:
    aside = max(low[0] - point[0], 0.0, point[0] - high[0])
    ahead = max(low[1] - point[1], 0.0, point[1] - high[1])
    return math.hypot(aside, ahead)


def quarter_turned(point: Point, turns: int) -> Point:
    """Return `point` after so many quarter turns about the origin; counter-clockwise, negative the other way."""
    x, y = point
    for _ in range(turns % 4):
        x, y = -y, x
    return x, y


def margin_in_polygon(corners: Sequence[Point], point: Point) -> float:
    """Return the distance in mm from `point` to the nearest side of a convex polygon; negative outside.

    `corners` go round counter-clockwise; two may coincide. Outside, it is the distance to the line of the side
    that is missed by most, which is never more than the distance to the polygon.
    """
    margins = []
    for (ax, ay), (bx, by) in zip(corners, (*corners[1:], corners[0]), strict=True):
        side = math.hypot(bx - ax, by - ay)
        if side > 0.0:
            margins.append(((bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax)) / side)
    return min(margins)


class Corner(Enum):
    """One of the four upright outside corners of rectangular stock, seen from above with +Y away from you.

    The value is the pair of directions, along X and along Y, that lead from the corner into the stock.
    """

    FRONT_LEFT = (1, 1)
    FRONT_RIGHT = (-1, 1)
    BACK_RIGHT = (-1, -1)
    BACK_LEFT = (1, -1)

    @property
    def inward(self) -> tuple[int, int]:
        """The signs of X and Y along which the stock extends from this corner."""
        return self.value

    @property
    def quarter_turns(self) -> int:
        """Quarter turns counter-clockwise that bring a plate from the front left corner to this one."""
        return (Corner.FRONT_LEFT, Corner.FRONT_RIGHT, Corner.BACK_RIGHT, Corner.BACK_LEFT).index(self)

    @property
    def label(self) -> str:
        """The corner's name as people write it, such as ``front left``."""
        return self.name.lower().replace("_", " ")

    @classmethod
    def named(cls, name: str) -> Corner:
        """Return the corner that people call `name` (``front left``); raises `ValueError` for anything else."""
        wanted = " ".join(name.lower().replace("-", " ").replace("_", " ").split()) if isinstance(name, str) else ""
        for corner in cls:
            if corner.label == wanted:
                return corner
        known = ", ".join(corner.label for corner in cls)
        raise ValueError(f"no corner is called {shown(name)}; the four are: {known}")


def centroid(parts: Iterable[tuple[float, Position]]) -> tuple[float, Position]:
    """Return total volume and centroid of parts given as (signed volume in mm³, centroid); holes are negative.

    The composite centroid is Σ(Vᵢ·xᵢ) / ΣVᵢ. Raises `ValueError` when nothing is left.
    """
    total, moment = 0.0, ORIGIN
    for volume, middle in parts:
        total += volume
        moment = moment.plus(middle.times(volume))
    if total <= 0.0:
        raise ValueError("the parts leave no volume")
    return total, moment.times(1.0 / total)
