"""What bore and boss share: the touches all round, the circle through them, and what follows from it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gingerly.budgets.form import Fitted
from gingerly.fits import UnusableGeometry, fit_circle
from gingerly.geometry import Axis, Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.faults import ImplausibleContact
from gingerly.messages.touches import Measures, Step, Unusable
from gingerly.routines.course import Faces, settled

OUT_OF_ROUND = "out of round"
"""What the form of a circle is called in a result."""

FEWEST, MOST = 3, 36
"""How many touches make a circle, and how many are worth the time. Our own choice."""


STRAIGHT = 1e-9
"""A touch is along an axis if its share in the other is no more than this."""


def check_touches(touches: int) -> None:
    """Raise `ValueError` for a number of touches that makes no circle."""
    if not FEWEST <= touches <= MOST:
        raise ValueError(f"a circle takes {FEWEST} to {MOST} touches, not {touches}")


def all_round(touches: int) -> tuple[Position, ...]:
    """Return so many level unit vectors, evenly spaced counter-clockwise from +X."""
    angles = (2.0 * math.pi * number / touches for number in range(touches))
    return tuple(Position(math.cos(angle), math.sin(angle), 0.0) for angle in angles)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundWall:
    """Where a round wall may be met, whose middle lies within `within` mm of its place on X and on Y.

    `reach` is how far from that middle the tool's axis stands at contact (mm); `inside` tells a bore from a boss.
    Everything counts along the touch, from where a wall in its very place would be met.

    The middle may lie further off obliquely than on either axis. So an oblique touch expects the wall where the
    first one, along X, leaves it. And whoever passes beside the middle meets a bore's wall earlier, a boss' later:
    by R − √(R² − e²), e beside it.
    """

    reach: float
    within: float
    inside: bool

    def window(self, direction: Position, first: float | None) -> tuple[float, float]:
        """Return from where to where the wall may be met along `direction`, a level unit vector (mm).

        `first` is how far on the first touch met it, mm; None before that one.
        """
        within = self.within
        oblique = min(abs(direction.x), abs(direction.y)) > STRAIGHT
        if not oblique or first is None:
            sides = (-within, within)
            met = [self._met(direction, x, y) for x in sides for y in sides]
            return min(-within, *met), max(within, *met)
        sign, middle = (1.0 if self.inside else -1.0), first * direction.x
        beside = [within * step / 4.0 for step in range(-4, 5)]
        met = [self._met(direction, first + sign * self._later(y), y) for y in beside]
        return min(middle - within, *met), max(middle + within, *met)

    def _met(self, direction: Position, x: float, y: float) -> float:
        """Return where the wall about a middle that lies (x, y) mm off is met."""
        later = self._later(direction.x * y - direction.y * x)
        return direction.x * x + direction.y * y + (-later if self.inside else later)

    def _later(self, beside: float) -> float:
        return self.reach - math.sqrt(max(0.0, self.reach * self.reach - beside * beside))


def rounded(faces: Faces) -> Fitted:
    """Return the circle through all faces that were touched sideways, as far as its form goes."""
    numbers = tuple(number for number, face in enumerate(faces) if face.direction.z == 0.0)
    circle = fit_circle([faces[number].position[:2] for number in numbers])
    ways = dict(zip(numbers, circle.directions, strict=True))

    def left(shifts: Sequence[float]) -> list[float]:
        x, y, more = (
            math.fsum(row[unknown] * shift for row, shift in zip(circle.influence, shifts, strict=True))
            for unknown in range(3)
        )
        pairs = zip(circle.directions, shifts, strict=True)
        return [shift - x * cos - y * sin - more for (cos, sin), shift in pairs]

    return Fitted(
        form=OUT_OF_ROUND,
        numbers=numbers,
        outward=tuple(ways.get(number) for number in range(len(faces))),
        unknowns=3,
        left=left,
    )


def centred(faces: Faces, *, tool_radius: float, offset: int | None, reads: Position, top_at: float | None) -> Step:
    """Return the centre of the circle through all faces but the first, its diameter and its form.

    `tool_radius` (mm) is negative for a boss, which the tool surrounds. With `top_at`, the height of the top
    face (mm), Z is set as well. Contacts that make no circle are unusable.
    """
    try:
        circle = fit_circle([face.position[:2] for face in faces[1:]])
    except UnusableGeometry as bad:
        return Unusable(ImplausibleContact, str(bad))
    x, y = circle.centre
    axes: AxisValues = ((Axis.X, x - reads.x), (Axis.Y, y - reads.y))
    if top_at is not None:
        axes = (*axes, (Axis.Z, top_at - reads.z))
    measures: Measures = (("diameter", 2.0 * (circle.radius + tool_radius)),)
    if circle.dof > 0:  # a circle goes through any three points
        measures = (*measures, (OUT_OF_ROUND, circle.form))
    return settled(offset, axes, measures)
