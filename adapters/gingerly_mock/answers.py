"""How a happening shapes the one call it belongs to, and what a call must be given to be one at all."""

from __future__ import annotations

import math
from collections.abc import Mapping

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly_mock.faults import Happening, What

RESTARTS = (What.RESTART, What.RESTART_FORGETTING)

Asked = tuple[Happening, ...]
"""What is to happen in the call under way."""


def has(asked: Asked, what: What) -> bool:
    """Return whether one of these happenings is `what`."""
    return any(one.what is what for one in asked)


def at_once(asked: Asked, what: What) -> bool:
    """Return whether one of these happenings is `what` and does not wait for the middle of a motion."""
    return any(one.what is what and not one.inside for one in asked)


def shortened(start: Position, to: Position, asked: Asked) -> Position:
    """Return the target (mm) that a motion truly gets: nearer than `to` where it is to stop short."""
    short = sum(one.size for one in asked if one.what is What.STOPS_SHORT)
    return start.towards(to, max(0.0, start.distance(to) - short)) if short else to


def spoiled(values: dict[Axis, float], asked: Asked) -> dict[Axis, float]:
    """Return the values (mm) that truly get into a work offset."""
    first = next(iter(values))
    for one in asked:
        if one.what is What.WRITE_IGNORED:
            return {}
        if one.what is What.WRITE_PARTIAL:
            values = {first: values[first]}
        elif one.what is What.WRITE_WRONG:
            values = values | {first: values[first] + one.size}
    return values


def check_move(to: Position, feed: float | None) -> None:
    """Return nothing for a move that can be ordered; raises `ValueError` for what is no position or feed."""
    if not math.isfinite(to[0] + to[1] + to[2]):
        raise ValueError(f"a target needs three finite coordinates, not {to!r}")
    if feed is not None and not 0.0 < feed < math.inf:
        raise ValueError(f"a feed must be a number of mm/min above 0, not {feed!r}")


def check_number(number: int) -> None:
    """Return nothing for the number of a work offset; raises `ValueError` for anything but 1 to 9."""
    if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= 9:
        raise ValueError(f"work offsets are numbered from 1 to 9, not {number!r}")


def checked_axes(axes: Mapping[Axis, float]) -> dict[Axis, float]:
    """Return the axes in order with their values (mm); raises `ValueError` for none, or for no finite numbers."""
    values = {Axis(axis): float(axes[axis]) for axis in sorted(axes)}
    if not values:
        raise ValueError("a work offset cannot be written without naming an axis")
    if not ORIGIN.with_axes(values).is_finite():
        raise ValueError(f"a work offset needs finite numbers, not {dict(axes)!r}")
    return values
