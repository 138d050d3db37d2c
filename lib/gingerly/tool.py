"""The tool as a solid: diameter over height, the shape of its tip, its flutes, and what is clamped around it.

Heights are measured upward from the tip, in mm. Nothing here knows a machine or a plate; it answers how wide
the tool is where it touches, and how much of its circumference is really there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from gingerly.units import number, positive_length, shown

Length = float | str
"""A number of mm, or a text such as ``"1/8 in"``."""


class Tip(Enum):
    """The shape of a tool's end."""

    FLAT = "flat"
    BALL = "ball"
    V = "v"
    HOLLOW = "hollow"
    """No cutting edge at the centre, as on a facing cutter: it touches under its edge, not its axis."""

    def __str__(self) -> str:
        return self.value


class Obstruction(NamedTuple):
    """Something around the tool: it begins `height` mm above the tip and reaches `radius` mm from the axis."""

    name: str
    height: float
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A pin or a cutter in the spindle. Lengths in mm, angles in radians.

    `diameter` is the measured diameter where it touches; `free_length` the height up to which it has that
    diameter and nothing else is in the way; `shank` the diameter above. `flutes` and `helix` describe a
    cutter (0 flutes: a plain pin or shank) and `core` the share of the diameter that is solid between the
    flutes. `v_angle` is the included angle of a V tip. The clip of the test lead sits at `clip_height` and
    reaches out to `clip_radius` from the axis; the holder's nut begins at `nut_height` and reaches out to
    `nut_radius`. `edge_width` is how far the cutting edges of a hollow tip reach inward.

    `overtravel` is how far the tool may be pushed past a contact, and `miss_limit` how far it may be pushed
    into the metal where the circuit fails altogether.

    Where the defaults come from: all are our own choice, those of clip, nut and pushing for small benchtop tools;
    `core` is a guess for cutters of two flutes, to be replaced by what the maker states.

    Lengths may be given as text (``"1/8 in"``) and are kept in mm. Raises `ValueError` for a size that cannot be.
    """

    name: str
    diameter: float
    free_length: float
    tip: Tip = Tip.FLAT
    shank: float | None = None
    flutes: int = 0
    helix: float = 0.0
    core: float = 0.6
    v_angle: float = math.radians(60.0)
    edge_width: float = 2.0
    clip_height: float | None = None
    clip_radius: float = 8.0
    nut_height: float | None = None
    nut_radius: float = 15.0
    overtravel: float = 0.3
    miss_limit: float = 3.0

    def __post_init__(self) -> None:
        for name in ("diameter", "free_length", "edge_width", "overtravel", "miss_limit"):
            self._settle(name, positive_length(getattr(self, name), name=f"tool {name}"))
        for name in ("shank", "clip_height", "clip_radius", "nut_height", "nut_radius"):
            if getattr(self, name) is not None:
                self._settle(name, positive_length(getattr(self, name), name=f"tool {name}"))
        for name in ("helix", "core", "v_angle"):
            self._settle(name, number(getattr(self, name), name=f"tool {name}"))
        self._refuse_impossible_cutter()
        self._refuse_impossible_tip()

    def _settle(self, name: str, value: object) -> None:
        object.__setattr__(self, name, value)

    def _refuse_impossible_cutter(self) -> None:
        if isinstance(self.flutes, bool) or not isinstance(self.flutes, int) or not 0 <= self.flutes <= 24:
            raise ValueError(
                f"tool flutes must be a whole number from 0 (a plain pin) to 24, not {shown(self.flutes)}"
            )
        if not 0.0 <= self.helix < math.pi / 2:
            raise ValueError(f"tool helix must lie from 0 to below 90°, not {math.degrees(self.helix):g}°")
        if not 0.0 < self.core <= 1.0:
            raise ValueError(f"tool core is a share of the diameter above 0 and up to 1, not {self.core:g}")

    def _refuse_impossible_tip(self) -> None:
        if not isinstance(self.tip, Tip):
            known = ", ".join(str(tip) for tip in Tip)
            raise ValueError(f"tool tip must be one of {known}, not {shown(self.tip)}")
        if not 0.0 < self.v_angle < math.pi:
            raise ValueError(f"tool v_angle must lie between 0° and 180°, not {math.degrees(self.v_angle):g}°")
        if self.tip_height > self.free_length:
            raise ValueError(
                f"tool free_length ({self.free_length:g} mm) must reach above the tip, where the full diameter"
                f" begins, {self.tip_height:g} mm up"
            )

    @classmethod
    def pin(cls, diameter: Length, *, free_length: Length, name: str = "pin") -> Tool:
        """Return a plain round pin; raises `ValueError` for a size that cannot be."""
        return cls(
            name=name,
            diameter=positive_length(diameter, name="pin diameter"),
            free_length=positive_length(free_length, name="pin free length"),
        )

    @property
    def radius(self) -> float:
        """Half the diameter where it touches."""
        return self.diameter / 2.0

    @property
    def obstructions(self) -> tuple[Obstruction, ...]:
        """What is clamped around the tool and wider than it: the test lead's clip and the holder's nut."""
        around = (("clip", self.clip_height, self.clip_radius), ("nut", self.nut_height, self.nut_radius))
        return tuple(
            Obstruction(name, height, radius)
            for name, height, radius in around
            if height is not None and radius > self.radius
        )

    def radius_at(self, height: float) -> float:
        """Return the radius in mm of whatever is there at `height` mm above the tip; 0 below it.

        It never shrinks with height: above `free_length` the tool counts as no thinner than below, and above
        its clip it counts as wide as the clip, so that what passes a wall at its foot passes it all the way.
        """
        if height < 0.0:
            return 0.0
        widest = self._bare_radius(height)
        return max([widest, *(item.radius for item in self.obstructions if height >= item.height)])

    def _bare_radius(self, height: float) -> float:
        if height > self.free_length:
            return max(self.diameter, self.shank or 0.0) / 2.0
        if self.tip is Tip.BALL and height < self.radius:
            return math.sqrt(self.radius**2 - (self.radius - height) ** 2)
        if self.tip is Tip.V:
            return min(self.radius, height * math.tan(self.v_angle / 2.0))
        return self.radius

    def widest(self, low: float, high: float) -> float:
        """Return the largest radius in mm between `low` and `high` mm above the tip.

        Raises `ValueError` where `low` lies above `high`.
        """
        if not low <= high:
            raise ValueError(f"a range of heights must begin below its end, not at {low:g} … {high:g} mm")
        return self.radius_at(high)  # no radius shrinks with height

    @property
    def tip_height(self) -> float:
        """Height in mm above which a wall meets the full diameter: 0 for a flat end, the radius for a ball."""
        if self.tip is Tip.BALL:
            return self.radius
        if self.tip is Tip.V:
            return self.radius / math.tan(self.v_angle / 2.0)
        return 0.0

    @property
    def obstruction_height(self) -> float:
        """Height in mm up to which nothing wider than the touching diameter is in the way."""
        return min([self.free_length, *(item.height for item in self.obstructions)])

    @property
    def flute_cover(self) -> float:
        """Depth in mm from which the flutes cover the whole circumference: πD / (N·tan β); 0 for a plain pin.

        Infinite for straight flutes. Source: geometry of a helix of lead πD/tan β shared by N flutes.
        """
        if self.flutes == 0:
            return 0.0
        if self.helix == 0.0:
            return math.inf
        return math.pi * self.diameter / (self.flutes * math.tan(self.helix))

    def flute_shortfall(self, depth: float) -> float:
        """Return how many mm short the stationary tool may read when `depth` mm of it face a wall.

        At worst the wall faces the middle of a gap between flutes. The flutes cover depth·tan β / R of each
        spacing 2π/N; over half the remaining angle γ the edge falls back by R·(1 − cos γ), but never further
        than the core.
        """
        if self.flutes == 0 or depth >= self.flute_cover:
            return 0.0
        covered = max(0.0, depth) * math.tan(self.helix) / self.radius
        gap = (2.0 * math.pi / self.flutes - covered) / 2.0
        return self.radius * min(1.0 - math.cos(gap), 1.0 - self.core)

    @property
    def spot_offset(self) -> float:
        """Distance in mm from the axis to the metal that meets a flat face: 0, but for a hollow tip."""
        if self.tip is Tip.HOLLOW:
            return max(0.0, self.radius - self.edge_width / 2.0)
        return 0.0
