"""The budget of what a touch found: every source of doubt of a face, taken from facts, plan, contacts and doubts.

`Doubts` holds, in one place, what nobody measured: limits of plate, tool, seating and spindle, with honest
defaults for home-made parts. Whoever knows better says so there.

Signs. A face is touched along `inward` (+1 or −1 on its axis), and

    face = controlled point at contact + inward·(tool radius + lip + gap + …).

A source's sensitivity is how the face's *true* coordinate grows with the source's amount, so that what acts
alike on two opposite faces (the radius) cancels in their middle, and what acts along the axis (runout) does not.
Nothing here moves or knows an event loop.
"""

from __future__ import annotations

from collections.abc import Sequence

from gingerly.budgets.doubts import CERTAIN, DEFAULTS, EITHER, NOTHING, Doubts
from gingerly.budgets.judge import Judge, change_budget, face_budget, shifted
from gingerly.budgets.touched import TouchedFace, pooled_scatter, touched
from gingerly.uncertainty.budget import Budget, combined

__all__ = [
    "CERTAIN",
    "DEFAULTS",
    "EITHER",
    "NOTHING",
    "Doubts",
    "Judge",
    "TouchedFace",
    "change_budget",
    "face_budget",
    "feature_budget",
    "middle_budget",
    "pooled_scatter",
    "shifted",
    "touched",
    "width_budget",
]


def middle_budget(low: Budget, high: Budget) -> Budget:
    """Return the budget of the middle between two opposite faces: the tool's radius cancels, runout does not."""
    return combined(((0.5, low), (0.5, high)))


def width_budget(low: Budget, high: Budget) -> Budget:
    """Return the budget of the distance between two opposite faces: runout cancels, the radius counts twice."""
    return combined(((-1.0, low), (1.0, high)))


def feature_budget(weights: Sequence[float], faces: Sequence[Budget]) -> Budget:
    """Return the budget of a number that a fit makes of several faces, from the fit's `influence` on it.

    The centre of a bore along X is Σ wᵢ·faceᵢ with the first column of `CircleFit.influence`; touches that go
    outward, as in a bore, are counted along their own direction. Raises `ValueError` for unequal numbers.
    """
    return combined(zip(weights, faces, strict=True))
