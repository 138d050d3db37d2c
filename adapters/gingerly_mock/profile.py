"""The moving tool: how far its metal reaches towards a wall, at each height above the tip.

All tools come from above and widen upward or stay as they are, so a block that the tip has sunk `depth` mm
below meets the tool's reach at that height and nothing wider. The four sides of a block are asked for together,
in the order *left, right, front, back* (tool standing at smaller a, larger a, smaller b, larger b): a cutter
that stands still is not equally wide towards all of them.
"""

from __future__ import annotations

import math
from dataclasses import replace

from gingerly.tool import Tip, Tool

Reach = tuple[float, float, float, float]

LAYER = 0.001
"""Millimetres by which a curved tip, cut into discs for slanting moves, may differ from its true form.
Our own choice."""


class Profile:
    """A tool with its true radius, turned so that a flute's edge stands at `flute_rad` at the tip.

    `sides_rad` are the directions from the tool's axis to the four walls; angles in radians, counter-clockwise
    from +X. `breaks` are the heights in mm where its form changes.
    """

    __slots__ = (
        "_flute_rad",
        "_layers",
        "_plain",
        "_plain_to",
        "_sides_rad",
        "breaks",
        "cavity",
        "radius",
        "tool",
        "widest",
    )

    def __init__(
        self,
        tool: Tool,
        *,
        true_radius: float,
        flute_rad: float = 0.0,
        sides_rad: tuple[float, float, float, float] = (0.0, math.pi, math.pi / 2, -math.pi / 2),
    ) -> None:
        # A tip that is truly a little larger may end above what was taken for its free length.
        free_length = max(tool.free_length, tool.tip_height * true_radius / tool.radius)
        self.tool = tool = replace(tool, diameter=2.0 * true_radius, free_length=free_length)
        self.radius = true_radius
        self.cavity = true_radius - tool.edge_width if tool.tip is Tip.HOLLOW else 0.0
        self._flute_rad = flute_rad
        self._sides_rad = sides_rad
        self._plain: Reach = (true_radius, true_radius, true_radius, true_radius)
        curved = tool.tip in (Tip.BALL, Tip.V) or (tool.flutes > 0 and tool.core < 1.0)
        self._plain_to = 0.0 if curved else min(tool.free_length, tool.obstruction_height)
        self.breaks = self._find_breaks()
        self.widest = max(true_radius, *(self.tool.radius_at(height + 1e-9) for height in self.breaks))
        """The farthest that any part of the tool reaches from its axis, in mm."""
        self._layers: tuple[tuple[float, Reach], ...] | None = None

    def reach(self, depth: float) -> Reach:
        """Return how far the tool reaches towards each side of a block that its tip is `depth` mm below."""
        if depth < self._plain_to:
            return self._plain
        wide = self.tool.radius_at(depth)
        if self.tool.flutes == 0 or depth > self.tool.free_length or wide > self.radius:
            return (wide, wide, wide, wide)
        left, right, front, back = (min(wide, self._edge(side, depth)) for side in self._sides_rad)
        return (left, right, front, back)

    def layers(self) -> tuple[tuple[float, Reach], ...]:
        """Return the tool as coaxial cylinders without upper end, (height of the lower face, reach), for slants.

        Exact where the tool is made of cylinders; a curved form is met to within `LAYER`.
        """
        if self._layers is None:
            found = []
            for low, high in zip(self.breaks, (*self.breaks[1:], math.inf), strict=True):
                found += self._cut(low, high)
            self._layers = tuple(found)
        return self._layers

    def _edge(self, side_rad: float, depth: float) -> float:
        """Return the true reach towards one wall: a flute's edge within `depth`, or what the gap leaves.

        The edges wind from the tip upward and cover depth·tan β / R; beyond that the edge nearest in angle
        reaches R·cos γ towards the wall, and the core reaches there always.
        """
        tool = self.tool
        spacing = 2.0 * math.pi / tool.flutes
        covered = depth * math.tan(tool.helix) / self.radius
        behind = (side_rad - self._flute_rad) % spacing
        gap = max(0.0, min(behind - covered, spacing - behind))
        return self.radius * max(math.cos(gap), tool.core)

    def _find_breaks(self) -> tuple[float, ...]:
        tool = self.tool
        heights = {0.0, tool.tip_height, tool.free_length}
        heights |= {around.height for around in tool.obstructions}
        if tool.flutes and math.isfinite(tool.flute_cover):
            heights.add(min(tool.flute_cover, tool.free_length))
        return tuple(sorted(heights))

    def _cut(self, low: float, high: float) -> list[tuple[float, Reach]]:
        hair = 1e-9
        first = self.reach(low + hair)
        if not math.isfinite(high):
            return [(low, first)]
        last = self.reach(high - hair)
        if max(abs(one - other) for one, other in zip(first, last, strict=True)) <= 1e-12:
            return [(low, first)]
        steps = max(2, math.ceil((high - low) / LAYER))
        thick = (high - low) / steps
        return [(low + n * thick, self.reach(low + (n + 0.5) * thick)) for n in range(steps)]
