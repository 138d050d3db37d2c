"""How long a move takes, and how far it runs on: straight moves with one acceleration and one top speed.

Feeds are in mm/min, as people write them; accelerations in mm/s²; times in seconds; distances in mm. The
formulas are those of uniform acceleration, found in any text on mechanics.
"""

from __future__ import annotations

import math


def speed_mm_s(feed: float) -> float:
    """Return a feed of `feed` mm/min in mm/s."""
    return feed / 60.0


def stopping_distance(feed: float, *, acceleration: float, reaction_s: float = 0.0) -> float:
    """Return the mm that a move at `feed` runs on: v·t until braking begins, then v²/(2a)."""
    speed = speed_mm_s(feed)
    return speed * reaction_s + speed * speed / (2.0 * acceleration)


def move_time(distance: float, *, feed: float, acceleration: float) -> float:
    """Return the seconds that a move over `distance` mm takes from rest to rest.

    A trapezoid, d/v + v/a, where the distance suffices to reach the feed; otherwise a triangle, 2·√(d/a).
    """
    speed = speed_mm_s(feed)
    if distance >= speed * speed / acceleration:
        return distance / speed + speed / acceleration
    return 2.0 * math.sqrt(distance / acceleration)


def fastest_feed(overtravel: float, *, acceleration: float, reaction_s: float) -> float:
    """Return the highest feed in mm/min that still stops within `overtravel` mm.

    Solves v·t + v²/(2a) = δ for v: v = a·(−t + √(t² + 2δ/a)).
    """
    speed = acceleration * (-reaction_s + math.sqrt(reaction_s**2 + 2.0 * overtravel / acceleration))
    return 60.0 * speed
