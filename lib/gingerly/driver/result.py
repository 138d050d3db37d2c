"""What a run leaves to whoever asked for it: its outcome, and how far off everything found may be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Self

from gingerly.budgets.scatter import UNKNOWN, Scatter
from gingerly.cycle import Course
from gingerly.messages.faults import Fault, Standstill
from gingerly.messages.outcome import Outcome
from gingerly.routines import PlannedCourse
from gingerly.routines.worth import budgets_of, stated
from gingerly.uncertainty import Budget, Statement


@dataclass(frozen=True)
class Result:
    """How one run went: on which machine, which routine, how long on the machine's clock, and its outcome.

    `course` is what was planned, `scatter` how this machine's contacts are known to scatter by then.
    """

    machine: str
    routine: str
    duration_s: float
    outcome: Outcome
    course: Course | None = field(default=None, repr=False, compare=False)
    scatter: Scatter = field(default=UNKNOWN, repr=False, compare=False)

    @cached_property
    def budgets(self) -> Mapping[str, Budget]:
        """The budget of everything found, in mm or rad, by name: "X", "Y", "Z", and sizes such as "diameter".

        Empty after a fault, and where nothing was found that could have one. What is one-sided is in what was found
        already: a budget's `correction` is the one that was made, but for a tool change, where it is 0.
        """
        if self.outcome.fault is not None or not isinstance(self.course, PlannedCourse):
            return {}
        return budgets_of(self.course, self.outcome.faces, self.scatter)

    @cached_property
    def statements(self) -> Mapping[str, Statement]:
        """How far off everything found may be, at 95 %, by name; the numerically combined half width is quoted."""
        return {name: stated(budget) for name, budget in self.budgets.items()}

    @property
    def fault(self) -> Fault | None:
        """The fault that ended the run, or None."""
        return self.outcome.fault

    def raised(self) -> Self:
        """Return this result; raises its fault where it has one."""
        if self.outcome.fault is not None:
            raise self.outcome.fault
        return self


def refused(fault: Fault) -> Outcome:
    """Return the outcome of a run that did not begin."""
    return Outcome(
        fault=fault,
        standstill=Standstill.UNMOVED,
        faces=(),
        touches=0,
        found=(),
        offsets=(),
        released=False,
        unconfirmed=(),
        proof=None,
        position=fault.position,
    )
