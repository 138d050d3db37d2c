"""Slot and pocket middle: the top beside the hollow, then its walls from inside, in pairs.

::

        slot                      pocket
     ───────────              ┌─────↑─────┐     the second pair of a pocket begins in the middle that the
      (Z)                     │     │     │     first pair has found, reached along the line it sensed
     ──┐  ┌──                 │ ←───●───→ │
       │←●→                   │     │     │
       │  │                   └─────↓─────┘
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.messages.touches import Place, Step
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker
from gingerly.routines.features import around, check_beside, check_in_stock, inward_place, outside_of
from gingerly.routines.inside import Inside, hollow
from gingerly.routines.opposite import along_axis, middle_of, middles
from gingerly.routines.preflight import check_course, check_standoff
from gingerly.routines.top import TopSpot


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotMiddle:
    """Touch both walls of a slot across `axis` from inside; set, or only find, the middle and find the width.

    `centre` is where the tool goes down, in mm inward from the stock's corner along X and Y; `width`, `length`
    and `deep` are the slot's sizes in mm. The middle `reads` a work coordinate (mm), and so does the top where
    `with_top` sets it too.
    """

    spot: TopSpot
    axis: Axis
    centre: tuple[float, float]
    width: float
    length: float
    deep: float
    offset: int | None = None
    reads: Position = ORIGIN
    with_top: bool = False

    def __post_init__(self) -> None:
        if self.axis is Axis.Z:
            raise ValueError("a slot's walls lie across X or Y, not Z")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        sizes = (self.width, self.length) if self.axis is Axis.X else (self.length, self.width)
        return _plan(self, site, "slot", (self.axis,), sizes)


@dataclass(frozen=True, slots=True, kw_only=True)
class PocketMiddle:
    """Touch all four walls of a rectangular pocket from inside; set, or only find, the middle and find the widths.

    `centre` is where its middle lies, in mm inward from the stock's corner along X and Y; `sizes` (along X and Y)
    and `deep` are in mm. The middle `reads` work coordinates (mm), and so does the top where `with_top` sets it.
    """

    spot: TopSpot
    centre: tuple[float, float]
    sizes: tuple[float, float]
    deep: float
    offset: int | None = None
    reads: Position = ORIGIN
    with_top: bool = False

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        return _plan(self, site, "pocket", (Axis.X, Axis.Y), self.sizes)


def _plan(
    routine: SlotMiddle | PocketMiddle, site: Site, what: str, axes: tuple[Axis, ...], sizes: tuple[float, float]
) -> PlannedCourse:
    spot = routine.spot
    inside = hollow(spot, site, what=f"a {what}", middle=routine.centre, deep=routine.deep)
    rectangle = around(routine.centre, sizes)
    check_in_stock(spot, f"the {what}", rectangle, axes)
    check_beside(spot, f"the {what}", outside_of(inward_place(spot), rectangle))
    for axis in (Axis.X, Axis.Y):
        check_standoff(
            f"the {what} along {axis.name}", standoff=sizes[axis] / 2.0 - spot.tool.radius, within=spot.within
        )
    course = PlannedCourse(
        name=f"{what} middle",
        tool=spot.tool,
        places=(Place.STOCK,),
        steps=(
            lambda faces: inside.top,
            *_walls(inside, axes, [size / 2.0 - spot.tool.radius for size in sizes]),
            lambda faces: _conclude(routine, axes, faces),
        ),
    )
    return check_course(course, site, stock_top=spot.corner_place(site.here).z, within=spot.within)


def _walls(inside: Inside, axes: tuple[Axis, ...], reaches: list[float]) -> Iterator[StepMaker]:
    """Yield the touch of each wall: forward and backward along each axis, from the middle known by then."""

    def towards(number: int, axis: Axis, sign: float) -> StepMaker:
        def touch(faces: Faces) -> Step:
            start = inside.middle
            if number > 0:
                start = start.with_axes({axes[0]: middle_of(faces[1], faces[2], axes[0])})
            way = along_axis(axis, sign)
            at = start.plus(way.times(reaches[axis]))
            side = "+" if sign > 0.0 else "−"
            return inside.touch(f"{side}{axis.name} wall", faces, at, way, start=start)

        return touch

    for number, axis in enumerate(axes):
        yield towards(number, axis, 1.0)
        yield towards(number, axis, -1.0)


def _conclude(routine: SlotMiddle | PocketMiddle, axes: tuple[Axis, ...], faces: Faces) -> Step:
    return middles(
        faces,
        axes,
        tool_diameter=routine.spot.tool.diameter,
        offset=routine.offset,
        reads=routine.reads,
        with_top=routine.with_top,
    )
