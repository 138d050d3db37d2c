"""How single contacts of one machine scatter, pooled over its touches: two contacts alone say next to nothing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from gingerly.budgets.touched import main_axis
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

    def grown(self, faces: Iterable[Face]) -> Scatter:
        """Return what is known after these faces too; fewer than two slow contacts add nothing."""
        sums = dict(self.sums)
        for face in faces:
            distances = [contact.distance for contact in face.contacts[1:]]
            if len(distances) < 2:
                continue
            key = main_axis(face.direction), face.contacts[1].feed
            before, dof = sums.get(key, (0.0, 0))
            sums[key] = before + squares(distances), dof + len(distances) - 1
        return Scatter(sums)

    def observed(self, touch: Touch) -> Pooled | None:
        """Return the scatter of single slow contacts along this touch's axis at its slow feed; None if unknown."""
        total, dof = self.sums.get((main_axis(touch.direction), touch.plan.slow_feed), (0.0, 0))
        return Pooled(math.sqrt(total / dof), dof) if dof else None


UNKNOWN = Scatter()
