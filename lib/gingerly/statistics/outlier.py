"""Is the reading that lies furthest out still one of the lot?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gingerly.statistics.summary import summary
from gingerly.statistics.tails import student_quantile

ASSUMPTIONS = (
    "the readings but one come from one normal distribution",
    "they are independent of each other",
    "one reading at most is suspected, and on either side; two near each other can hide one another",
)
"""What Grubbs' test takes for granted; none of it is checked here."""


@dataclass(frozen=True, slots=True)
class OutlierTest:
    """Grubbs' test of the reading furthest from the mean.

    `index` is its place among the readings (from 0), `statistic` its distance from the mean in standard
    deviations, `critical` what that would exceed by chance in `significance` of all samples without outlier.
    """

    index: int
    statistic: float
    critical: float
    significance: float
    assumptions: tuple[str, ...] = ASSUMPTIONS

    @property
    def is_outlier(self) -> bool:
        """Whether the reading lies further out than chance explains. A reason to look, never to delete."""
        return self.statistic > self.critical


def grubbs_critical(count: int, *, significance: float = 0.05, sides: int = 2) -> float:
    """Return the critical value of Grubbs' statistic for `count` readings.

    G = (n − 1)/√n · √(t²/(n − 2 + t²)), t exceeded on one side with probability α/(sides·n) at n − 2 degrees of
    freedom. Source: F. E. Grubbs, Technometrics 11 (1969); NIST/SEMATECH e-Handbook 1.3.5.17.1. A significance of
    5 % is common practice, no source. Raises
    `ValueError` for fewer than three readings.
    """
    if count < 3:
        raise ValueError(f"Grubbs' test needs at least 3 readings, not {count}")
    if not 0.0 < significance < 1.0 or sides not in (1, 2):
        raise ValueError(f"a significance between 0 and 1 on 1 or 2 sides, not {significance:g} on {sides}")
    t = student_quantile(1.0 - 2.0 * significance / (sides * count), count - 2)
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def grubbs_test(readings: Sequence[float], *, significance: float = 0.05) -> OutlierTest:
    """Return whether the reading furthest from the mean is an outlier, on either side.

    `ASSUMPTIONS` are stated in the result. Readings without any scatter have no outlier. Raises `ValueError`
    for fewer than three readings.
    """
    critical = grubbs_critical(len(readings), significance=significance)
    found = summary(readings)
    index = max(range(len(readings)), key=lambda place: abs(readings[place] - found.mean))
    distance = abs(readings[index] - found.mean)
    statistic = distance / found.standard_deviation if found.standard_deviation > 0.0 else 0.0
    return OutlierTest(index, statistic, critical, significance)
