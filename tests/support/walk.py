"""Walk a planned course through the virtual machine's solids, without its controller: brute force, step by step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gingerly import Position
from gingerly.messages.touches import Contact, Face, Step, Touch
from gingerly.routines import PlannedCourse
from gingerly_mock import MockAdapter


@dataclass(frozen=True)
class Walked:
    """One straight piece of a walk: from where to where, what for, and where it first met something (mm)."""

    name: str
    start: Position
    end: Position
    senses: bool
    met: Position | None
    touch: Touch


def walk(course: PlannedCourse, here: Position, adapter: MockAdapter) -> tuple[list[Walked], Step, list[Face]]:
    """Return every leg and sense with what it truly meets, what the course concludes, and the faces met.

    A sense that meets nothing ends the walk, as the course has no face to go on with.
    """
    pieces: list[Walked] = []
    faces: list[Face] = []
    at, step = here, course.next(())
    while isinstance(step, Touch):
        for leg in step.legs:
            pieces.append(Walked(step.name, at, leg.to, False, _met(adapter, at, leg.to), step))
            at = leg.to
        met = _met(adapter, step.start, step.end)
        pieces.append(Walked(step.name, at, step.end, True, met, step))
        if met is None:
            return pieces, step, faces
        along = met.minus(step.start).dot(step.direction)
        faces.append(Face(step.name, met, step.direction, (Contact(met, step.plan.slow_feed, along),) * 3))
        pieces.append(Walked(step.name, step.start, step.exit, False, _met(adapter, step.start, step.exit), step))
        at = step.exit
        step = course.next(tuple(faces))
    return pieces, step, faces


def _met(adapter: MockAdapter, start: Position, to: Position) -> Position | None:
    return None if start.distance(to) < 1e-9 else adapter.true_contact(start, to)


def trail_of(course: PlannedCourse, faces: list[Face]) -> Iterator[tuple[Touch, tuple[Position, ...]]]:
    """Yield each touch with the points where the tool stood free since clearance, before its sense."""
    trail: tuple[Position, ...] = ()
    for number in range(len(faces)):
        touch = course.next(tuple(faces[:number]))
        assert isinstance(touch, Touch)
        for leg in touch.legs:
            if leg.clear:
                trail = (leg.to,)
            elif leg.to in trail:
                trail = trail[: trail.index(leg.to) + 1]
            else:
                trail = (*trail, leg.to)
        yield touch, trail
        while touch.exit != trail[-1] and touch.exit in trail:
            trail = trail[:-1]
        if touch.exit != trail[-1]:
            trail = (*trail, touch.exit)
