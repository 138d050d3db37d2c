"""What is rehearsed: a job, the seed of all worlds, and how often what goes wrong.

Run number n of a script is always the same run, wherever and whenever it is made: every draw depends on the seed,
on n, and on names. So results are the same for any number of workers, and a single run can be made again.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gingerly.batch.stage import SHARE
from gingerly.job import Job

OF_CALLS = {
    "refused": "motion",
    "request lost": "motion",
    "answer lost": "motion",
    "answer late": "motion",
    "answer early": "motion",
    "gives up": "motion",
    "stops short": "traverse",
    "link lost unsent": "motion",
    "write ignored": "write_offset",
    "write wrong": "write_offset",
    "write partial": "write_offset",
    "stop ignored": "stop",
}
"""What goes wrong with one call, and with which; everything else goes wrong at a contact."""

FIRST_CALLS, FIRST_CONTACTS = 40, 12
"""A fault comes at one of so many motions or contacts, counted from the beginning. Our own choice."""

DRAWN = (
    "seed",
    "ideal",
    "plate_tolerance",
    "tool_tolerance",
    "runout",
    "seating_gap",
    "edge_form",
    "true_backlash",
    "latch_lag_s",
    "stop_delay_s",
    "faults",
    "doubts",
    "history",
    "memory",
)
"""What a virtual machine may be told, and a rehearsal draws instead, or each run begins without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """A job to be rehearsed. `rates` says with what probability each fault comes once in a run.

    Raises `ValueError` for a rate that is no probability.
    """

    job: Job
    seed: int = 1
    rates: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        for what, rate in self.rates:
            if not 0.0 <= rate <= 1.0:
                raise ValueError(f"the rate of {what!r} must lie from 0 to 1, not {rate:g}")

    def world(self, number: int) -> str:
        """Return the seed of one run's world."""
        return f"{self.seed}/{number}"

    def options(self, number: int) -> Mapping[str, Any]:
        """Return what the virtual machine of one run is told.

        Facts, position, noise and habits are the job's, if it names a virtual machine; of another machine only the
        facts that the job states are known here.
        """
        machine = self.job.machine
        told = dict(machine.options) if machine.adapter == "mock" else {}
        if "facts" in machine.options:
            told["facts"] = machine.options["facts"]
        kept = {name: value for name, value in told.items() if name not in DRAWN}
        return {
            "bounce_s": 0.0,
            "tool_length_range": tool_length_range(self.job),
            **kept,
            "seed": self.world(number),
            "doubts": self.job.doubts,
            "history": 1,
            "faults": self.faults(number),
        }

    def faults(self, number: int) -> list[dict[str, Any]]:
        """Return what goes wrong in one run, and when."""
        if not self.rates:
            return []
        dice = random.Random(f"{self.world(number)}/faults")
        found = []
        for what, rate in self.rates:
            comes, call, contact = (
                dice.random() < rate,
                dice.randint(1, FIRST_CALLS),
                dice.randint(1, FIRST_CONTACTS),
            )
            if not comes:
                continue
            if what not in OF_CALLS:
                found.append({"what": what, "contact": contact})
            else:
                kind = OF_CALLS[what]
                found.append({"what": what, "call": kind, "nth": call if kind == "motion" else 1})
        return found


def tool_length_range(job: Job) -> float:
    """Return by how many mm either way the length of a tool after the first may differ from the first one's.

    As the virtual machine draws it, and as far as the job allows for it: a tool change expects its face within
    its own `within`, and of two later tools one may be longer by as much as the other is shorter. Where a tool
    that was compared with no other touches a place, only what the place itself leaves of its `within` is left.
    """
    first, compared, allowed = job.parts[0].tool.name, {job.parts[0].tool.name}, []
    tools = {part.name: part.tool.name for part in job.parts}
    for part in job.parts:
        within = part.spot.within
        if part.compare_with is not None:
            allowed.append(SHARE * within / (1.0 if tools[part.compare_with] == first else 2.0))
            compared.add(part.tool.name)
        elif part.tool.name not in compared:
            allowed.append((1.0 - SHARE) * within)
    return min(allowed, default=0.0)
