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

import math
from dataclasses import dataclass, replace

from gingerly.geometry import SLACK, Axis, Position
from gingerly.messages.faults import StartOutsideWindow, UnsuitablePlate
from gingerly.messages.touches import Leg, Touch
from gingerly.routines.course import Faces, Site
from gingerly.routines.preflight import ROOM, check_standoff
from gingerly.routines.top import SENSE_MARGIN, TopSpot
from gingerly.routines.walls import DIRECT_CHAMFER, check_hop, wall_depth

Rectangle = tuple[float, float, float, float]
"""From x to x and from y to y, in mm inward from the stock's corner: low x, high x, low y, high y."""


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
        self, name: str, faces: Faces, at: Position, direction: Position, *, start: Position | None = None
    ) -> Touch:
        """Return the touch of a wall that is expected with the tool's axis at `at` (X and Y count, mm).

        `direction` is the level unit vector towards the wall. The touch begins at `start`, on a line that was
        sensed before, or in the middle. Raises `StartOutsideWindow` where the wall is too near to it.
        """
        level = faces[0].position.z - self.depth
        begin = (self.middle if start is None else start)._replace(z=level)
        standoff = at.minus(begin).dot(direction)
        check_standoff(name, standoff=standoff, within=self.within)
        feed = self.top.plan.leave_feed
        entry = (Leg(begin._replace(z=self.top.exit.z), feed),) if len(faces) == 1 else ()
        return Touch(
            name=name,
            legs=(*entry, Leg(begin, feed)),
            start=begin,
            end=begin.plus(direction.times(standoff + self.within + SENSE_MARGIN)),
            near=standoff - self.within,
            far=standoff + self.within,
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


def check_bare(spot: TopSpot, what: str) -> None:
    """Raise `UnsuitablePlate` where there is a plate, or the stock does not conduct."""
    if spot.plate is not None:
        raise UnsuitablePlate(f"{what} is touched directly: take plate {spot.plate.name!r} out of this part")
    spot.check()


def check_beside(spot: TopSpot, what: str, room: float) -> None:
    """Raise `StartOutsideWindow` unless the top is touched beside a hollow that is `room` mm away from its spot."""
    needed = _foot(spot) + ROOM + spot.within
    if room < needed - SLACK:
        raise StartOutsideWindow(
            f"the top would be touched {room:.3f} mm beside {what}, and this tool needs {needed:.3f} mm:"
            f" {needed - room:.3f} mm too near; say `at` which spot"
        )


def check_upon(spot: TopSpot, what: str, room: float) -> None:
    """Raise `StartOutsideWindow` unless the top of what stands up reaches `room` mm around the spot, enough."""
    needed = ROOM + spot.within
    if room < needed - SLACK:
        raise StartOutsideWindow(
            f"the top of {what} reaches {room:.3f} mm around the spot and must reach {needed:.3f} mm:"
            f" {needed - room:.3f} mm too little"
        )


def check_in_stock(
    spot: TopSpot, what: str, rectangle: Rectangle, axes: tuple[Axis, ...] = (Axis.X, Axis.Y)
) -> None:
    """Raise `StartOutsideWindow` where something would lie beyond the stock along one of `axes`."""
    for axis in axes:
        low, high = rectangle[2 * axis], rectangle[2 * axis + 1]
        size = (spot.stock.size_x, spot.stock.size_y)[axis]
        beyond = max(-low, high - size)
        if beyond > SLACK:
            raise StartOutsideWindow(
                f"{what} would reach from {low:.3f} to {high:.3f} mm along {axis.name}, and the stock is"
                f" {size:.3f} mm long there: {beyond:.3f} mm too far out"
            )


def around(middle: tuple[float, float], sizes: tuple[float, float]) -> Rectangle:
    """Return the rectangle of these sizes (mm) about its middle."""
    (x, y), (size_x, size_y) = middle, sizes
    return x - size_x / 2.0, x + size_x / 2.0, y - size_y / 2.0, y + size_y / 2.0


def upon(spot: TopSpot, middle: tuple[float, float]) -> TopSpot:
    """Return the spot with its place at `middle`, unless it has one of its own."""
    return spot if spot.at is not None else replace(spot, at=middle)


def inward_place(spot: TopSpot) -> tuple[float, float]:
    """Return where the top is touched, in mm inward from the stock's corner along X and Y."""
    x, y = spot.spot()
    inward_x, inward_y = spot.corner.inward
    return x * inward_x, y * inward_y


def outside_of(point: tuple[float, float], rectangle: Rectangle) -> float:
    """Return how far a point lies outside a rectangle, in mm; negative: how deep inside."""
    low_x, high_x, low_y, high_y = rectangle
    beyond_x, beyond_y = max(low_x - point[0], point[0] - high_x), max(low_y - point[1], point[1] - high_y)
    if beyond_x <= 0.0 and beyond_y <= 0.0:
        return max(beyond_x, beyond_y)
    return math.hypot(max(0.0, beyond_x), max(0.0, beyond_y))


def _foot(spot: TopSpot) -> float:
    return spot.edge().radius
