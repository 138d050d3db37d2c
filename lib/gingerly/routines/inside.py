"""Touching walls from inside a hollow: over its middle at the hop level, down, and outward to each wall.

::

      hop level   ───────┐
        ██████████       │ down, where the hollow is known to be free     ██████████
        ████ wall ←──────●──────→ wall ████   every touch begins and ends at a point already reached
        ██████████                        ██████████

At depth the tool moves only along lines that it has sensed, or back along them. Shared by every routine that
touches from inside; the metal is touched directly, since no plate has an inside.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Position
from gingerly.messages.touches import Leg, Touch
from gingerly.routines.course import Faces, Site
from gingerly.routines.features import check_bare
from gingerly.routines.preflight import check_standoff
from gingerly.routines.top import SENSE_MARGIN, TopSpot
from gingerly.routines.walls import DIRECT_CHAMFER, check_hop, wall_depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """The way to the walls of a hollow that opens in the face touched by `top`.

    `middle` is where the tool goes down (X and Y, mm), `depth` how far below the top it then stands. Each wall
    lies within `within` mm of where it is expected.
    """

    top: Touch
    depth: float
    within: float
    middle: Position

    def touch(
        self,
        name: str,
        faces: Faces,
        at: Position,
        direction: Position,
        *,
        start: Position | None = None,
        window: tuple[float, float] | None = None,
    ) -> Touch:
        """Return the touch of a wall that is expected with the tool's axis at `at` (X and Y count, mm).

        `direction` is the level unit vector towards the wall. The touch begins at `start`, on a line that was
        sensed before, or in the middle. `window` says from where to where about `at` the wall may be met (mm), if
        it is not the usual doubt either way. Raises `StartOutsideWindow` where the wall is too near to the start.
        """
        level = faces[0].position.z - self.depth
        begin = (self.middle if start is None else start)._replace(z=level)
        standoff = at.minus(begin).dot(direction)
        check_standoff(name, standoff=standoff, within=self.within)
        early, late = (-self.within, self.within) if window is None else window
        feed = self.top.plan.leave_feed
        entry = (Leg(begin._replace(z=self.top.exit.z), feed),) if len(faces) == 1 else ()
        return Touch(
            name=name,
            legs=(*entry, Leg(begin, feed)),
            start=begin,
            end=begin.plus(direction.times(standoff + late + SENSE_MARGIN)),
            near=max(0.0, standoff + early),
            far=standoff + late,
            exit=begin,
            plan=self.top.plan,
        )


def hollow(spot: TopSpot, site: Site, *, what: str, middle: tuple[float, float], deep: float) -> Inside:
    """Return the way into a hollow `deep` mm deep whose middle lies `middle` mm inward from the stock's corner.

    Raises a `PlanFault` where there is no depth or no height for it.
    """
    check_bare(spot, what)
    depth = wall_depth(spot, chamfer=DIRECT_CHAMFER, wall_height=deep, face_height=deep, flute_faced=False)
    top = spot.touch(site, "top")
    check_hop(top, spot, site.here)
    return Inside(top=top, depth=depth, within=spot.within, middle=spot.point(site.here, *middle))
