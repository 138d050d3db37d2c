"""A budget: every source of doubt about one number, and what follows from them together.

The quantity of a source is an unknown amount, `middle` its best guess; its `sensitivity` says how much the
output's true value grows with it: true = found + Σ cᵢ·xᵢ. One-sided sources therefore shift the result: the
budget's `correction` is to be added to what was found.

Sources with the same `shared` key are one and the same unknown amount (the tool's radius on both sides of a
slot): where budgets are combined their signed sensitivities are added before anything is squared, so that they
cancel or grow as they do in the metal. A source without key is its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from gingerly.uncertainty.bounded import Arcsine
from gingerly.uncertainty.gum import coverage_factor, effective_dof
from gingerly.uncertainty.numeric import coverage_interval
from gingerly.uncertainty.shapes import Shape, Student


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source of doubt.

    `shape` is what is known of its amount, `sensitivity` how the output follows it (any unit per unit), `dof`
    the degrees of freedom of its standard uncertainty, where that is itself an estimate (JCGM 100:2008, G.4.2).
    `shared` names an amount that other sources may share; `batch` says that it stays the same for every part of
    a batch. `across` is for an arcsine only, one component of something of fixed size and unknown angle such as
    runout: the sensitivity to the same thing a quarter turn on (X follows its cosine, Y its sine).

    Raises `ValueError` for a sensitivity that is not finite, or `across` with another shape.
    """

    name: str
    shape: Shape
    sensitivity: float = 1.0
    across: float = 0.0
    dof: float = math.inf
    shared: str | None = None
    batch: bool = False

    def __post_init__(self) -> None:
        if not (math.isfinite(self.sensitivity) and math.isfinite(self.across)):
            raise ValueError(f"the sensitivity to {self.name} must be finite")
        if not self.dof > 0.0:
            raise ValueError(f"the degrees of freedom of {self.name} must be above 0, not {self.dof:g}")
        if self.across != 0.0 and not isinstance(self.shape, Arcsine):
            raise ValueError(f"{self.name}: only an arcsine has a component a quarter turn on")

    @property
    def degrees(self) -> float:
        """Degrees of freedom: those of a Student shape, or `dof`."""
        return self.shape.dof if isinstance(self.shape, Student) else self.dof

    @property
    def size(self) -> float:
        """How strongly the output follows, without sign; both components of a fixed size taken together."""
        return math.hypot(self.sensitivity, self.across) if self.across else abs(self.sensitivity)

    @property
    def contribution(self) -> float:
        """Its standard uncertainty in the output, |c|·u."""
        return self.size * self.shape.u

    @property
    def correction(self) -> float:
        """What it adds to the output on average, c·middle."""
        return self.sensitivity * self.shape.middle

    def times(self, factor: float) -> Source:
        """Return the source of `factor` times the output."""
        return replace(self, sensitivity=self.sensitivity * factor, across=self.across * factor)


@dataclass(frozen=True, slots=True)
class Statement:
    """What a budget says.

    `u` is the combined standard uncertainty, `dof` its effective degrees of freedom, `k` the coverage factor
    and `expanded` = k·u, by JCGM 100. `half_width` is that of the interval of the same probability found
    numerically (JCGM 101), which is the one to quote; `correction` is to be added to what was found.
    """

    probability: float
    u: float
    dof: float
    k: float
    expanded: float
    half_width: float
    correction: float
    rules: str

    def __str__(self) -> str:
        percent = f"{100.0 * self.probability:.4g} %"
        dof = "∞" if math.isinf(self.dof) else f"{self.dof:.1f}"
        return (
            f"± {self.half_width:.4f} at {percent} (numerically combined, JCGM 101);"
            f" u = {self.u:.5f}, ν = {dof}, k = {self.k:.3f}, U = {self.expanded:.4f} (JCGM 100);"
            f" correction {self.correction:+.4f}; most of it: {self.rules}"
        )


@dataclass(frozen=True, slots=True)
class Budget:
    """The sources of one output, those with the same `shared` key already taken together.

    Raises `ValueError` where sources share a key but not a shape.
    """

    sources: tuple[Source, ...]

    def __post_init__(self) -> None:
        keys = [source.shared for source in self.sources if source.shared is not None]
        if len(set(keys)) != len(keys):
            object.__setattr__(self, "sources", _gathered(self.sources))

    @property
    def u(self) -> float:
        """The combined standard uncertainty, √Σ(c·u)². Source: JCGM 100:2008, 5.1.2."""
        return math.hypot(*(source.contribution for source in self.sources))

    @property
    def correction(self) -> float:
        """What to add to the value found, so that one-sided sources are centred (JCGM 100:2008, 3.2.4)."""
        return math.fsum(source.correction for source in self.sources)

    @property
    def dof(self) -> float:
        """The effective degrees of freedom, by Welch and Satterthwaite."""
        return effective_dof((source.contribution, source.degrees) for source in self.sources)

    def half_width(self, probability: float = 0.95) -> float:
        """Return the half width of the numerically combined interval, by JCGM 101; `ValueError` as there."""
        return coverage_interval(self._spreads(), probability).half_width

    def _spreads(self) -> list[Shape]:
        return [_contribution(source) for source in self.sources if source.contribution > 0.0]

    def stated(self, probability: float = 0.95) -> Statement:
        """Return both statements, by JCGM 100 and JCGM 101, at `probability`."""
        u, dof = self.u, self.dof
        k = coverage_factor(probability, dof)
        ruling = max(self.sources, key=lambda source: source.contribution, default=None)
        return Statement(
            probability,
            u,
            dof,
            k,
            k * u,
            self.half_width(probability),
            self.correction,
            ruling.name if ruling is not None and ruling.contribution > 0.0 else "nothing",
        )

    def shares(self) -> tuple[tuple[str, float], ...]:
        """Return each source's share of the variance, the largest first."""
        whole = self.u**2
        if whole == 0.0:
            return ()
        parts = [(source.name, source.contribution**2 / whole) for source in self.sources]
        return tuple(sorted(parts, key=lambda part: -part[1]))

    def of_each_part(self) -> Budget:
        """Return the budget of differences from the batch: without what stays the same for all its parts."""
        return Budget(tuple(source for source in self.sources if not source.batch))

    def of_the_batch(self) -> Budget:
        """Return the budget of what stays the same for every part of a batch."""
        return Budget(tuple(source for source in self.sources if source.batch))

    def table(self, *, unit: str = "mm") -> str:
        """Return the budget as lines of text, the largest contribution first, with the sums below."""
        head = ("source", "shape", "u", "sensitivity", "ν", f"|c|·u / {unit}", f"shift / {unit}", "common to")
        ordered = sorted(self.sources, key=lambda item: -item.contribution)
        rows: list[tuple[str, ...]] = [head, *(_row(source) for source in ordered)]
        widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
        lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
        lines.insert(1, "─" * max(len(line) for line in lines))
        return "\n".join([line.rstrip() for line in lines] + [str(self.stated())])


def _contribution(source: Source) -> Shape:
    """Return the shape of a source's contribution."""
    return source.shape.scaled(source.size)


def _row(source: Source) -> tuple[str, ...]:
    degrees = "∞" if math.isinf(source.degrees) else f"{source.degrees:.0f}"
    common = "batch" if source.batch else "part" if source.shared is not None else ""
    return (
        source.name,
        source.shape.name,
        f"{source.shape.u:.6f}",
        f"{source.sensitivity:+.4g}" + (f", {source.across:+.4g}" if source.across else ""),
        degrees,
        f"{source.contribution:.6f}",
        f"{source.correction:+.4f}" if source.correction else "",
        common,
    )


def _gathered(sources: Iterable[Source]) -> tuple[Source, ...]:
    """Return the sources with those of one key made one, their signed sensitivities added."""
    found: list[Source] = []
    places: dict[str, int] = {}
    for source in sources:
        if source.shared is None or source.shared not in places:
            if source.shared is not None:
                places[source.shared] = len(found)
            found.append(source)
            continue
        place = places[source.shared]
        first = found[place]
        if (first.shape, first.dof) != (source.shape, source.dof):
            raise ValueError(f"{source.name} and {first.name} share {source.shared!r} but differ in shape")
        found[place] = replace(
            first,
            sensitivity=first.sensitivity + source.sensitivity,
            across=first.across + source.across,
            batch=first.batch and source.batch,
        )
    return tuple(found)


def combined(parts: Iterable[tuple[float, Budget]]) -> Budget:
    """Return the budget of a sum of factor × output: (½, left), (½, right) is the middle of a slot.

    Sources of one `shared` key are added with their signs; all others are independent.
    """
    return Budget(tuple(source.times(factor) for factor, budget in parts for source in budget.sources))


def covariance(one: Budget, other: Budget) -> float:
    """Return the covariance of two outputs, Σ c·c′·u² over what they share. Source: JCGM 100:2008, F.1.2.3."""
    theirs = {source.shared: source for source in other.sources if source.shared is not None}
    return math.fsum(
        (mine.sensitivity * theirs[mine.shared].sensitivity + mine.across * theirs[mine.shared].across)
        * mine.shape.u**2
        for mine in one.sources
        if mine.shared in theirs
    )
