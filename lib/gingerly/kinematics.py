"""How long a move takes, and how far it runs on: straight moves with one acceleration and one top speed.

Feeds are in mm/min, as people write them; accelerations in mm/s²; times in seconds; distances in mm. The
formulas are those of uniform acceleration, found in any text on mechanics. Every function raises `ValueError`
where a feed or an acceleration is not above 0, or a distance or a time is below 0.
"""

from __future__ import annotations

import math


def speed_mm_s(feed: float) -> float:
    """Return a feed of `feed` mm/min in mm/s."""
    return feed / 60.0


def stopping_distance(feed: float, *, acceleration: float, reaction_s: float = 0.0) -> float:
    """Return the mm that a move at `feed` runs on: v·t until braking begins, then v²/(2a).

    Raises `ValueError` for a feed, an acceleration or a time that cannot be.
    """
    _require(acceleration > 0.0, "an acceleration", "above 0 mm/s²", acceleration)
    _require(feed >= 0.0, "a feed", "0 mm/min or more", feed)
    _require(reaction_s >= 0.0, "a reaction time", "0 s or more", reaction_s)
    speed = speed_mm_s(feed)
    return speed * reaction_s + speed * speed / (2.0 * acceleration)


def move_time(distance: float, *, feed: float, acceleration: float) -> float:
    """Return the seconds that a move over `distance` mm takes from rest to rest.

    A trapezoid, d/v + v/a, where the distance suffices to reach the feed; otherwise a triangle, 2·√(d/a).
    Raises `ValueError` for a distance, a feed or an acceleration that cannot be.
    """
    _require(acceleration > 0.0, "an acceleration", "above 0 mm/s²", acceleration)
    _require(feed > 0.0, "a feed", "above 0 mm/min", feed)
    _require(distance >= 0.0, "a distance", "0 mm or more", distance)
    speed = speed_mm_s(feed)
    if distance >= speed * speed / acceleration:
        return distance / speed + speed / acceleration
    return 2.0 * math.sqrt(distance / acceleration)


def fastest_feed(overtravel: float, *, acceleration: float, reaction_s: float) -> float:
    """Return the highest feed in mm/min that still stops within `overtravel` mm.

    Solves v·t + v²/(2a) = δ for v: v = a·(−t + √(t² + 2δ/a)), written as 2δ / (t + √(t² + 2δ/a)), which loses
    no digits where the reaction time rules. Raises `ValueError` for a number that cannot be.
    """
    _require(acceleration > 0.0, "an acceleration", "above 0 mm/s²", acceleration)
    _require(reaction_s >= 0.0, "a reaction time", "0 s or more", reaction_s)
    _require(overtravel >= 0.0, "an overtravel", "0 mm or more", overtravel)
    if overtravel == 0.0:
        return 0.0
    twice = 2.0 * overtravel
    return 60.0 * twice / (reaction_s + math.sqrt(reaction_s**2 + twice / acceleration))


def _require(holds: bool, what: str, wanted: str, found: float) -> None:
    if not holds:
        raise ValueError(f"{what} must be {wanted}, not {found:g}")
