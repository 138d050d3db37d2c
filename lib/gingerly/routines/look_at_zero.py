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
from gingerly.routines.preflight import check_way
from gingerly.tool import Tool

LEAST_HEIGHT = 2.0
"""Millimetres above the zero below which no look is worth the risk. Our own choice."""


LEVEL = 0.1
"""Millimetres above the zero that count as level with it: single contacts scatter that much. Our own choice."""


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
    """Go to `height` mm above the origin of a work offset (machine coordinates, mm) with the tool that touched.

    `above` is how far the stock reaches above the zero (mm), as it does when its top face reads more than 0; the
    height counts from there. None, where nobody knows, is refused: the way down is not watched by any circuit.
    """

    origin: Position
    height: float
    tool: Tool
    length_known: bool
    above: float | None

    def plan(self, site: Site) -> WayCourse:
        """Return the way there; raises a `PlanFault` where it must not begin."""
        if not self.length_known:
            raise UnsuitableTool(f"{self.tool.name!r} has not touched Z, so nobody knows where its tip is")
        if not self.height >= LEAST_HEIGHT:
            raise StartOutsideWindow(
                f"a look needs {LEAST_HEIGHT:g} mm of height above the zero, and {self.height:g} mm were asked for:"
                f" {LEAST_HEIGHT - self.height:g} mm too low"
            )
        if self.above is None:
            raise StartOutsideWindow(
                f"nobody knows how far the stock reaches above the zero at {self.origin}: X, Y and Z were not all found"
                " in this connection, or the offset was changed since"
            )
        highest = site.facts.envelope.high.z
        lowest = self.origin.z + (self.above if self.above > LEVEL else 0.0)
        feed, _ = limited_traverse(site.facts, self.tool)
        legs = (
            Leg(site.here._replace(z=highest), clear=True),
            Leg(self.origin._replace(z=highest), clear=True),
            Leg(self.origin._replace(z=min(highest, lowest + self.height)), feed),
        )
        check_way(legs, "to the zero", site, self.tool)
        return WayCourse(Way(legs))
