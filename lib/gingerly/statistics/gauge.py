"""Gauge repeatability and reproducibility: is this way of measuring good enough for these parts?

Several people (or set-ups) measure the same parts several times each. What one person's repeats scatter by is
the equipment variation, what people differ by the appraiser variation, both together the gauge's; what the
parts differ by is the part variation. Everything is a standard deviation in the readings' unit.

Source of both methods: AIAG, Measurement Systems Analysis reference manual, variable gauge study (formulas from
memory, checked against its published example).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gingerly.statistics.ranges import range_constants, single_range_constant
from gingerly.statistics.summary import finite, mean
from gingerly.statistics.tails import f_tail
from gingerly.statistics.variance import squares_between

POOL_ABOVE = 0.25
"""Probability of the interaction's F above which it is pooled with the equipment: common practice, no source."""

CATEGORIES = 1.41
"""Factor of the number of distinct categories, √2 as the manual prints it."""

Readings = Sequence[Sequence[Sequence[float]]]
"""readings[part][appraiser][trial]."""


@dataclass(frozen=True, slots=True)
class Interaction:
    """Whether people and parts interact: degrees of freedom, mean square, F over the equipment's, probability."""

    dof: int
    mean_square: float
    f: float
    p: float
    pooled: bool


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Standard deviations of a gauge study, in the readings' unit.

    `equipment` repeats by one person, `appraisers` between people (with their interaction with the parts, where
    that is not pooled), `parts` between the parts.
    """

    equipment: float
    appraisers: float
    parts: float
    interaction: Interaction | None = None

    @property
    def gauge(self) -> float:
        """Repeatability and reproducibility together."""
        return math.hypot(self.equipment, self.appraisers)

    @property
    def total(self) -> float:
        """Gauge and parts together."""
        return math.hypot(self.gauge, self.parts)

    def share(self, standard_deviation: float) -> float:
        """Return a standard deviation as a share of the total one; 0.1 and below is good, above 0.3 is not
        (common practice)."""
        return standard_deviation / self.total if self.total > 0.0 else 0.0

    @property
    def categories(self) -> float:
        """How many groups of parts the gauge can tell apart, 1.41 × parts / gauge, not yet cut to a whole."""
        return CATEGORIES * self.parts / self.gauge if self.gauge > 0.0 else math.inf


def gauge_study_by_range(readings: Readings) -> GaugeStudy:
    """Return the gauge study by averages and ranges.

    EV = R̄/d₂(trials); AV = √((X_diff/d₂*(appraisers))² − EV²/(n·r)), nothing where negative;
    PV = R_part/d₂*(parts). Raises `ValueError` for readings that are not a full block.
    """
    parts, appraisers, trials = _block(readings)
    cells = [cell for part in readings for cell in part]
    equipment = mean([max(cell) - min(cell) for cell in cells]) / range_constants(trials)[0]
    by_person = [mean([value for part in readings for value in part[who]]) for who in range(appraisers)]
    between = (max(by_person) - min(by_person)) / single_range_constant(appraisers)
    variance = between**2 - equipment**2 / (parts * trials)
    by_part = [mean([value for cell in part for value in cell]) for part in readings]
    part_sd = (max(by_part) - min(by_part)) / single_range_constant(parts)
    return GaugeStudy(equipment, math.sqrt(max(0.0, variance)), part_sd)


@dataclass(frozen=True, slots=True)
class Crossed:
    """Sums of squares of the crossed two-way analysis of variance that a gauge study rests on."""

    counts: tuple[int, int, int]
    squares_parts: float
    squares_appraisers: float
    squares_interaction: float
    squares_equipment: float

    @property
    def dof_interaction(self) -> int:
        """(parts − 1)·(appraisers − 1)."""
        return (self.counts[0] - 1) * (self.counts[1] - 1)

    @property
    def dof_equipment(self) -> int:
        """parts · appraisers · (trials − 1)."""
        parts, appraisers, trials = self.counts
        return parts * appraisers * (trials - 1)


def crossed(readings: Readings) -> Crossed:
    """Return the sums of squares of parts, appraisers, their interaction and the equipment.

    Raises `ValueError` for readings that are not a full block.
    """
    counts = _block(readings)
    pivot = mean([value for part in readings for cell in part for value in cell])
    shifted = [[[value - pivot for value in cell] for cell in part] for part in readings]
    cells = [cell for part in shifted for cell in part]
    parts = squares_between([[value for cell in part for value in cell] for part in shifted])
    people = squares_between([[v for part in shifted for v in part[who]] for who in range(counts[1])])
    between = squares_between(cells)
    whole = squares_between([[value] for cell in cells for value in cell])
    return Crossed(counts, parts, people, between - parts - people, whole - between)


def gauge_study_by_anova(readings: Readings, *, pool_above: float = POOL_ABOVE) -> GaugeStudy:
    """Return the gauge study by analysis of variance, crossed, with random effects.

    The interaction's F has the equipment's mean square under it; where its probability exceeds `pool_above` it
    is pooled with the equipment, otherwise it counts with the appraisers. Negative components of variance are
    set to nothing. Raises `ValueError` for readings that are not a full block.
    """
    table = crossed(readings)
    parts, appraisers, trials = table.counts
    interaction = _interaction(table, pool_above)
    within = table.squares_equipment / table.dof_equipment
    if interaction.pooled:
        within = (table.squares_equipment + table.squares_interaction) / (table.dof_equipment + interaction.dof)
    noise = within if interaction.pooled else interaction.mean_square
    mutual = 0.0 if interaction.pooled else (interaction.mean_square - within) / trials
    people = (table.squares_appraisers / (appraisers - 1) - noise) / (parts * trials)
    part = (table.squares_parts / (parts - 1) - noise) / (appraisers * trials)
    return GaugeStudy(
        equipment=math.sqrt(within),
        appraisers=math.sqrt(max(0.0, people) + max(0.0, mutual)),
        parts=math.sqrt(max(0.0, part)),
        interaction=interaction,
    )


def _interaction(table: Crossed, pool_above: float) -> Interaction:
    mean_square = table.squares_interaction / table.dof_interaction
    under = table.squares_equipment / table.dof_equipment
    f = max(0.0, mean_square) / under if under > 0.0 else math.inf
    p = f_tail(f, table.dof_interaction, table.dof_equipment)
    return Interaction(table.dof_interaction, mean_square, f, p, p > pool_above)


def _block(readings: Readings) -> tuple[int, int, int]:
    """Return (parts, appraisers, trials); raises `ValueError` unless every part was read alike."""
    counts = {(len(part), len(cell)) for part in readings for cell in part}
    if len(readings) < 2 or len(counts) != 1:
        raise ValueError("a gauge study needs at least 2 parts, each read as often by each of the same people")
    appraisers, trials = counts.pop()
    if appraisers < 2 or trials < 2:
        raise ValueError(f"a gauge study needs at least 2 people and 2 trials, not {appraisers} and {trials}")
    for part in readings:
        for cell in part:
            finite(cell)
    return len(readings), appraisers, trials
