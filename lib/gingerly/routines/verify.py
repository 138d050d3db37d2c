"""Verify: touch what was set with the same routine, compare, and write nothing.

::

        set earlier   O───        found now   O'──       |O' − O| ≤ tolerance on every axis, or it is a fault
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

from gingerly.geometry import Axis
from gingerly.messages.commands import AxisValues
from gingerly.messages.faults import NotAsSet
from gingerly.messages.touches import Finding, Measures, Setting, Step, Unusable
from gingerly.routines.course import PlannedCourse, Site
from gingerly.routines.top import TopSpot

SAME = 0.002
"""Millimetres by which a record and a controller may differ from rounding alone. Our own choice."""


class Verifiable(Protocol):
    """A routine that finds the origin of one work offset."""

    @property
    def spot(self) -> TopSpot:
        """Where it begins."""
        ...

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Verify:
    """Touch again as `routine` does, and compare what it finds with `expected` (mm, by axis).

    Each axis must lie within `tolerance` mm. By how much it is off is found, and nothing is ever written. `number` is
    the work offset that holds what is expected, `recorded` what the records say that it should hold (mm, by axis):
    both are only told. Raises `ValueError` where there is nothing to compare.
    """

    routine: Verifiable
    expected: AxisValues
    tolerance: float
    number: int | None = None
    recorded: AxisValues = ()

    def __post_init__(self) -> None:
        if not self.expected:
            raise ValueError("name at least one axis that is to be compared")
        if not self.tolerance > 0.0:
            raise ValueError(f"the tolerance must be greater than 0 mm, not {self.tolerance:g}")

    @property
    def spot(self) -> TopSpot:
        """Where the routine begins."""
        return self.routine.spot

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        course = self.routine.plan(site)
        *touches, last = course.steps
        return replace(
            course,
            name=f"verify {course.name}",
            steps=(*touches, lambda faces: self._compared(last(faces))),
        )

    def _compared(self, step: Step) -> Step:
        if not isinstance(step, Setting | Finding):
            return step
        found = dict(_axes(step))
        missing = [axis.name for axis, _ in self.expected if axis not in found]
        if missing:
            return Unusable(NotAsSet, f"this routine finds no {', '.join(missing)} to compare")
        off = [(axis, found[axis] - value) for axis, value in self.expected]
        beyond = [pair for pair in off if abs(pair[1]) > self.tolerance]
        if beyond:
            return Unusable(NotAsSet, "; ".join(self._told(axis, found[axis], by) for axis, by in beyond))
        measures: Measures = tuple((f"off {axis.name}", by) for axis, by in off)
        return Finding(_axes(step), (*step.measures, *measures))

    def _told(self, axis: Axis, found: float, by: float) -> str:
        return (
            f"{self._held(axis, found - by)} and is found at {found:.4f} mm: {abs(by):.4f} mm off,"
            f" {self.tolerance:.4f} mm allowed, {abs(by) - self.tolerance:.4f} mm too much"
        )

    def _held(self, axis: Axis, value: float) -> str:
        """Who says where the axis was set, and to what: the controller may have lost what the records still know."""
        if self.number is None:
            return f"{axis.name} was set to {value:.4f} mm"
        held = f"{axis.name} is {value:.4f} mm in work offset {self.number}"
        recorded = dict(self.recorded).get(axis)
        if recorded is None or abs(recorded - value) <= SAME:
            return held
        return f"{held} (the journal says that {recorded:.4f} mm was set)"


def _axes(step: Setting | Finding) -> AxisValues:
    if isinstance(step, Finding):
        return step.axes
    return tuple(pair for change in step.changes[:1] if not change.relative for pair in change.axes)
