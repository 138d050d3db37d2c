"""Where nothing watches the circuit during a traverse, a traverse below clearance is cut up, and looked at each time.

What such a machine meets on its way is seen only when it stands. So it goes no further in one piece than a tool that
has met something may be pushed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from gingerly.geometry import Position
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.touches import Leg, Step, Touch
from gingerly.routines.course import Faces, PlannedCourse, StepMaker

Counts = tuple[int, ...]


def looked_at(course: PlannedCourse, facts: MachineFacts, here: Position) -> PlannedCourse:
    """Return the course, begun at `here` (mm), with its ways below clearance in pieces where nothing watches them.

    No piece is longer than the tool's `miss_limit`, wherever in their windows the faces lie; their number depends on
    the plan alone. On a machine with a guard the course comes back as it is.
    """
    if facts.guard is not Guard.NONE:
        return course
    touches = [step for step in course.foreseen() if isinstance(step, Touch)]
    doubt = max((touch.far - touch.near) / 2.0 for touch in touches)
    starts = [here, *(touch.exit for touch in touches)]
    counts = [
        tuple(_counts(start, touch.legs, doubt, course.tool.miss_limit))
        for start, touch in zip(starts, touches, strict=False)
    ]

    def cut(number: int, maker: StepMaker) -> StepMaker:
        def step(faces: Faces) -> Step:
            made = maker(faces)
            if not isinstance(made, Touch):
                return made
            start = course.touches(faces)[-1].exit if number else here
            return replace(made, legs=tuple(_pieces(start, made.legs, counts[number])))

        return step

    return replace(course, steps=tuple(cut(*pair) for pair in enumerate(course.steps)))


def _counts(start: Position, legs: tuple[Leg, ...], doubt: float, stride: float) -> Iterator[int]:
    """Yield how many pieces each leg is made of, one that may turn out `doubt` mm longer."""
    for leg in legs:
        yield 1 if leg.clear or leg.feed is None else math.ceil((start.distance(leg.to) + doubt) / stride)
        start = leg.to


def _pieces(start: Position, legs: tuple[Leg, ...], counts: Counts) -> Iterator[Leg]:
    """Yield the legs, each in so many equal pieces."""
    for leg, pieces in zip(legs, counts, strict=True):
        length = start.distance(leg.to)
        for number in range(1, pieces):
            yield replace(leg, to=start.towards(leg.to, length * number / pieces))
        yield leg
        start = leg.to
