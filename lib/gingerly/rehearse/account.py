"""What many rehearsed runs say together: how often it went well, how far off, whether the ± held, how long.

Lengths in mm, times in seconds. Shares stand with the interval that holds the true share at 95 % (Wilson's score
interval: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927)).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

from gingerly.rehearse.run import AxisRecord, RunRecord

WORST = 5
"""So many of the worst runs are named. Our own choice."""

Z_95 = NormalDist().inv_cdf(0.975)
"""The quantile of the normal distribution that leaves 2.5 % on either side: 1.96."""


@dataclass(frozen=True, slots=True)
class Share:
    """How many of how many, and between which bounds the true share lies at 95 %."""

    count: int
    of: int

    @property
    def value(self) -> float:
        """The share itself; 0 of nothing is 0."""
        return self.count / self.of if self.of else 0.0

    @property
    def bounds(self) -> tuple[float, float]:
        """Wilson's score interval at 95 %. Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927)."""
        if not self.of:
            return 0.0, 1.0
        n, p, z2 = self.of, self.value, Z_95 * Z_95
        middle, half = p + z2 / (2 * n), Z_95 * math.sqrt(p * (1.0 - p) / n + z2 / (4 * n * n))
        return max(0.0, (middle - half) / (1.0 + z2 / n)), min(1.0, (middle + half) / (1.0 + z2 / n))


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisAccount:
    """The errors of one axis of one part, over all runs that found it (mm).

    `covering` is the smallest half width about no error that holds 95 % of the errors; `stated` the mean of those
    that were stated, None where none was, and `inside` the share of the errors that those held.
    """

    part: str
    axis: str
    count: int
    mean: float
    standard_deviation: float
    low: float
    high: float
    worst: float
    covering: float
    stated: float | None
    inside: Share | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """What the runs say together. `faults` counts by name; `worst` holds the runs to look at first."""

    runs: int
    success: Share
    axes: tuple[AxisAccount, ...]
    faults: tuple[tuple[str, int], ...]
    machine_s: tuple[float, float, float]
    deepest: tuple[float, float]
    worst: tuple[RunRecord, ...]


def account(records: Sequence[RunRecord]) -> Account:
    """Return what these runs say together; raises `ValueError` for none."""
    if not records:
        raise ValueError("nothing was rehearsed")
    times = [record.machine_s for record in records]
    depths = [record.deepest for record in records]
    faults = Counter(name for record in records for name in record.faults)
    return Account(
        runs=len(records),
        success=Share(sum(record.done for record in records), len(records)),
        axes=tuple(_axes(records)),
        faults=tuple(sorted(faults.items(), key=lambda pair: (-pair[1], pair[0]))),
        machine_s=(math.fsum(times) / len(times), quantile(times, 0.95), max(times)),
        deepest=(quantile(depths, 0.95), max(depths)),
        worst=tuple(sorted(records, key=lambda record: (record.done, -record.badness, record.number))[:WORST]),
    )


def _axes(records: Sequence[RunRecord]) -> list[AxisAccount]:
    groups: dict[tuple[str, str], list[AxisRecord]] = {}
    for record in records:
        for axis in record.axes:
            groups.setdefault((axis.part, axis.axis), []).append(axis)
    return [_axis(part, name, found) for (part, name), found in groups.items()]


def _axis(part: str, name: str, found: Sequence[AxisRecord]) -> AxisAccount:
    errors = [axis.error for axis in found]
    mean = math.fsum(errors) / len(errors)
    spread = math.fsum((error - mean) ** 2 for error in errors) / max(1, len(errors) - 1)
    stated = [axis.half_width for axis in found if axis.half_width is not None]
    return AxisAccount(
        part=part,
        axis=name,
        count=len(errors),
        mean=mean,
        standard_deviation=math.sqrt(spread),
        low=quantile(errors, 0.025),
        high=quantile(errors, 0.975),
        worst=max(errors, key=abs),
        covering=quantile([abs(error) for error in errors], 0.95),
        stated=math.fsum(stated) / len(stated) if stated else None,
        inside=Share(sum(axis.inside for axis in found), len(stated)) if stated else None,
    )


def quantile(values: Sequence[float], share: float) -> float:
    """Return the smallest value that `share` of all values do not exceed."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)]


# ---- as plain data ------------------------------------------------------------------------------------------


def document(found: Account, *, seed: int, title: str, rates: Sequence[tuple[str, float]] = ()) -> dict[str, Any]:
    """Return the account as plain data, fit for JSON: lengths in mm, times in seconds, shares from 0 to 1."""
    mean, late, longest = found.machine_s
    return {
        "format": 1,
        "job": title,
        "seed": seed,
        "runs": found.runs,
        "fault_rates": dict(rates),
        "success": _share(found.success),
        "faults": dict(found.faults),
        "machine_time_s": {"mean": _rounded(mean), "p95": _rounded(late), "max": _rounded(longest)},
        "deepest_mm": {"p95": _rounded(found.deepest[0]), "max": _rounded(found.deepest[1])},
        "axes": [_plain_axis(axis) for axis in found.axes],
        "worst": [plain_run(record) for record in found.worst],
    }


def plain_run(record: RunRecord) -> dict[str, Any]:
    """Return one run as plain data."""
    return {
        "run": record.number,
        "done": record.done,
        "faults": list(record.faults),
        "machine_time_s": _rounded(record.machine_s),
        "deepest_mm": _rounded(record.deepest),
        "axes": [
            {
                "part": axis.part,
                "axis": axis.axis,
                "error_mm": _rounded(axis.error),
                "stated_mm": None if axis.half_width is None else _rounded(axis.half_width),
            }
            for axis in record.axes
        ],
    }


def _plain_axis(axis: AxisAccount) -> dict[str, Any]:
    return {
        "part": axis.part,
        "axis": axis.axis,
        "count": axis.count,
        "mean_mm": _rounded(axis.mean),
        "standard_deviation_mm": _rounded(axis.standard_deviation),
        "from_mm": _rounded(axis.low),
        "to_mm": _rounded(axis.high),
        "worst_mm": _rounded(axis.worst),
        "covering_mm": _rounded(axis.covering),
        "stated_mm": None if axis.stated is None else _rounded(axis.stated),
        "inside": None if axis.inside is None else _share(axis.inside),
    }


def _share(share: Share) -> dict[str, Any]:
    low, high = share.bounds
    value = _rounded(share.value)
    return {"count": share.count, "of": share.of, "share": value, "from": _rounded(low), "to": _rounded(high)}


def _rounded(value: float) -> float:
    return round(value, 7)
