"""The touch plate as a solid: what lies under and beside the tool, where to touch it, and whether it stays put.

A corner plate is a block whose underside is recessed so that it sits over a corner of the stock, with a lip
hanging down each of two sides::

            side view, along B                         from above
                                                   b
         ┌───────────────────────┐  ─┬─ top        │   lip A │
         │                       │   │             ▼  ┌──────┬───────────┐
         │     ┌─────────────────┘  ─┴─             B │      │           │
         │lip A│  recess                              │      │  recess   │
         └─────┘                                      │      │ (beneath) │
               ┌── stock ──                           ├──────O───────────┤  O: the stock's corner,
                                                      │      │   lip B   │     origin of (a, b)
                                                      └──────┴───────────┘

Plate coordinates (a, b) in mm begin at the stock's corner; +a leads away from lip A into the stock, +b away
from lip B. At the front left corner a is +X and b is +Y; each corner further counter-clockwise turns the
plate by a quarter, so that lips A and B swap between X and Y. Nothing here knows a machine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from gingerly.geometry import Axis, Corner, Position, centroid
from gingerly.stock import Stock
from gingerly.tool import Tool
from gingerly.units import length, positive_length

MARGIN = 1.0
"""Millimetres that a touch keeps from an edge, a hole or a bolt of the plate: common practice, no source."""

LIP_GAP = 0.5
"""Millimetres that must stay free below the lips, so that the plate rests on the stock: our own choice."""

STEEL = 7.85
"""Density of mild steel in g/cm³, for the bolt."""


class Placement(Enum):
    """How the plate is laid on the stock."""

    SEATED = "seated"
    """Pushed home over the stock's corner, the lips hanging over two sides."""
    FLAT = "flat"
    """Standing on its lips on top of the stock: its whole height lies under the tool."""
    FLIPPED = "flipped"
    """Upside down on top of the stock: the floor of the recess faces up and is touched."""


@dataclass(frozen=True, slots=True)
class Bolt:
    """A screw, lug or socket for the test lead on top of the plate, at (a, b); sizes in mm."""

    a: float
    b: float
    radius: float
    height: float


@dataclass(frozen=True, slots=True)
class SpotWindow:
    """Where the tool's axis may stand for a touch of the plate's flat, in plate coordinates (mm).

    A rectangle less some discs, each (a, b, radius).
    """

    low_a: float
    high_a: float
    low_b: float
    high_b: float
    discs: tuple[tuple[float, float, float], ...] = ()

    def margin(self, a: float, b: float) -> float:
        """Return how far inside the window the point (a, b) lies, in mm; negative outside."""
        sides = min(a - self.low_a, self.high_a - a, b - self.low_b, self.high_b - b)
        return min([sides, *(math.hypot(a - x, b - y) - radius for x, y, radius in self.discs)])

    def middle(self) -> tuple[float, float]:
        """Return the point of a fine grid that lies deepest inside the window."""
        steps = [index / 24.0 for index in range(25)]
        points = [
            (self.low_a + u * (self.high_a - self.low_a), self.low_b + v * (self.high_b - self.low_b))
            for u in steps
            for v in steps
        ]
        return max(points, key=lambda point: round(self.margin(*point), 9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A corner touch plate; all lengths in mm, `density` in g/cm³.

    `size_a` and `size_b` are the block's extent across the lips, `height` its height. The recess measures
    `recess_a` × `recess_b` × `recess_depth`. `top` (metal under the tool when seated), `lip_a` and `lip_b`
    follow from these unless they were measured where they are touched. `relief_radius` is the relief at the
    recess's inner corner, `relief_through` whether it is a hole right through the top. `chamfer` is the
    broken edge around the top.

    Raises `ValueError` for sizes that cannot be.
    """

    name: str
    size_a: float
    size_b: float
    height: float
    recess_a: float
    recess_b: float
    recess_depth: float
    top: float = 0.0
    lip_a: float = 0.0
    lip_b: float = 0.0
    relief_radius: float = 0.0
    relief_through: bool = False
    bolt: Bolt | None = None
    chamfer: float = 0.5
    density: float = 2.70

    def __post_init__(self) -> None:
        for name in ("size_a", "size_b", "height", "recess_a", "recess_b", "recess_depth", "density"):
            positive_length(getattr(self, name), name=f"plate {name}")
        for name in ("relief_radius", "chamfer", "top", "lip_a", "lip_b"):
            if length(getattr(self, name), name=f"plate {name}") < 0.0:
                raise ValueError(f"plate {name} must not be negative, and is {getattr(self, name):g} mm")
        for whole, part in (("size_a", "recess_a"), ("size_b", "recess_b"), ("height", "recess_depth")):
            if getattr(self, part) >= getattr(self, whole):
                raise ValueError(
                    f"plate {part} ({getattr(self, part):g} mm) must be smaller than"
                    f" {whole} ({getattr(self, whole):g} mm)"
                )
        derived = {
            "top": self.height - self.recess_depth,
            "lip_a": self.size_a - self.recess_a,
            "lip_b": self.size_b - self.recess_b,
        }
        for name, value in derived.items():
            measured = getattr(self, name)
            if measured == 0.0:
                object.__setattr__(self, name, value)
            elif abs(measured - value) > 0.5:
                raise ValueError(
                    f"plate {name} is given as {measured:g} mm, but its other sizes leave {value:g} mm"
                )

    # ---- orientation ----------------------------------------------------------------------------------

    def axis_lip(self, corner: Corner, axis: Axis) -> float:
        """Return the lip in mm that hangs over the stock's face across `axis` at this corner.

        Raises `ValueError` for Z, where no lip is.
        """
        if axis is Axis.Z:
            raise ValueError("a lip lies across X or Y, not Z")
        swapped = corner.quarter_turns % 2 == 1
        return self.lip_a if (axis is Axis.X) != swapped else self.lip_b

    def to_machine(self, corner: Corner, a: float, b: float) -> tuple[float, float]:
        """Return (a, b) as a displacement (x, y) in mm from the stock's corner, in machine directions."""
        x, y = a, b
        for _ in range(corner.quarter_turns):
            x, y = -y, x
        return x, y

    def from_machine(self, corner: Corner, x: float, y: float) -> tuple[float, float]:
        """Return the plate coordinates (a, b) of a displacement (x, y) in mm from the stock's corner."""
        for _ in range(corner.quarter_turns):
            x, y = y, -x
        return x, y

    # ---- metal between tool and stock -----------------------------------------------------------------

    def thickness(self, placement: Placement) -> float:
        """Return the mm of metal (and hollow) between the stock's top face and the face that is touched."""
        return self.height if placement is Placement.FLAT else self.top

    def compensation(self, placement: Placement, corner: Corner, axis: Axis) -> float:
        """Return the mm between the touched face of the plate and the stock's face across `axis`.

        Raises `ValueError` for X and Y unless the plate is seated, since no lip hangs there then.
        """
        if axis is Axis.Z:
            return self.thickness(placement)
        if placement is not Placement.SEATED:
            raise ValueError(f"a plate laid {placement.value} has no lip beside the stock")
        return self.axis_lip(corner, axis)

    @property
    def highest(self) -> float:
        """How far anything on the plate stands above the face that is touched when seated, in mm."""
        return self.bolt.height if self.bolt is not None else 0.0

    # ---- where to touch the flat ----------------------------------------------------------------------

    def spot_window(self, placement: Placement, corner: Corner, tool: Tool, stock: Stock) -> SpotWindow:
        """Return where the tool's axis may stand over the flat, in plate coordinates (mm).

        The whole tip stays `MARGIN` inside supported metal, clear of a through relief hole and of the bolt.
        The window may be empty (its margin is negative everywhere) where plate or stock are too small.
        """
        keep = tool.radius + MARGIN
        if placement is Placement.FLAT:
            low_a, high_a, low_b, high_b = -self.lip_a, self.recess_a, -self.lip_b, self.recess_b
        else:
            stock_a, stock_b = self._stock_extent(corner, stock)
            low_a, high_a, low_b, high_b = 0.0, min(self.recess_a, stock_a), 0.0, min(self.recess_b, stock_b)
        discs = []
        if self.relief_radius > 0.0 and self.relief_through:
            discs.append((0.0, 0.0, self.relief_radius + keep))
        if self.bolt is not None:
            discs.append((self.bolt.a, self.bolt.b, self.bolt.radius + keep))
        return SpotWindow(low_a + keep, high_a - keep, low_b + keep, high_b - keep, tuple(discs))

    def _stock_extent(self, corner: Corner, stock: Stock) -> tuple[float, float]:
        swapped = corner.quarter_turns % 2 == 1
        return (stock.size_y, stock.size_x) if swapped else (stock.size_x, stock.size_y)

    # ---- does it stay? --------------------------------------------------------------------------------

    def mass_and_centroid(self) -> tuple[float, Position]:
        """Return mass in g and centroid in plate coordinates (mm), height measured from the stock's top face."""
        to_grams = self.density / 1000.0
        parts = [
            (self.size_a * self.size_b * self.height * to_grams, self._block_middle()),
            (
                -self.recess_a * self.recess_b * self.recess_depth * to_grams,
                Position(self.recess_a / 2, self.recess_b / 2, -self.recess_depth / 2),
            ),
        ]
        if self.relief_radius > 0.0 and self.relief_through:
            depth = self.height - self.recess_depth
            hole = math.pi * self.relief_radius**2 * depth
            parts.append((-hole * to_grams, Position(0.0, 0.0, depth / 2)))
        if self.bolt is not None:
            body = math.pi * self.bolt.radius**2 * self.bolt.height
            above = self.height - self.recess_depth + self.bolt.height / 2
            parts.append((body * STEEL / 1000.0, Position(self.bolt.a, self.bolt.b, above)))
        return centroid(parts)

    def _block_middle(self) -> Position:
        return Position(
            self.recess_a - self.size_a / 2,
            self.recess_b - self.size_b / 2,
            self.height / 2 - self.recess_depth,
        )

    def stability(self, placement: Placement, corner: Corner, stock: Stock) -> float:
        """Return how far inside the supported area the centroid lies, in mm; negative: the plate tips off.

        Seated, the support is where recess and stock overlap. On top of the stock, it is the hull of the lips
        (flat) or of the block (flipped), or half the stock where that is smaller.
        """
        _, middle = self.mass_and_centroid()
        stock_a, stock_b = self._stock_extent(corner, stock)
        if placement is Placement.SEATED:
            reach_a, reach_b = min(self.recess_a, stock_a), min(self.recess_b, stock_b)
            return min(middle.x, reach_a - middle.x, middle.y, reach_b - middle.y)
        hull = self._standing_hull(placement)
        return min(_margin_in_hull(hull, (middle.x, middle.y)), stock_a / 2, stock_b / 2)

    def _standing_hull(self, placement: Placement) -> tuple[tuple[float, float], ...]:
        low_a, high_a, low_b, high_b = -self.lip_a, self.recess_a, -self.lip_b, self.recess_b
        if placement is Placement.FLIPPED:
            return ((low_a, low_b), (high_a, low_b), (high_a, high_b), (low_a, high_b))
        return ((low_a, low_b), (high_a, low_b), (high_a, 0.0), (0.0, high_b), (low_a, high_b))

    def objections(self, placement: Placement, corner: Corner, stock: Stock) -> tuple[str, ...]:
        """Return, in words and numbers, every reason why this plate must not be laid so on this stock."""
        found = []
        if placement is Placement.SEATED and stock.proud < self.recess_depth + LIP_GAP:
            short = self.recess_depth + LIP_GAP - stock.proud
            found.append(
                f"the stock stands only {stock.proud:.3f} mm proud, but the lips reach {self.recess_depth:.3f} mm"
                f" down and need {LIP_GAP:g} mm free below: {short:.3f} mm too little"
                " (the plate would stand on its lips and Z come out too high)"
            )
        if placement is Placement.FLIPPED and self.bolt is not None:
            found.append(f"flipped it would stand on its bolt, {self.bolt.height:.3f} mm high")
        margin = self.stability(placement, corner, stock)
        if margin < MARGIN:
            found.append(
                f"its centroid lies {margin:.3f} mm inside the supported area and {MARGIN:g} mm are needed"
                f" ({MARGIN - margin:.3f} mm too little: it would tip)"
            )
        return tuple(found)


def _margin_in_hull(hull: tuple[tuple[float, float], ...], point: tuple[float, float]) -> float:
    """Return the distance from `point` to the nearest side of a convex, counter-clockwise polygon; < 0 outside."""
    margins = []
    for (ax, ay), (bx, by) in zip(hull, (*hull[1:], hull[0]), strict=True):
        side = math.hypot(bx - ax, by - ay)
        margins.append(((bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax)) / side)
    return min(margins)
