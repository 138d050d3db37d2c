"""Where features lie on the stock, and whether their top, or the top beside them, can be touched.

Places count in mm inward from the stock's corner along X and Y. Nothing here moves.
"""

from __future__ import annotations

import math
from dataclasses import replace

from gingerly.geometry import SLACK, Axis
from gingerly.messages.faults import StartOutsideWindow, UnsuitablePlate
from gingerly.routines.preflight import ROOM
from gingerly.routines.top import TopSpot

Rectangle = tuple[float, float, float, float]
"""From x to x and from y to y, in mm inward from the stock's corner: low x, high x, low y, high y."""


def check_bare(spot: TopSpot, what: str) -> None:
    """Raise `UnsuitablePlate` where there is a plate, or the stock does not conduct."""
    if spot.plate is not None:
        raise UnsuitablePlate(f"{what} is touched directly: take plate {spot.plate.name!r} out of this part")
    spot.check()


def check_beside(spot: TopSpot, what: str, room: float) -> None:
    """Raise `StartOutsideWindow` unless the top is touched beside a hollow that is `room` mm away from its spot."""
    needed = spot.edge().radius + ROOM + spot.within
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
