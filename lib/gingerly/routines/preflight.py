"""Is there room? Every leg and every sense of a course is looked at before anything moves.

What is refused names the number that is wrong, and by how much. Nothing here moves.

Faces may lie elsewhere in their windows than in the middle, and what comes after them shifts with them: so every
move carries its *doubt*, how much further either of its ends may lie on each axis.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from gingerly.budgets import Judge
from gingerly.geometry import ORIGIN, SLACK, KeepOut, Position
from gingerly.messages.faults import KeepOutEntered, OutsideEnvelope, StartOutsideWindow, UnsuitableTool
from gingerly.messages.touches import Leg, Touch
from gingerly.routines.course import PlannedCourse, Site, foreseen_face
from gingerly.routines.unwatched import looked_at
from gingerly.tool import Tool

ROOM = 1.0
"""Millimetres that the tool keeps from a keep-out: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Move:
    """One straight move of a course: what it is for, from where to where (mm), and its feed (None: rapid).

    A sense ends as far beyond its target as a tool that has met something may run on.
    """

    purpose: str
    start: Position
    end: Position
    feed: float | None
    senses: bool
    start_doubt: Position = ORIGIN
    end_doubt: Position = ORIGIN

    @property
    def plunges(self) -> bool:
        """Whether this is a sense straight down, after which the tool's length is known."""
        return self.senses and self.end.z < self.start.z and self.start[:2] == self.end[:2]

    @property
    def rises(self) -> bool:
        """Whether it leads straight up, away from wherever the tool already stands."""
        return self.start[:2] == self.end[:2] and self.end.z > self.start.z


def moves(course: PlannedCourse, here: Position) -> list[Move]:
    """Return the moves that lead to each contact, with the doubt that earlier faces leave.

    A course depends on where its faces lie through sums and differences, so the doubt of an end is the sum of
    what each face shifts it by when it lies at the end of its window.
    """
    touches = [step for step in course.foreseen() if isinstance(step, Touch)]
    expected = [_moves(touch) for touch in touches]
    faces = tuple(foreseen_face(touch) for touch in touches)
    for number, touch in enumerate(touches[:-1]):
        late = (*faces[:number], foreseen_face(touch, late=True))
        for index, other in enumerate(course.foreseen(late), number + 1):
            if isinstance(other, Touch) and other != touches[index]:
                expected[index] = [_doubted(*pair) for pair in zip(expected[index], _moves(other), strict=True)]
    return _joined(expected, touches, here)


def _moves(touch: Touch) -> list[Move]:
    """Return the moves of one touch; the start of the first is left to whoever knows where the tool stood."""
    ends = [leg.to for leg in touch.legs]
    found = [
        Move(f"to the {touch.name}", start, leg.to, leg.feed, senses=False)
        for start, leg in zip([ends[0], *ends], touch.legs, strict=False)
    ]
    end = touch.end.plus(touch.direction.times(touch.plan.overtravel))
    return [*found, Move(f"touch the {touch.name}", touch.start, end, touch.plan.fast_feed, senses=True)]


def _joined(expected: list[list[Move]], touches: list[Touch], here: Position) -> list[Move]:
    """Return all moves in order, the first of each touch begun where the one before it left the tool."""
    found: list[Move] = []
    at, doubt = here, ORIGIN
    for of_touch, touch in zip(expected, touches, strict=True):
        found.append(replace(of_touch[0], start=at, start_doubt=doubt))
        found += of_touch[1:]
        # The way out ends on the trail or on the line of approach, never further off than that line's start.
        at, doubt = touch.exit, of_touch[-1].start_doubt
    return found


def _doubted(move: Move, shifted: Move) -> Move:
    return replace(
        move,
        start_doubt=_widened(move.start_doubt, shifted.start.minus(move.start)),
        end_doubt=_widened(move.end_doubt, shifted.end.minus(move.end)),
    )


def _widened(doubt: Position, shift: Position) -> Position:
    return Position(doubt.x + abs(shift.x), doubt.y + abs(shift.y), doubt.z + abs(shift.z))


def check_course(course: PlannedCourse, site: Site, *, stock_top: float, within: float) -> PlannedCourse:
    """Return the course, with the judge of its faces, if there is room for all of its moves.

    `stock_top` is the machine Z (mm) at which the tool's tip stands on the stock's top face, as expected
    within `within` mm. Raises `OutsideEnvelope` or `KeepOutEntered`, or `UnsuitableTool` where a dead circuit
    would push the tool further than it bears.
    """
    check_moves(moves(course, site.here), site, course.tool, stock_top=stock_top, within=within)
    for step in course.foreseen():
        if isinstance(step, Touch):
            _check_push(step, course.tool)
    return looked_at(replace(course, judge=Judge(site.facts, site.doubts)), site.facts, site.here)


def sought(course: PlannedCourse, **certain: Any) -> PlannedCourse:
    """Return the course with doubts put aside: what a calibration looks for is none of its own doubts."""
    judge = course.judge
    assert judge is not None, "a checked course has its judge"
    return replace(course, judge=replace(judge, doubts=replace(judge.doubts, **certain)))


def check_moves(
    planned: Iterable[Move], site: Site, tool: Tool, *, stock_top: float | None = None, within: float = 0.0
) -> None:
    """Raise `OutsideEnvelope` or `KeepOutEntered` for the first move without room.

    Keep-outs count with their height once the tool's length is known, that is after the first sense downwards,
    and as endless columns before; without `stock_top` (mm) their height is never known.
    """
    length_known = site.length_known
    needed = widest(tool) + ROOM
    for move in planned:
        _check_envelope(move, site)
        for keep_out in site.keep_outs:
            known = length_known and stock_top is not None
            height = _height(keep_out, stock_top or 0.0, within) if known else None
            _check_keep_out(move, keep_out, needed, height)
        length_known = length_known or move.plunges


def check_way(legs: Iterable[Leg], purpose: str, site: Site, tool: Tool) -> None:
    """Raise as `check_moves` for a way that touches nothing and begins where the tool stands."""
    at, planned = site.here, []
    for leg in legs:
        planned.append(Move(purpose, at, leg.to, leg.feed, senses=False))
        at = leg.to
    check_moves(planned, site, tool)


def _check_envelope(move: Move, site: Site) -> None:
    for point, doubt in ((move.start, move.start_doubt), (move.end, move.end_doubt)):
        for corner in (point,) if doubt == ORIGIN else (point.minus(doubt), point.plus(doubt)):
            outside = site.facts.envelope.excess(corner)
            if outside is not None:
                axis, beyond = outside
                raise OutsideEnvelope(
                    f"{move.purpose}: {corner} lies {beyond:.3f} mm outside on {axis.name}"
                    + ("" if corner == point else ", where the faces before it lie at the far end of their windows")
                )


def _height(keep_out: KeepOut, stock_top: float, within: float) -> float | None:
    above = keep_out.height_above_stock
    return None if above is None else stock_top + above + within


def _check_keep_out(move: Move, keep_out: KeepOut, needed: float, height: float | None) -> None:
    lowest = min(move.start.z - move.start_doubt.z, move.end.z - move.end_doubt.z)
    if move.rises or (height is not None and lowest >= height + ROOM - SLACK):
        return
    aside = max(abs(doubt) for doubts in (move.start_doubt, move.end_doubt) for doubt in doubts[:2])
    room = keep_out.clearance(move.start, move.end) - 2.0**0.5 * aside
    if room < needed - SLACK:
        raise KeepOutEntered(
            f"{move.purpose}: the tool's axis comes within {max(0.0, room):.3f} mm of {keep_out.name!r} and needs"
            f" {needed:.3f} mm: {needed - room:.3f} mm too near"
        )


def widest(tool: Tool) -> float:
    """Return the radius in mm of everything that moves with the tool: a keep-out may be of any height."""
    return max([tool.radius, (tool.shank or 0.0) / 2.0, *(item.radius for item in tool.obstructions)])


def _check_push(touch: Touch, tool: Tool) -> None:
    push = touch.length - touch.near
    if push > tool.miss_limit + SLACK:
        raise UnsuitableTool(
            f"{touch.name}: if the lead is off here, the tool pushes up to {push:.3f} mm, and {tool.name!r} bears"
            f" {tool.miss_limit:.3f} mm: {push - tool.miss_limit:.3f} mm too much"
        )


def check_standoff(name: str, *, standoff: float, within: float) -> None:
    """Raise `StartOutsideWindow` unless an approach begins at least `within` + 1 mm before the expected face."""
    needed = within + ROOM
    if standoff < needed - SLACK:
        raise StartOutsideWindow(
            f"{name}: the approach begins {standoff:.3f} mm before the expected face and needs {needed:.3f} mm:"
            f" {needed - standoff:.3f} mm too near"
        )
