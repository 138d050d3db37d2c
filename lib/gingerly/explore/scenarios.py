"""The courses that the explorer walks through: every routine, on a paper machine, at a corner of paper stock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gingerly.cycle import Setup
from gingerly.explore.paper import Paper
from gingerly.geometry import Axis, Box, Corner, Limits, Position
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.outcome import Proof
from gingerly.messages.touches import Place
from gingerly.plate import Plate
from gingerly.routines import OutsideCorner, Routine, Site, Surface, ToolChange, TopSpot
from gingerly.routines.course import CircuitCheck, PlannedCourse
from gingerly.stock import Stock
from gingerly.tool import Tool

FACTS = MachineFacts(
    name="paper",
    envelope=Box(Position(0.0, 0.0, -120.0), Position(400.0, 300.0, 0.0)),
    resolution=0.0025,
    acceleration=250.0,
    top_feed=1500.0,
    rapid_feed=2400.0,
    latch_s=Limits(0.0, 0.0),
    guard=Guard.POLLED,
)
PLATE = Plate(
    name="paper plate", size_a=52.0, size_b=55.0, height=12.0, recess_a=40.0, recess_b=41.0, recess_depth=6.0
)
STOCK = Stock(size_x=120.0, size_y=90.0, thickness=25.0, jaw_height=8.0)
PIN = Tool.pin("6 mm", free_length="30 mm")
CORNER = Position(150.0, 100.0, -60.0)
HERE = Position(20.0, 20.0, -5.0)
SITE = Site(facts=FACTS, here=HERE)
SPOT = TopSpot(tool=PIN, stock=STOCK, place=CORNER, plate=PLATE)


@dataclass(frozen=True, slots=True)
class Scenario:
    """A named run on paper: how it is set up, and the machine that answers."""

    name: str
    setup: Setup
    paper: Callable[[], Paper]


def contacts_at(
    corner: Position, where: Corner, *, tool: Tool = PIN, plate: Plate | None = PLATE
) -> dict[Axis, float]:
    """Return where the controlled point stands (mm) at contact with each face, from plate and tool dimensions."""
    found = {Axis.Z: corner.z + (plate.top if plate is not None else 0.0)}
    for axis in (Axis.X, Axis.Y):
        lip = plate.axis_lip(where, axis) if plate is not None else 0.0
        found[axis] = corner[axis] - where.inward[axis] * (lip + tool.radius)
    return found


def paper_at(where: Corner = Corner.FRONT_LEFT) -> Paper:
    """Return a paper machine whose plate is seated at this corner of the stock."""
    return Paper(HERE, contacts_at(CORNER, where))


def _planned(routine: Routine) -> PlannedCourse:
    return routine.plan(SITE)


def scenarios() -> tuple[Scenario, ...]:
    """Return a scenario for every routine there is, with and without the release at the end."""
    held = Proof(frozenset({Place.TIP, Place.FLANK}), restarts=0)
    corner = _planned(OutsideCorner(spot=SPOT, offset=2, assure_lead=False))
    courses = (
        ("circuit check", Setup(facts=FACTS, course=CircuitCheck((Place.TIP, Place.FLANK)), here=HERE)),
        ("surface", Setup(facts=FACTS, course=_planned(Surface(spot=SPOT, offset=2)), here=HERE)),
        ("surface, found only", Setup(facts=FACTS, course=_planned(Surface(spot=SPOT)), here=HERE)),
        ("outside corner, circuit proved before", Setup(facts=FACTS, course=corner, here=HERE, proof=held)),
        (
            "outside corner, a flute turned to each wall",
            Setup(
                facts=FACTS,
                course=_planned(OutsideCorner(spot=SPOT, offset=2, flute_faced=True, assure_lead=False)),
                here=HERE,
                proof=held,
                hand_over=False,
            ),
        ),
        (
            "tool change of three offsets",
            Setup(facts=FACTS, course=_planned(ToolChange(spot=SPOT, before=-50.0, offsets=(1, 2, 5))), here=HERE),
        ),
    )
    return tuple(Scenario(name, setup, paper_at) for name, setup in courses)
