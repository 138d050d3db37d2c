"""Is there room? Every leg and every sense of a course is looked at before anything moves.

What is refused names the number that is wrong, and by how much. Nothing here moves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from gingerly.geometry import KeepOut, Position
from gingerly.messages.faults import KeepOutEntered, OutsideEnvelope, StartOutsideWindow, UnsuitableTool
from gingerly.messages.touches import Touch
from gingerly.routines.course import PlannedCourse, Site
from gingerly.tool import Tool

ROOM = 1.0
"""Millimetres that the tool keeps from a keep-out: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Move:
    """One straight move of a course: what it is for, from where to where (mm), and its feed (None: rapid)."""

    purpose: str
    start: Position
    end: Position
    feed: float | None
    senses: bool


def moves(course: PlannedCourse, here: Position) -> Iterator[Move]:
    """Yield the moves that lead to each contact, when every contact lies where it is expected."""
    at = here
    for step in course.foreseen():
        if not isinstance(step, Touch):
            return
        for leg in step.legs:
            yield Move(f"to the {step.name}", at, leg.to, leg.feed, senses=False)
            at = leg.to
        yield Move(f"touch the {step.name}", at, step.end, step.plan.fast_feed, senses=True)
        at = step.exit


def check_course(course: PlannedCourse, site: Site, *, stock_top: float, within: float) -> PlannedCourse:
    """Return the course if there is room for all of its moves.

    `stock_top` is the machine Z (mm) at which the tool's tip stands on the stock's top face, as expected
    within `within` mm. Raises `OutsideEnvelope` or `KeepOutEntered`, or `UnsuitableTool` where a dead circuit
    would push the tool further than it bears.
    """
    check_moves(moves(course, site.here), site, course.tool, stock_top=stock_top, within=within)
    for step in course.foreseen():
        if isinstance(step, Touch):
            _check_push(step, course.tool)
    return course


def check_moves(
    planned: Iterable[Move], site: Site, tool: Tool, *, stock_top: float | None = None, within: float = 0.0
) -> None:
    """Raise `OutsideEnvelope` or `KeepOutEntered` for the first move without room.

    Keep-outs count with their height once the tool's length is known, that is after the first sense, and as
    endless columns before; without `stock_top` (mm) their height is never known.
    """
    length_known = site.length_known
    for move in planned:
        _check_envelope(move, site)
        for keep_out in site.keep_outs:
            known = length_known and stock_top is not None
            height = _height(keep_out, stock_top or 0.0, within) if known else None
            _check_keep_out(move, keep_out, tool, height)
        length_known = length_known or move.senses


def _check_envelope(move: Move, site: Site) -> None:
    for point in (move.start, move.end):
        outside = site.facts.envelope.excess(point)
        if outside is not None:
            axis, beyond = outside
            raise OutsideEnvelope(f"{move.purpose}: {point} lies {beyond:.3f} mm outside on {axis.name}")


def _height(keep_out: KeepOut, stock_top: float, within: float) -> float | None:
    above = keep_out.height_above_stock
    return None if above is None else stock_top + above + within


def _check_keep_out(move: Move, keep_out: KeepOut, tool: Tool, height: float | None) -> None:
    lowest = min(move.start.z, move.end.z)
    if height is not None and lowest >= height + ROOM:
        return
    if move.start.x == move.end.x and move.start.y == move.end.y and move.end.z > move.start.z:
        return  # straight up and away from where the tool already stands
    needed = _widest(tool) + ROOM
    room = keep_out.clearance(move.start, move.end)
    if room < needed:
        raise KeepOutEntered(
            f"{move.purpose}: the tool's axis comes within {room:.3f} mm of {keep_out.name!r} and needs"
            f" {needed:.3f} mm: {needed - room:.3f} mm too near"
        )


def _widest(tool: Tool) -> float:
    """The radius of everything that moves with the tool: a keep-out may be of any height."""
    return max([tool.radius, (tool.shank or 0.0) / 2.0, *(item.radius for item in tool.obstructions)])


def _check_push(touch: Touch, tool: Tool) -> None:
    push = touch.length - touch.near
    if push > tool.miss_limit:
        raise UnsuitableTool(
            f"{touch.name}: if the lead is off, the tool pushes up to {push:.3f} mm, and {tool.name!r} bears"
            f" {tool.miss_limit:.3f} mm: {push - tool.miss_limit:.3f} mm too much"
        )


def check_standoff(name: str, *, standoff: float, within: float) -> None:
    """Raise `StartOutsideWindow` unless an approach begins at least `within` + 1 mm before the expected face."""
    needed = within + ROOM
    if standoff < needed - 1e-9:
        raise StartOutsideWindow(
            f"{name}: the approach begins {standoff:.3f} mm before the expected face and needs {needed:.3f} mm:"
            f" {needed - standoff:.3f} mm too near"
        )
