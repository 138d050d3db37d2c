"""A virtual machine with a blank on its table, ready to be probed."""

from __future__ import annotations

from typing import Any

from gingerly import (
    Corner,
    Machine,
    OutsideCorner,
    Placement,
    Plate,
    Position,
    Scene,
    Stock,
    Surface,
    Tool,
    TopSpot,
)
from gingerly.budgets import CERTAIN
from gingerly.driver.result import Result
from gingerly_mock import MockAdapter

PLATE = Plate(
    name="bench plate",
    size_a=52.0,
    size_b=55.0,
    height=12.0,
    recess_a=40.0,
    recess_b=41.0,
    recess_depth=6.0,
    relief_radius=2.0,
)
STOCK = Stock(size_x=110.0, size_y=90.0, thickness=25.0, jaw_height=8.0)
PIN = Tool.pin("6 mm", free_length="30 mm")
PLACE = Position(120.0, 90.0, -55.0)


def spot(corner: Corner = Corner.FRONT_LEFT, **changes: Any) -> TopSpot:
    """The place where the tests touch: the bench plate on the bench stock."""
    return TopSpot(**{"tool": PIN, "stock": STOCK, "place": PLACE, "plate": PLATE, "corner": corner, **changes})


def corner_routine(corner: Corner = Corner.FRONT_LEFT, *, offset: int | None = 1, **changes: Any) -> OutsideCorner:
    """An outside corner of the bench stock."""
    return OutsideCorner(spot=spot(corner, **changes), offset=offset)


def surface_routine(*, offset: int | None = 1, **changes: Any) -> Surface:
    """The top face of the bench stock."""
    return Surface(spot=spot(**changes), offset=offset)


def scene(corner: Corner = Corner.FRONT_LEFT, *, name: str = "blank", **changes: Any) -> Scene:
    """What the virtual machine finds on its table for these routines."""
    plain: dict[str, Any] = {
        "name": name,
        "place": PLACE,
        "corner": corner,
        "stock": STOCK,
        "tool": PIN,
        "plate": PLATE,
        "placement": Placement.SEATED,
        "within": 0.8,
    }
    return Scene(**{**plain, **changes})


def bench(
    *faults: dict[str, Any], operator: object = None, machine: dict[str, Any] | None = None, **options: Any
) -> Machine:
    """A machine in virtual time whose virtual operator does what is asked, unless told otherwise."""
    options = {"seed": 7, "ideal": True, **options}
    adapter = MockAdapter(**options, faults=list(faults))
    made = Machine(adapter, name="bench", operator=adapter.operator, **{"doubts": CERTAIN, **(machine or {})})
    if operator is not None:
        made.operator = operator if operator != "nobody" else None  # type: ignore[assignment]
    return made


async def probe_corner(
    machine: Machine, corner: Corner = Corner.FRONT_LEFT, **scene_changes: Any
) -> tuple[Result, Position]:
    """Stage a blank, probe its corner to the end, and return the result and the true corner."""
    async with machine:
        truth = machine.adapter.stage(scene(corner, **scene_changes))  # type: ignore[attr-defined]
        result = await machine.attempt(corner_routine(corner), hand_over=True)
    return result, truth
