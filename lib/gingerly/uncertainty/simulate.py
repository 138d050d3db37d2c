"""Propagation of distributions through a model of any form, by seeded random draws.

For what is no sum of sources (the origin of a skewed corner, say), and to check the numeric combination. Needs
numpy, which is loaded when it is called.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from gingerly.uncertainty.shapes import Shape


@dataclass(frozen=True, slots=True)
class Simulation:
    """What random draws say of an output: mean, standard uncertainty, and two intervals of `probability`.

    `middle` leaves as much out below as above; `shortest` is the shortest there is.
    """

    mean: float
    u: float
    probability: float
    middle: tuple[float, float]
    shortest: tuple[float, float]


def simulated(
    model: Callable[..., Any],
    inputs: Sequence[Shape],
    *,
    trials: int = 200_000,
    seed: int = 1,
    probability: float = 0.95,
) -> Simulation:
    """Return what `trials` draws of independent inputs give through `model`, the same for the same seed.

    `model` takes one array per input and returns one. Source: JCGM 101:2008, clause 7 and 7.7 (the intervals).
    So many trials are our own choice. Raises `ValueError` for too few trials for the probability, or results that
    are not finite.
    """
    import numpy as np

    if not 0.0 < probability < 1.0 or trials * (1.0 - probability) < 20:
        raise ValueError(f"{trials} trials are too few for a probability of {probability:g}")
    rng = np.random.default_rng(seed)
    drawn = np.sort(np.asarray(model(*(shape.drawn(rng, trials) for shape in inputs)), dtype=float))
    if not math.isfinite(float(drawn[0])) or not math.isfinite(float(drawn[-1])):
        raise ValueError("the model gave results that are not finite")
    held = round(probability * trials)
    start = (trials - held) // 2
    narrow = int(np.argmin(drawn[held:] - drawn[: trials - held]))
    return Simulation(
        float(drawn.mean()),
        float(drawn.std(ddof=1)),
        probability,
        (float(drawn[start]), float(drawn[start + held - 1])),
        (float(drawn[narrow]), float(drawn[narrow + held])),
    )
