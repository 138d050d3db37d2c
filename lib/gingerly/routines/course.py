"""A planned routine: the one mechanism from which all routines are composed.

A course is a list of steps, each a pure function of the faces found so far. The n-th step is taken when n faces
are known; the last one says what follows from them. So a run can be copied, forked, replayed and resumed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Protocol

from gingerly.budgets import DEFAULTS, Doubts, Judge
from gingerly.budgets.form import Fitted
from gingerly.geometry import KeepOut, Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.facts import MachineFacts
from gingerly.messages.touches import Change, Contact, Face, Finding, Measures, Place, Setting, Step, Touch
from gingerly.planner import ANY, Wishes
from gingerly.tool import Tool

Faces = tuple[Face, ...]
StepMaker = Callable[[Faces], Step]


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What a routine is planned for: the machine, where the tool stands now, and what is in the way.

    `here` is the controlled point (mm, machine coordinates). `length_known` says that Z was touched with this
    very tool in this attachment; until then lateral moves stay at the top of Z. `doubts` is what nobody measured.
    """

    facts: MachineFacts
    here: Position
    keep_outs: tuple[KeepOut, ...] = ()
    length_known: bool = False
    wishes: Wishes = ANY
    doubts: Doubts = DEFAULTS


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedCourse:
    """A routine planned for one site: `places` to be proved, and its steps; `tool` is what it was planned for.

    What follows from the faces follows from where the `judge` says they lie on average, seen where they were found.
    `as_found` is for what compares touches with each other only, and takes the faces as they are. `fitted` tells
    what was fitted through the faces, where a form is found. Each step is a
    pure function, so the one made last is remembered together with the faces that it was made of.
    """

    name: str
    tool: Tool
    places: tuple[Place, ...]
    steps: tuple[StepMaker, ...]
    judge: Judge | None = None
    as_found: bool = False
    fitted: Callable[[Faces], Fitted] | None = None
    _made: dict[int, tuple[Faces, Step]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def next(self, faces: Faces) -> Step:
        """Return the next touch, or what follows from the faces."""
        last = len(faces) == len(self.steps) - 1
        return self.step(self.corrected(faces) if last else faces)

    def step(self, faces: Faces) -> Step:
        """Return what the step after these faces makes of them, taken as they are."""
        known = self._made.get(len(faces))
        if known is not None and known[0] == faces:
            return known[1]
        made = self.steps[len(faces)](faces)
        self._made[len(faces)] = faces, made
        return made

    def touches(self, faces: Faces) -> tuple[Touch, ...]:
        """Return the touch that each of the faces was found with."""
        steps = (self.step(faces[:number]) for number in range(len(faces)))
        return tuple(step for step in steps if isinstance(step, Touch))

    def corrected(self, faces: Faces) -> Faces:
        """Return the faces where they lie on average, seen where they were found."""
        judge = self.judge
        if judge is None or self.as_found:
            return faces
        return tuple(judge.corrected(*pair) for pair in zip(self.touches(faces), faces, strict=True))

    def foreseen(self, faces: Faces = ()) -> Iterator[Step]:
        """Yield every step after `faces`, as it comes when each contact lies just where it is expected."""
        for maker in self.steps[len(faces) :]:
            step = maker(faces)
            yield step
            if not isinstance(step, Touch):
                return
            faces = (*faces, foreseen_face(step))


@dataclass(frozen=True, slots=True)
class CircuitCheck:
    """A course without touches: the continuity check alone, at each of `places`."""

    places: tuple[Place, ...]

    def next(self, faces: Faces) -> Step:
        """Return that there is nothing to touch."""
        return Finding(())


def foreseen_face(touch: Touch, *, late: bool = False) -> Face:
    """Return the face that a touch finds with its contact in the middle of its window, or `late`, at the end."""
    along = touch.far if late else (touch.near + touch.far) / 2.0
    direction = touch.direction
    position = touch.start.plus(direction.times(along))
    return Face(touch.name, position, direction, (Contact(position, touch.plan.slow_feed, along),))


def settled(offset: int | None, axes: AxisValues, measures: Measures = ()) -> Setting | Finding:
    """Return that `axes` (mm) are to be written to a work offset, or, without one, that they were only found."""
    if offset is None or not axes:
        return Finding(axes, measures)
    return Setting((Change(offset, axes),), measures)


class Routine(Protocol):
    """Which touches, in which order, and what they mean; planned anew for each site."""

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site, checked; raises a `PlanFault` where it must not begin."""
        ...
