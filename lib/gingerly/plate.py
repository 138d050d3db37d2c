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
plate by a quarter, so that lips A and B swap between X and Y.

A plate laid on top of the stock, flat or flipped, has its block's outer corner where the stock's corner is. It
is turned over about the diagonal a = b, so that its lips then stand up along the same two sides of the stock,
but swapped. Nothing here knows a machine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

from gingerly.geometry import SLACK, Axis, Corner, Point, Position, centroid, margin_in_polygon, quarter_turned
from gingerly.stock import Stock
from gingerly.tool import Tool
from gingerly.units import length, number, positive_length

MARGIN = 1.0
"""Millimetres that a touch keeps from an edge, a hole or a bolt of the plate: common practice, no source."""

LIP_GAP = 0.5
"""Millimetres that must stay free below the lips, so that the plate rests on the stock: our own choice."""

MEASURED_WITHIN = 0.5
"""Millimetres by which a measured thickness may differ from what the other sizes leave; more is a slip:
our own choice."""

STEEL = 7.85
"""Density of mild steel in g/cm³, for the bolt; handbook value, from memory."""

_FROM_SIZES = float("nan")
"""Stands for a thickness that nobody measured. Told apart by identity: any other NaN is refused."""


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
    """A screw, lug or socket for the test lead on top of the plate, at (a, b); sizes in mm.

    Raises `ValueError` for a size that cannot be.
    """

    a: float
    b: float
    radius: float
    height: float

    def __post_init__(self) -> None:
        for name in ("a", "b"):
            object.__setattr__(self, name, length(getattr(self, name), name=f"bolt {name}"))
        for name in ("radius", "height"):
            object.__setattr__(self, name, positive_length(getattr(self, name), name=f"bolt {name}"))


@dataclass(frozen=True, slots=True)
class SpotWindow:
    """Where the tool's axis may stand for a touch of the plate's flat, in plate coordinates (mm).

    A rectangle, less some discs, each (a, b, radius), and less what lies beyond some slanting lines, each
    (u, v, limit) with a·u + b·v ≤ limit, where (u, v) is of length one.
    """

    low_a: float
    high_a: float
    low_b: float
    high_b: float
    discs: tuple[tuple[float, float, float], ...] = ()
    slants: tuple[tuple[float, float, float], ...] = ()

    def margin(self, a: float, b: float) -> float:
        """Return how far inside the window the point (a, b) lies, in mm; negative outside."""
        sides = min(a - self.low_a, self.high_a - a, b - self.low_b, self.high_b - b)
        off_discs = (math.hypot(a - x, b - y) - radius for x, y, radius in self.discs)
        off_slants = (limit - a * u - b * v for u, v, limit in self.slants)
        return min([sides, *off_discs, *off_slants])

    def middle(self) -> tuple[float, float]:
        """Return the point of a fine grid that lies deepest inside the window."""
        return _deepest(self)


@lru_cache(maxsize=256)
def _deepest(window: SpotWindow) -> tuple[float, float]:
    """The search is a thousand times slower than looking it up, and every touch of a batch asks again."""
    steps = [index / 24.0 for index in range(25)]
    points = [
        (window.low_a + u * (window.high_a - window.low_a), window.low_b + v * (window.high_b - window.low_b))
        for u in steps
        for v in steps
    ]
    return max(points, key=lambda point: round(window.margin(*point), 9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A corner touch plate; all lengths in mm, `density` in g/cm³.

    `size_a` and `size_b` are the block's extent across the lips, `height` its height. The recess measures
    `recess_a` × `recess_b` × `recess_depth`. `top` (metal under the tool when seated), `lip_a` and `lip_b`
    follow from these unless they were measured where they are touched. `relief_radius` is the relief at the
    recess's inner corner, `relief_through` whether it is a hole right through the top. `chamfer` is the
    broken edge around the top. Lengths may be given as text (``"1/2 in"``) and are kept in mm.

    Where the defaults come from: `chamfer` is common practice, no source; `density` is that of aluminium, a
    handbook value, from memory.

    Raises `ValueError` for sizes that cannot be.
    """

    name: str
    size_a: float
    size_b: float
    height: float
    recess_a: float
    recess_b: float
    recess_depth: float
    top: float = _FROM_SIZES
    lip_a: float = _FROM_SIZES
    lip_b: float = _FROM_SIZES
    relief_radius: float = 0.0
    relief_through: bool = False
    bolt: Bolt | None = None
    chamfer: float = 0.5
    density: float = 2.70

    def __post_init__(self) -> None:
        for name in ("size_a", "size_b", "height", "recess_a", "recess_b", "recess_depth"):
            self._settle(name, positive_length(getattr(self, name), name=f"plate {name}"))
        for name in ("relief_radius", "chamfer"):
            self._settle(name, length(getattr(self, name), name=f"plate {name}"))
            if getattr(self, name) < 0.0:
                raise ValueError(f"plate {name} must not be negative, and is {getattr(self, name):g} mm")
        self._settle("density", number(self.density, name="plate density"))
        if self.density <= 0.0:
            raise ValueError(f"plate density must be greater than 0 g/cm³, not {self.density:g}")
        for whole, part in (("size_a", "recess_a"), ("size_b", "recess_b"), ("height", "recess_depth")):
            self._require_smaller(part, getattr(self, whole), f"{whole} ({getattr(self, whole):g} mm)")
        self._settle_thicknesses()
        self._refuse_impossible_details()

    def _settle(self, name: str, value: float) -> None:
        object.__setattr__(self, name, value)

    def _require_smaller(self, part: str, limit: float, than: str) -> None:
        if getattr(self, part) >= limit:
            raise ValueError(f"plate {part} ({getattr(self, part):g} mm) must be smaller than {than}")

    def _settle_thicknesses(self) -> None:
        left_over = {
            "top": self.height - self.recess_depth,
            "lip_a": self.size_a - self.recess_a,
            "lip_b": self.size_b - self.recess_b,
        }
        for name, left in left_over.items():
            if getattr(self, name) is _FROM_SIZES:
                self._settle(name, left)
                continue
            measured = positive_length(getattr(self, name), name=f"plate {name}")
            self._settle(name, measured)
            if abs(measured - left) > MEASURED_WITHIN:
                raise ValueError(
                    f"plate {name} is given as {measured:g} mm, but its other sizes leave {left:g} mm:"
                    f" they must agree within {MEASURED_WITHIN:g} mm"
                )

    def _refuse_impossible_details(self) -> None:
        thinnest = min(self.size_a - self.recess_a, self.size_b - self.recess_b, self.recess_a, self.recess_b)
        self._require_smaller("relief_radius", thinnest, f"lips and recess ({thinnest:g} mm at the narrowest)")
        self._require_smaller("chamfer", self.height - self.recess_depth, "the metal over the recess")
        if self.bolt is not None and not self._block_holds(self.bolt.a, self.bolt.b):
            raise ValueError(f"plate bolt at ({self.bolt.a:g}, {self.bolt.b:g}) mm does not stand on the plate")

    def _block_holds(self, a: float, b: float) -> bool:
        beyond = max(self._low_a - a, a - self.recess_a, self._low_b - b, b - self.recess_b)
        return beyond <= SLACK

    @property
    def _low_a(self) -> float:
        return self.recess_a - self.size_a

    @property
    def _low_b(self) -> float:
        return self.recess_b - self.size_b

    # ---- orientation ----------------------------------------------------------------------------------

    def axis_lip(self, corner: Corner, axis: Axis) -> float:
        """Return the lip in mm that hangs over the stock's face across `axis` at this corner.

        Raises `ValueError` for Z, where no lip is.
        """
        if axis is Axis.Z:
            raise ValueError("a lip lies across X or Y, not Z")
        swapped = corner.quarter_turns % 2 == 1
        return self.lip_a if (axis is Axis.X) != swapped else self.lip_b

    def wall_length(self, corner: Corner, axis: Axis) -> float:
        """Return how far in mm the wall across `axis` runs beside the recess, from the stock's corner on.

        Raises `ValueError` for Z, where no wall is.
        """
        if axis is Axis.Z:
            raise ValueError("a wall lies across X or Y, not Z")
        swapped = corner.quarter_turns % 2 == 1
        return self.recess_b if (axis is Axis.X) != swapped else self.recess_a

    def to_machine(
        self, corner: Corner, a: float, b: float, placement: Placement = Placement.SEATED
    ) -> tuple[float, float]:
        """Return (a, b) as a displacement (x, y) in mm from the stock's corner, in machine directions."""
        if placement is not Placement.SEATED:
            a, b = a - self._low_a, b - self._low_b
        if placement is Placement.FLIPPED:
            a, b = b, a
        return quarter_turned((a, b), corner.quarter_turns)

    def from_machine(
        self, corner: Corner, x: float, y: float, placement: Placement = Placement.SEATED
    ) -> tuple[float, float]:
        """Return the plate coordinates (a, b) of a displacement (x, y) in mm from the stock's corner."""
        a, b = quarter_turned((x, y), -corner.quarter_turns)
        if placement is Placement.FLIPPED:
            a, b = b, a
        if placement is not Placement.SEATED:
            a, b = a + self._low_a, b + self._low_b
        return a, b

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

        The whole tip stays `MARGIN` inside metal that is flat and supported from below, clear of a through
        relief hole, and the tool in all its height clear of the bolt, or of the lips where these stand up. The
        window may be empty (its margin is negative everywhere) where plate or stock are too small.
        """
        keep = tool.radius + MARGIN
        beside_lip = tool.widest(0.0, self.recess_depth + MARGIN) + MARGIN
        keep_low = beside_lip if placement is Placement.FLIPPED else keep
        (face_low_a, face_high_a), (face_low_b, face_high_b) = self._flat(placement)
        support = self._support(placement, corner, stock)
        return SpotWindow(
            max(face_low_a, min(a for a, _ in support)) + keep_low,
            min(face_high_a, max(a for a, _ in support)) - keep,
            max(face_low_b, min(b for _, b in support)) + keep_low,
            min(face_high_b, max(b for _, b in support)) - keep,
            self._obstacles(placement, tool, keep),
            _slanting_sides(support, keep),
        )

    def _flat(self, placement: Placement) -> tuple[Point, Point]:
        """Return the extent in a and in b of the flat that faces up; its broken edge is no flat."""
        if placement is Placement.FLIPPED:
            return (0.0, self.recess_a), (0.0, self.recess_b)
        edge = self.chamfer
        return (self._low_a + edge, self.recess_a - edge), (self._low_b + edge, self.recess_b - edge)

    def _obstacles(self, placement: Placement, tool: Tool, keep: float) -> tuple[tuple[float, float, float], ...]:
        discs = []
        if self.relief_radius > 0.0 and self.relief_through:
            discs.append((0.0, 0.0, self.relief_radius + keep))
        if self.bolt is not None and placement is not Placement.FLIPPED:
            beside = tool.widest(0.0, self.bolt.height + MARGIN) + MARGIN
            discs.append((self.bolt.a, self.bolt.b, self.bolt.radius + beside))
        return tuple(discs)

    def _stock_extent(self, placement: Placement, corner: Corner, stock: Stock) -> tuple[float, float]:
        """Return the stock's extent along a and along b."""
        swapped = (corner.quarter_turns % 2 == 1) != (placement is Placement.FLIPPED)
        return (stock.size_y, stock.size_x) if swapped else (stock.size_x, stock.size_y)

    def _support(self, placement: Placement, corner: Corner, stock: Stock) -> tuple[Point, ...]:
        """Return the hull of what the plate rests on, counter-clockwise, in plate coordinates (mm).

        Seated, it is where recess and stock overlap. On top of the stock, it is the hull of what the stock
        reaches of the lips (flat) or of the block (flipped).
        """
        stock_a, stock_b = self._stock_extent(placement, corner, stock)
        low_a, low_b = (0.0, 0.0) if placement is Placement.SEATED else (self._low_a, self._low_b)
        high_a, high_b = min(self.recess_a, low_a + stock_a), min(self.recess_b, low_b + stock_b)
        if placement is not Placement.FLAT:
            return (low_a, low_b), (high_a, low_b), (high_a, high_b), (low_a, high_b)
        end_a, end_b = min(0.0, high_a), min(0.0, high_b)  # lips A and B end where the recess begins
        return (low_a, low_b), (high_a, low_b), (high_a, end_b), (end_a, high_b), (low_a, high_b)

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
        parts.extend((volume * to_grams, middle) for volume, middle in self._relief_parts())
        if self.bolt is not None:
            body = math.pi * self.bolt.radius**2 * self.bolt.height
            above = self.height - self.recess_depth + self.bolt.height / 2
            parts.append((body * STEEL / 1000.0, Position(self.bolt.a, self.bolt.b, above)))
        return centroid(parts)

    def _relief_parts(self) -> list[tuple[float, Position]]:
        """Return what the relief takes away: an upright cylinder, less the quarter that the recess took before.

        The centroid of a quarter disc lies 4r/(3π) from both its straight sides.
        """
        if self.relief_radius == 0.0:
            return []
        disc = math.pi * self.relief_radius**2
        depth = self.height if self.relief_through else self.recess_depth
        aside = 4.0 * self.relief_radius / (3.0 * math.pi)
        return [
            (-disc * depth, Position(0.0, 0.0, depth / 2 - self.recess_depth)),
            (disc / 4.0 * self.recess_depth, Position(aside, aside, -self.recess_depth / 2)),
        ]

    def _block_middle(self) -> Position:
        return Position(
            self.recess_a - self.size_a / 2,
            self.recess_b - self.size_b / 2,
            self.height / 2 - self.recess_depth,
        )

    def stability(self, placement: Placement, corner: Corner, stock: Stock) -> float:
        """Return how far inside the supported area the centroid lies, in mm; negative: the plate tips off."""
        _, middle = self.mass_and_centroid()
        return margin_in_polygon(self._support(placement, corner, stock), (middle.x, middle.y))

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


def _slanting_sides(hull: tuple[Point, ...], keep: float) -> tuple[tuple[float, float, float], ...]:
    """Return the sides of a counter-clockwise hull that run along neither axis, moved in by `keep`.

    Each is (u, v, limit), as a `SpotWindow` has them.
    """
    found = []
    for (ax, ay), (bx, by) in zip(hull, (*hull[1:], hull[0]), strict=True):
        if ax == bx or ay == by:
            continue
        side = math.hypot(bx - ax, by - ay)
        u, v = (by - ay) / side, (ax - bx) / side
        found.append((u, v, u * ax + v * ay - keep))
    return tuple(found)
