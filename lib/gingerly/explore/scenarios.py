"""The courses that the explorer walks through: every routine, on a paper machine, at a corner of paper stock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from gingerly.budgets import CERTAIN
from gingerly.cycle import Course, Cycle, Setup, cycle
from gingerly.cycle.jog import jog_cycle
from gingerly.cycle.self_check import self_check_cycle
from gingerly.explore.paper import Paper
from gingerly.geometry import Axis, Box, Corner, Limits, Position
from gingerly.messages.commands import Question
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.faults import ImplausibleContact
from gingerly.messages.outcome import Proof
from gingerly.messages.touches import Leg, Place, Unusable, Way
from gingerly.planner import ANY, Wishes
from gingerly.plate import Plate
from gingerly.routines import OutsideCorner, Routine, Site, Surface, ToolChange, TopSpot
from gingerly.routines.course import CircuitCheck, PlannedCourse
from gingerly.routines.jog import JogCourse
from gingerly.routines.self_check import SelfCheck
from gingerly.stock import Stock
from gingerly.tool import Tool

# The paper machine, its plate, stock and tool are invented.
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
SITE = Site(facts=FACTS, here=HERE, doubts=CERTAIN)
SPOT = TopSpot(tool=PIN, stock=STOCK, place=CORNER, plate=PLATE)


@dataclass(frozen=True, slots=True)
class Scenario:
    """A named run on paper: how it is set up, the machine that answers, and the table that is explored.

    `line_start` is where the line began that was travelled before the run (mm), if the circuit was closed on it.
    """

    name: str
    setup: Setup
    paper: Callable[[], Paper]
    table: Callable[[], Cycle] = cycle
    line_start: Position | None = None


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


def _planned(routine: Routine, wishes: Wishes = ANY) -> PlannedCourse:
    return routine.plan(replace(SITE, wishes=wishes))


def scenarios() -> tuple[Scenario, ...]:
    """Return a scenario for every routine there is, with and without the release at the end."""
    held = Proof(frozenset({Place.TIP, Place.FLANK}), restarts=0)
    corner = _planned(OutsideCorner(spot=SPOT, offset=2, assure_lead=False))
    courses = (
        ("circuit check", Setup(facts=FACTS, course=CircuitCheck((Place.TIP, Place.FLANK)), here=HERE)),
        ("surface", Setup(facts=FACTS, course=_planned(Surface(spot=SPOT, offset=2)), here=HERE)),
        ("surface, found only", Setup(facts=FACTS, course=_planned(Surface(spot=SPOT)), here=HERE)),
        ("outside corner", Setup(facts=FACTS, course=corner, here=HERE)),
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


def all_scenarios() -> tuple[Scenario, ...]:
    """Return the scenarios of every table: the cycle's, the jog's, and the machine's own check."""
    return (*scenarios(), *jog_scenarios(), *self_check_scenarios())


def self_check_scenarios() -> tuple[Scenario, ...]:
    """Return the check of the circuit that a machine makes alone, and the same on one that cannot tell it."""
    bare = replace(SPOT, plate=None, stock=replace(STOCK, conductive=True), place=CORNER)
    course = SelfCheck(spot=bare).plan(SITE)

    def told(name: str, facts: MachineFacts) -> Scenario:
        def paper() -> Paper:
            changed: dict[str, object] = {} if facts.circuit_known else {"circuit": None}
            return Paper(HERE, contacts_at(CORNER, Corner.FRONT_LEFT, plate=None), changed=changed)

        return Scenario(name, Setup(facts=facts, course=course, here=HERE), paper, self_check_cycle)

    return (told("self check", FACTS), told("self check, circuit untold", replace(FACTS, circuit_known=False)))


def jog_scenarios() -> tuple[Scenario, ...]:
    """Return single steps of a jog: in the open, off a contact, further into it, aside, and on a blind machine."""
    blind = replace(FACTS, circuit_known=False)
    standing = Position(200.0, 150.0, -5.0)
    begun = standing.plus(Position(0.0, 0.0, 0.4))

    def told(name: str, shift: Position, *, closed: bool = False, facts: MachineFacts = FACTS) -> Scenario:
        back_to = begun if closed else None
        course = JogCourse(Way((Leg(standing.plus(shift), 300.0),)), back_to)

        def paper() -> Paper:
            return Paper(standing, contacts_at(CORNER, Corner.FRONT_LEFT), closed=closed)

        # Whoever presses the keys goes on by eye where the machine cannot tell the circuit.
        setup = Setup(facts=facts, course=course, here=standing, blind_waiver=not facts.circuit_known)
        return Scenario(name, setup, paper, jog_cycle, back_to)

    return (
        told("jog down in the open", Position(0.0, 0.0, -0.5)),
        told("jog on a machine that cannot tell", Position(0.5, 0.0, 0.0), facts=blind),
        told("jog off a contact", Position(0.0, 0.0, 0.3), closed=True),
        told("jog on into a contact", Position(0.0, 0.0, -0.3), closed=True),
        told("jog off a contact, beyond where its line began", Position(0.0, 0.0, 0.5), closed=True),
        told("jog aside in a contact", Position(0.3, 0.0, 0.0), closed=True),
        told("jog off a contact and aside", Position(0.2, 0.0, 0.3), closed=True),
    )


def special_scenarios() -> tuple[Scenario, ...]:
    """Return runs on machines that tell less: rows of the table that the others never need."""
    silent = replace(FACTS, offsets_readable=False)
    blind = replace(FACTS, circuit_known=False)
    surface = _planned(Surface(spot=SPOT, offset=2))
    unusable = PlannedCourse(
        name="unusable",
        tool=PIN,
        places=(Place.TIP,),
        steps=(lambda faces: SPOT.touch(SITE, "top"), lambda faces: Unusable(ImplausibleContact, "no use")),
    )
    held = Proof(frozenset(Place), restarts=0)
    faced = _planned(Surface(spot=SPOT, offset=2))
    asking = PlannedCourse(
        name="asking first",
        tool=PIN,
        places=(Place.TIP,),
        steps=(lambda faces: replace(SPOT.touch(SITE, "top"), question=Question.TURN_FLUTE), faced.steps[1]),
    )
    several = _planned(ToolChange(spot=SPOT, before=-50.0, offsets=(1, 2)))
    corner = _planned(OutsideCorner(spot=SPOT, offset=2, assure_lead=False))
    useless = replace(corner, steps=(*corner.steps[:-1], unusable.steps[-1]))
    found = _planned(OutsideCorner(spot=SPOT, assure_lead=False))

    def told(name: str, course: Course, facts: MachineFacts = FACTS, **more: Any) -> Scenario:
        return Scenario(name, Setup(facts=facts, course=course, here=HERE, **more), paper_at)

    return (
        told("offsets unreadable", surface, silent, proof=held),
        told("offsets unreadable, still attached", surface, silent, proof=held, hand_over=False),
        told("several offsets unreadable", several, silent, proof=held),
        told("circuit untold, no waiver", surface, blind, proof=held),
        told("still attached", surface, proof=held, hand_over=False),
        told("unusable faces", unusable, proof=held),
        told("hands before the first touch", asking, proof=held),
        told("hands before the first touch, nothing proved", asking),
        told("no extras", _planned(Surface(spot=SPOT, offset=2), Wishes(extras=0)), proof=held),
        told("four re-touches", _planned(Surface(spot=SPOT, offset=2), Wishes(retouches=4)), proof=held),
        told("corner, offsets unreadable", corner, silent, proof=held),
        told("corner, found only", found, proof=held),
        told("corner, unusable faces", useless, proof=held),
        told("several offsets, still attached", several, proof=held, hand_over=False),
        told("several offsets unreadable, still attached", several, silent, proof=held, hand_over=False),
        told("circuit check, proved before", CircuitCheck((Place.TIP,)), proof=held),
    )
