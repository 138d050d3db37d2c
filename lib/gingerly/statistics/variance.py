"""One-way analysis of variance: do several groups of readings share one mean?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gingerly.statistics.summary import finite, mean
from gingerly.statistics.tails import f_tail


@dataclass(frozen=True, slots=True)
class OneWay:
    """The table of a one-way analysis of variance; sums of squares in the readings' unit squared."""

    dof_between: int
    dof_within: int
    squares_between: float
    squares_within: float

    @property
    def f(self) -> float:
        """Mean square between the groups over that within; infinite where nothing scatters within."""
        if self.squares_within == 0.0:
            return math.inf if self.squares_between > 0.0 else 0.0
        return self.squares_between / self.dof_between / (self.squares_within / self.dof_within)

    @property
    def p(self) -> float:
        """How often chance alone gives an F as large, where the groups share one mean and one normal scatter."""
        return f_tail(self.f, self.dof_between, self.dof_within)

    @property
    def explained(self) -> float:
        """The share of all squares that lies between the groups (R²)."""
        whole = self.squares_between + self.squares_within
        return self.squares_between / whole if whole > 0.0 else 0.0

    @property
    def residual(self) -> float:
        """The standard deviation within the groups."""
        return math.sqrt(self.squares_within / self.dof_within)


def one_way(groups: Sequence[Sequence[float]]) -> OneWay:
    """Return the one-way analysis of variance of groups of readings.

    Assumes independent normal readings of equal scatter in every group. Every reading is first taken relative
    to the grand mean, which costs no digits (see `squares`). Source: any text on analysis of variance; checked
    against the NIST StRD sets. Raises `ValueError` for fewer than two groups, an empty one, or no repeats.
    """
    if len(groups) < 2 or any(len(group) == 0 for group in groups):
        raise ValueError("an analysis of variance needs at least two groups, none of them empty")
    everything = [value for group in groups for value in finite(group)]
    dof_within = len(everything) - len(groups)
    if dof_within < 1:
        raise ValueError("an analysis of variance needs more readings than groups")
    pivot = mean(everything)
    shifted = [[value - pivot for value in group] for group in groups]
    return OneWay(len(groups) - 1, dof_within, squares_between(shifted), _squares_within(shifted))


def squares_between(groups: Sequence[Sequence[float]]) -> float:
    """Return the sum of squares of the groups' means about the mean of all, each counted as often as it has
    readings; meant for readings relative to a pivot near their mean."""
    total = math.fsum(value for group in groups for value in group)
    count = sum(len(group) for group in groups)
    return math.fsum(math.fsum(group) ** 2 / len(group) for group in groups) - total**2 / count


def _squares_within(groups: Sequence[Sequence[float]]) -> float:
    parts = []
    for group in groups:
        middle = math.fsum(group) / len(group)
        left = [value - middle for value in group]
        parts.append(math.fsum(d * d for d in left) - math.fsum(left) ** 2 / len(left))
    return math.fsum(parts)
