"""Repeatability and accuracy of positioning, as machine tool tests state them, and of touches of one spot.

The formulas are those of ISO 230-2 (edition 2014) as they are widely reproduced; clause numbers are not claimed.
For a touch on one spot, as in the single-point test of ISO 230-10 (from memory: repeated touches per direction,
reported as their range), both the range and 4·s are given. Whoever needs a statement *according to* a standard
compares with its text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gingerly.statistics.summary import mean, standard_deviation, summary


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Repeated touches of one spot along one direction: their number, standard deviation and range, in mm."""

    count: int
    standard_deviation: float
    range: float

    @property
    def four_s(self) -> float:
        """4·s: from two standard deviations below to two above, as ISO 230-2 expresses repeatability."""
        return 4.0 * self.standard_deviation


def repeatability(touches: Sequence[float]) -> Repeatability:
    """Return the repeatability of touches of one spot along one direction (mm).

    Ten touches are usual. Raises `ValueError` for fewer than two.
    """
    found = summary(touches)
    return Repeatability(found.count, found.standard_deviation, found.range)


@dataclass(frozen=True, slots=True)
class OneDirection:
    """Means and standard deviations at each target position, approached from one direction (mm)."""

    means: tuple[float, ...]
    deviations: tuple[float, ...]

    @property
    def repeatabilities(self) -> tuple[float, ...]:
        """4·sᵢ at each position."""
        return tuple(4.0 * s for s in self.deviations)

    @property
    def repeatability(self) -> float:
        """The largest of them: unidirectional repeatability of positioning, R↑ or R↓."""
        return max(self.repeatabilities)

    @property
    def systematic(self) -> float:
        """The range of the means: unidirectional systematic deviation, E↑ or E↓."""
        return max(self.means) - min(self.means)

    @property
    def limits(self) -> tuple[float, float]:
        """The lowest mean − 2s and the highest mean + 2s of all positions."""
        pairs = list(zip(self.means, self.deviations, strict=True))
        return min(m - 2.0 * s for m, s in pairs), max(m + 2.0 * s for m, s in pairs)

    @property
    def accuracy(self) -> float:
        """The distance between the limits: unidirectional accuracy, A↑ or A↓."""
        return self.limits[1] - self.limits[0]


@dataclass(frozen=True, slots=True)
class PositioningTest:
    """A positioning test in both directions; all values in the unit of the deviations."""

    forward: OneDirection
    backward: OneDirection

    @property
    def reversals(self) -> tuple[float, ...]:
        """Bᵢ, the mean forward less the mean backward at each position."""
        return tuple(up - down for up, down in zip(self.forward.means, self.backward.means, strict=True))

    @property
    def reversal(self) -> float:
        """B, the largest reversal in either sense."""
        return max(abs(value) for value in self.reversals)

    @property
    def mean_reversal(self) -> float:
        """The mean of all reversals."""
        return mean(self.reversals)

    @property
    def repeatabilities(self) -> tuple[float, ...]:
        """Rᵢ = max(2s↑ + 2s↓ + |B|, R↑, R↓) at each position."""
        up, down = self.forward, self.backward
        return tuple(
            max(2.0 * s_up + 2.0 * s_down + abs(b), 4.0 * s_up, 4.0 * s_down)
            for s_up, s_down, b in zip(up.deviations, down.deviations, self.reversals, strict=True)
        )

    @property
    def repeatability(self) -> float:
        """R, the bidirectional repeatability of positioning."""
        return max(self.repeatabilities)

    @property
    def systematic(self) -> float:
        """E, the range of the means of both directions."""
        means = (*self.forward.means, *self.backward.means)
        return max(means) - min(means)

    @property
    def mean_systematic(self) -> float:
        """M, the range of the means of the two directions' means."""
        both = [(up + down) / 2.0 for up, down in zip(self.forward.means, self.backward.means, strict=True)]
        return max(both) - min(both)

    @property
    def accuracy(self) -> float:
        """A, the bidirectional accuracy of positioning."""
        low = min(self.forward.limits[0], self.backward.limits[0])
        high = max(self.forward.limits[1], self.backward.limits[1])
        return high - low


def positioning_test(forward: Sequence[Sequence[float]], backward: Sequence[Sequence[float]]) -> PositioningTest:
    """Return the test's results from deviations[position][approach], forward and backward.

    Raises `ValueError` where the directions do not have the same positions, or one has fewer than two approaches.
    """
    if not forward or len(forward) != len(backward):
        raise ValueError(f"as many positions forward ({len(forward)}) as backward ({len(backward)}), and some")
    return PositioningTest(_one_direction(forward), _one_direction(backward))


def _one_direction(deviations: Sequence[Sequence[float]]) -> OneDirection:
    return OneDirection(
        tuple(mean(at_position) for at_position in deviations),
        tuple(standard_deviation(at_position) for at_position in deviations),
    )
