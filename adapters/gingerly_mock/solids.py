"""Where a moving tool meets a block: exact crossings of a straight line with a widened block.

Instead of moving a tool of some width past a block, the block is widened by the tool's reach and a point is
moved (Minkowski sum): a rectangle with rounded corners, without lower end, since the tool reaches upward without
end. All coordinates are (a, b) along the block's sides and its height, in mm. Distances along a line are in
units of the direction's length; the line is endless, so a crossing may begin before the start.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly_mock.profile import Profile, Reach

EPS = 1e-9
"""Millimetres below which a touch is float noise. Our own choice."""

Crossing = tuple[float, float]
NOWHERE: list[Crossing] = []


@dataclass(frozen=True, slots=True)
class Block:
    """An upright block, or a round post where `round_by` is its radius and the sides have no length.

    `hole`, if any, is a round hole right through it: (a, b, radius). `kind` is for the block's owner.
    """

    low_a: float
    high_a: float
    low_b: float
    high_b: float
    top: float
    kind: int
    round_by: float = 0.0
    hole: tuple[float, float, float] | None = None


def rounded_crossing(block: Block, a: float, b: float, da: float, db: float, reach: Reach) -> Crossing | None:
    """Return where the line through (a, b) along (da, db) lies inside the widened block, or None.

    The corners are quarters of an ellipse whose half axes are the reaches towards both sides: circles for a
    round tool. (da, db) must not be zero.
    """
    left, right, front, back = reach
    if block.round_by:
        more = block.round_by
        left, right, front, back = left + more, right + more, front + more, back + more
    low, high = -math.inf, math.inf
    side, other = block.low_a - left, block.high_a + right
    if da > 0.0:
        low, high = (side - a) / da, (other - a) / da
    elif da < 0.0:
        low, high = (other - a) / da, (side - a) / da
    elif not side < a < other:
        return None
    side, other = block.low_b - front, block.high_b + back
    if db:
        near, far = ((side - b) / db, (other - b) / db) if db > 0.0 else ((other - b) / db, (side - b) / db)
        if near > low:
            low = near
        if far < high:
            high = far
    elif not side < b < other:
        return None
    if low >= high:
        return None
    reaches = (left, right, front, back)
    entry = _round_off(block, a, b, da, db, reaches, low, -1.0)
    if entry is None:
        return None
    leave = _round_off(block, a, b, da, db, reaches, high, 1.0)
    return None if leave is None else (entry, leave)


def _round_off(
    block: Block, a: float, b: float, da: float, db: float, reach: Reach, at: float, sign: float
) -> float | None:
    """Return `at` moved to the rounded corner where the bounding rectangle is crossed beside one."""
    here_a, here_b = a + at * da, b + at * db
    if here_a < block.low_a:
        middle_a, half_a = block.low_a, reach[0]
    elif here_a > block.high_a:
        middle_a, half_a = block.high_a, reach[1]
    else:
        return at
    if here_b < block.low_b:
        middle_b, half_b = block.low_b, reach[2]
    elif here_b > block.high_b:
        middle_b, half_b = block.high_b, reach[3]
    else:
        return at
    if half_a <= 0.0 or half_b <= 0.0:
        return at
    off_a, off_b, step_a, step_b = (a - middle_a) / half_a, (b - middle_b) / half_b, da / half_a, db / half_b
    square = step_a * step_a + step_b * step_b
    half = off_a * step_a + off_b * step_b
    root = half * half - square * (off_a * off_a + off_b * off_b - 1.0)
    return None if root <= 0.0 else (-half + sign * math.sqrt(root)) / square


def disc_crossing(
    middle_a: float, middle_b: float, radius: float, a: float, b: float, da: float, db: float
) -> Crossing | None:
    """Return where the line lies inside a disc, or None."""
    off_a, off_b = a - middle_a, b - middle_b
    square, half = da * da + db * db, off_a * da + off_b * db
    root = half * half - square * (off_a * off_a + off_b * off_b - radius * radius)
    if radius <= 0.0 or root <= 0.0:
        return None
    return (-half - math.sqrt(root)) / square, (-half + math.sqrt(root)) / square


def level_crossings(
    block: Block, profile: Profile, reach: Reach, a: float, b: float, da: float, db: float
) -> list[Crossing]:
    """Return where a tool of that reach, moving level, overlaps the block: at most one piece for most blocks."""
    whole = rounded_crossing(block, a, b, da, db, reach)
    if whole is None:
        return NOWHERE
    pieces = [whole]
    if block.hole is not None:
        free = disc_crossing(block.hole[0], block.hole[1], block.hole[2] - max(reach), a, b, da, db)
        pieces = _without(pieces, free)
    if profile.cavity > 0.0:
        pieces = _without(pieces, _cavity_crossing(block, profile.cavity, a, b, da, db))
    return pieces


def covers(block: Block, profile: Profile, a: float, b: float, depth: float) -> bool:
    """Return whether a tool with its axis at (a, b) and its tip `depth` mm below the block's top overlaps it."""
    left, right, front, back = profile.reach(depth)
    gap_a, half_a = _gap(a, block.low_a, block.high_a, left + block.round_by, right + block.round_by)
    gap_b, half_b = _gap(b, block.low_b, block.high_b, front + block.round_by, back + block.round_by)
    if gap_a >= half_a or gap_b >= half_b:
        return False
    if (gap_a / half_a) ** 2 + (gap_b / half_b) ** 2 >= 1.0:
        return False
    if block.hole is not None:
        free = block.hole[2] - max(left, right, front, back)
        if free > 0.0 and math.hypot(a - block.hole[0], b - block.hole[1]) < free:
            return False
    if profile.cavity > 0.0:
        far_a, far_b = max(a - block.low_a, block.high_a - a), max(b - block.low_b, block.high_b - b)
        return math.hypot(far_a, far_b) + block.round_by >= profile.cavity
    return True


def _gap(at: float, low: float, high: float, before: float, after: float) -> tuple[float, float]:
    if at < low:
        return low - at, before
    if at > high:
        return at - high, after
    return 0.0, max(before, after, EPS)


def sink_depth(block: Block, profile: Profile, a: float, b: float) -> float | None:
    """Return how deep the tip may stand below the block's top, axis at (a, b), before they overlap; None: any.

    Searched piece by piece of the tool's form; within a piece the overlap grows with depth, so bisection finds
    the place to within `EPS`.
    """
    wide = profile.widest + block.round_by
    if not (block.low_a - wide < a < block.high_a + wide and block.low_b - wide < b < block.high_b + wide):
        return None
    breaks = profile.breaks
    for low, high in zip(breaks, (*breaks[1:], math.inf), strict=True):
        if covers(block, profile, a, b, low + EPS):
            return low
        if not math.isfinite(high) or not covers(block, profile, a, b, high - EPS):
            continue
        while high - low > EPS / 4.0:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if covers(block, profile, a, b, middle) else (middle, high)
        return high
    return None


def slanted_crossings(
    block: Block, profile: Profile, a: float, b: float, above: float, da: float, db: float, dz: float
) -> list[Crossing]:
    """Return where a tool on a slanting line overlaps the block; `above` is its tip's height over the top."""
    found: list[Crossing] = []
    for height, reach in profile.layers():
        at = -(above + height) / dz
        for low, high in level_crossings(block, profile, reach, a, b, da, db):
            low, high = (max(low, at), high) if dz < 0.0 else (low, min(high, at))
            if low < high:
                found.append((low, high))
    return merged(found)


def merged(pieces: list[Crossing]) -> list[Crossing]:
    """Return the pieces in order, those that touch or overlap made one."""
    found: list[Crossing] = []
    for low, high in sorted(pieces):
        if found and low <= found[-1][1] + EPS:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return found


def _without(pieces: list[Crossing], hole: Crossing | None) -> list[Crossing]:
    if hole is None:
        return pieces
    found: list[Crossing] = []
    for low, high in pieces:
        found += [
            (one, other) for one, other in ((low, min(high, hole[0])), (max(low, hole[1]), high)) if one < other
        ]
    return found


def _cavity_crossing(block: Block, cavity: float, a: float, b: float, da: float, db: float) -> Crossing | None:
    """Return where the whole block fits inside the tool's hollow: all four corners within the cavity."""
    low, high = -math.inf, math.inf
    for corner_a in {block.low_a, block.high_a}:
        for corner_b in {block.low_b, block.high_b}:
            inside = disc_crossing(corner_a, corner_b, cavity - block.round_by, a, b, da, db)
            if inside is None:
                return None
            low, high = max(low, inside[0]), min(high, inside[1])
    return (low, high) if low < high else None
