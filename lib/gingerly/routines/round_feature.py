"""What bore and boss share: the touches all round, the circle through them, and what follows from it."""

from __future__ import annotations

import math

from gingerly.fits import UnusableGeometry, fit_circle
from gingerly.geometry import Axis, Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.faults import ImplausibleContact
from gingerly.messages.touches import Step, Unusable
from gingerly.routines.course import Faces, settled

FEWEST, MOST = 3, 36
"""How many touches make a circle, and how many are worth the time. Our own choice."""


def check_touches(touches: int) -> None:
    """Raise `ValueError` for a number of touches that makes no circle."""
    if not FEWEST <= touches <= MOST:
        raise ValueError(f"a circle takes {FEWEST} to {MOST} touches, not {touches}")


def all_round(touches: int) -> tuple[Position, ...]:
    """Return so many level unit vectors, evenly spaced counter-clockwise from +X."""
    angles = (2.0 * math.pi * number / touches for number in range(touches))
    return tuple(Position(math.cos(angle), math.sin(angle), 0.0) for angle in angles)


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
    measures = (("diameter", 2.0 * (circle.radius + tool_radius)), ("out of round", circle.form))
    return settled(offset, axes, measures)
