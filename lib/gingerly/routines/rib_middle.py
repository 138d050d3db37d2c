"""Rib and block middle: the top of what stands up, then its walls from outside, in pairs.

::

        rib                        block
                                      ↓
       ┌───┐                   ┌─────────────┐
     → │(Z)│ ←               → │     (Z)     │ ←     between the touches the tool passes over the top
    ───┘   └───                └─────────────┘
                                      ↑
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.messages.commands import Question
from gingerly.messages.touches import Place, Step
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker
from gingerly.routines.features import around, check_in_stock, check_upon, inward_place, outside_of, upon
from gingerly.routines.opposite import along_axis, middles
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot
from gingerly.routines.walls import Outside, standing


@dataclass(frozen=True, slots=True, kw_only=True)
class RibMiddle:
    """Touch both walls of a rib across `axis` from outside; set, or only find, the middle and find the width.

    `centre` is where it is touched, in mm inward from the stock's corner along X and Y; `width`, `length` and
    `height` are the rib's sizes in mm, its top the stock's top face. The middle `reads` a work coordinate (mm),
    and so does the top where `with_top` sets it too.
    """

    spot: TopSpot
    axis: Axis
    centre: tuple[float, float]
    width: float
    length: float
    height: float
    offset: int | None = None
    reads: Position = ORIGIN
    with_top: bool = False
    assure_lead: bool = True

    def __post_init__(self) -> None:
        if self.axis is Axis.Z:
            raise ValueError("a rib's walls lie across X or Y, not Z")
        object.__setattr__(self, "spot", upon(self.spot, self.centre))

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        sizes = (self.width, self.length) if self.axis is Axis.X else (self.length, self.width)
        conclude = _concluding(self, (self.axis,))
        return plan_standing(self, site, "rib", (self.axis,), sizes, self.centre, self.height, conclude)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockMiddle:
    """Touch all four walls of a block from outside; set, or only find, the middle and find the widths.

    Left out, `centre`, `sizes` (along X and Y) and `height` are those of the whole stock, in mm; `centre` counts
    inward from the stock's corner. The middle `reads` work coordinates (mm), and so does the top where
    `with_top` sets it too.
    """

    spot: TopSpot
    centre: tuple[float, float] | None = None
    sizes: tuple[float, float] | None = None
    height: float | None = None
    offset: int | None = None
    reads: Position = ORIGIN
    with_top: bool = False
    assure_lead: bool = True

    def __post_init__(self) -> None:
        object.__setattr__(self, "spot", upon(self.spot, self._middle()))

    def _middle(self) -> tuple[float, float]:
        stock = self.spot.stock
        return self.centre or (stock.size_x / 2.0, stock.size_y / 2.0)

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        stock = self.spot.stock
        sizes, centre = self.sizes or (stock.size_x, stock.size_y), self._middle()
        height = stock.proud if self.height is None else self.height
        axes = (Axis.X, Axis.Y)
        return plan_standing(self, site, "block", axes, sizes, centre, height, _concluding(self, axes))


class Standing(Protocol):
    """What is asked of a routine that touches something from both sides."""

    @property
    def spot(self) -> TopSpot:
        """Where its top is touched."""
        ...

    @property
    def assure_lead(self) -> bool:
        """Whether the top is touched again before each wall after the first."""
        ...


def plan_standing(
    routine: Standing,
    site: Site,
    what: str,
    axes: tuple[Axis, ...],
    sizes: tuple[float, float],
    centre: tuple[float, float],
    height: float,
    conclude: StepMaker,
    *,
    rounds: tuple[Question | None, ...] = (None,),
) -> PlannedCourse:
    """Return a checked course that touches both walls across each of `axes` of what stands `height` mm up.

    They are touched once for each of `rounds`, whose question, if any, is asked before its first touch.
    """
    spot = routine.spot
    outside = standing(spot, site, what=f"a {what}", height=height)
    rectangle = around(centre, sizes)
    check_in_stock(spot, f"the {what}", rectangle, axes)
    check_upon(spot, f"the {what}", -outside_of(inward_place(spot), rectangle))
    middle, reach = spot.point(site.here, *centre), [size / 2.0 + spot.tool.radius for size in sizes]
    makers = tuple(
        _towards(first if sign > 0.0 and axis is axes[0] else outside, middle, axis, sign, reach[axis])
        for first in (replace(outside, question=question) for question in rounds)
        for axis in axes
        for sign in (1.0, -1.0)
    )
    course = PlannedCourse(
        name=f"{what} middle",
        tool=spot.tool,
        places=(Place.STOCK,),
        steps=outside.steps(site, makers, conclude, assure_lead=routine.assure_lead),
    )
    return check_course(course, site, stock_top=spot.corner_place(site.here).z, within=spot.within)


def _towards(outside: Outside, middle: Position, axis: Axis, sign: float, reach: float) -> StepMaker:
    way = along_axis(axis, sign)
    at, side = middle.minus(way.times(reach)), "−" if sign > 0.0 else "+"
    return lambda faces: outside.touch(f"{side}{axis.name} wall", faces, at, way)


def _concluding(routine: RibMiddle | BlockMiddle, axes: tuple[Axis, ...]) -> StepMaker:
    def conclude(faces: Faces) -> Step:
        return middles(
            faces,
            axes,
            tool_diameter=-routine.spot.tool.diameter,
            offset=routine.offset,
            reads=routine.reads,
            with_top=routine.with_top,
        )

    return conclude
