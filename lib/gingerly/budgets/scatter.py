"""How single contacts of one machine scatter, pooled over its touches: two contacts alone say next to nothing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from gingerly.geometry import Axis
from gingerly.messages.touches import Face, Touch
from gingerly.statistics.summary import Pooled, squares

Key = tuple[Axis, float]
"""Axis and feed in mm/min: contacts at another feed scatter otherwise."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """What is known of a machine's scatter: sum of squares (mm²) and degrees of freedom for each axis and feed.

    Frozen: `grown` returns what is known after more touches.
    """

    sums: Mapping[Key, tuple[float, int]] = field(default_factory=dict)

    def grown(self, touched: Iterable[tuple[Touch, Face]]) -> Scatter:
        """Return what is known after these touches too; fewer than two contacts that count add nothing."""
        sums = dict(self.sums)
        for touch, face in touched:
            count = touch.plan.retouches
            if count < 2 or len(face.contacts) <= count:
                continue
            distances = [contact.distance for contact in face.contacts[-count:]]
            before, dof = sums.get(_key(touch), (0.0, 0))
            sums[_key(touch)] = before + squares(distances), dof + count - 1
        return Scatter(sums)

    def observed(self, touch: Touch) -> Pooled | None:
        """Return the scatter of single slow contacts along this touch's axis at its slow feed; None if unknown."""
        total, dof = self.sums.get(_key(touch), (0.0, 0))
        return Pooled(math.sqrt(total / dof), dof) if dof else None


UNKNOWN = Scatter()


def _key(touch: Touch) -> Key:
    direction = touch.direction
    return max(Axis, key=lambda axis: abs(direction[axis])), touch.plan.slow_feed
