"""A look at the new zero: the tool goes to a stated height above it, so that the eye can check what was set.

Nothing is touched, and test lead and plate are off, so no circuit watches: the tool goes up, across at the top of
Z, and down no faster than a look allows.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Position
from gingerly.messages.faults import StartOutsideWindow, UnsuitableTool
from gingerly.messages.touches import Leg, Place, Step, Way
from gingerly.planner import limited_traverse
from gingerly.routines.course import Faces, Site
from gingerly.routines.preflight import Move, check_moves
from gingerly.tool import Tool

LEAST_HEIGHT = 2.0
"""Millimetres above the zero below which no look is worth the risk. Our own choice."""


@dataclass(frozen=True, slots=True)
class WayCourse:
    """A course of one way and no touch."""

    way: Way
    places: tuple[Place, ...] = (Place.TIP,)

    def next(self, faces: Faces) -> Step:
        """Return the way."""
        return self.way


@dataclass(frozen=True, slots=True)
class LookAtZero:
    """Go to `height` mm above the origin of a work offset (machine coordinates, mm) with the tool that touched."""

    origin: Position
    height: float
    tool: Tool
    length_known: bool

    def plan(self, site: Site) -> WayCourse:
        """Return the way there; raises a `PlanFault` where it must not begin."""
        if not self.length_known:
            raise UnsuitableTool(f"{self.tool.name!r} has not touched Z, so nobody knows where its tip is")
        if not self.height >= LEAST_HEIGHT:
            raise StartOutsideWindow(
                f"a look needs {LEAST_HEIGHT:g} mm of height above the zero, and {self.height:g} mm were asked for"
            )
        top = site.facts.envelope.high.z
        up = site.here._replace(z=top)
        across = self.origin._replace(z=top)
        down = self.origin._replace(z=min(top, self.origin.z + self.height))
        feed, _ = limited_traverse(site.facts, self.tool)
        legs = (Leg(up, clear=True), Leg(across, clear=True), Leg(down, feed))
        starts = (site.here, up, across)
        moves = [
            Move("to the zero", start, leg.to, leg.feed, senses=False)
            for start, leg in zip(starts, legs, strict=True)
        ]
        check_moves(moves, site, self.tool)
        return WayCourse(Way(legs))
