"""The courses of the further routines, on paper: edges, hollows, what stands up, grids, comparisons, calibrations.

They go through the same table as those of `scenarios`; only their ways and their ends differ. All sizes are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from gingerly.cycle import Cycle, Setup
from gingerly.cycle.stop_test import own_stop_cycle, stop_test_cycle
from gingerly.cycle.view import view_cycle
from gingerly.explore.paper import Paper
from gingerly.explore.scenarios import (
    CORNER,
    FACTS,
    HERE,
    PIN,
    PLATE,
    SITE,
    SPOT,
    STOCK,
    Scenario,
    all_scenarios,
    paper_at,
)
from gingerly.geometry import Axis, Corner
from gingerly.messages.commands import Sense
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import Reply
from gingerly.messages.touches import Leg, Place, Way
from gingerly.routines import (
    BlockMiddle,
    BoreCentre,
    BossCentre,
    EdgeSkew,
    InsideCorner,
    PlannedCourse,
    PlateCalibration,
    PocketMiddle,
    ReactionTime,
    Repeatability,
    RibMiddle,
    Routine,
    SingleEdge,
    SkewedCorner,
    SlotMiddle,
    Surface,
    SurfaceGrid,
    ToolDiameter,
    Verify,
)
from gingerly.routines.look_at_zero import LookAtZero, WayCourse
from gingerly.routines.stop_test import StopTest

BARE = replace(SPOT, plate=None, stock=replace(STOCK, conductive=True))
MIDDLE = (60.0, 45.0)
"""Where the features lie, in mm inward from the paper stock's corner."""


@dataclass(slots=True)
class TwoSided(Paper):
    """Paper whose metal can be met from both sides: `backward` is where the walls stand on the way back (mm)."""

    backward: dict[Axis, float] = field(default_factory=dict)

    def fork(self) -> Paper:
        """Return an independent copy."""
        return replace(self, offsets=dict(self.offsets), changed=dict(self.changed))

    def _sense(self, command: Sense) -> Reply:
        way = command.to.minus(self.position)
        axis = max(Axis, key=lambda candidate: abs(way[candidate]))
        turned = axis in self.backward and way[axis] < 0.0
        if turned:
            self.faces, self.backward = self.backward, self.faces
        reply = Paper._sense(self, command)  # a class with slots is made anew: no zero-argument super
        if turned:
            self.faces, self.backward = self.backward, self.faces
        return reply


@dataclass(slots=True)
class Seated(Paper):
    """Paper whose plate covers the corner as far as its recess reaches: beyond, `bare` says where metal is (mm)."""

    bare: dict[Axis, float] = field(default_factory=dict)

    def fork(self) -> Paper:
        """Return an independent copy."""
        return replace(self, offsets=dict(self.offsets), changed=dict(self.changed))

    def _sense(self, command: Sense) -> Reply:
        beyond = self.position.minus(CORNER)
        uncovered = beyond.x > PLATE.recess_a or beyond.y > PLATE.recess_b
        if uncovered:
            self.faces, self.bare = self.bare, self.faces
        reply = Paper._sense(self, command)
        if uncovered:
            self.faces, self.bare = self.bare, self.faces
        return reply


WIDTH = ToolDiameter(spot=BARE, width=40.0, centre=MIDDLE, length=30.0, height=9.0, assure_lead=False)


def paper_around(size_x: float, size_y: float, *, hollow: bool) -> Paper:
    """Return a paper machine whose metal stands around, or within, a rectangle about `MIDDLE`."""
    reach = -PIN.radius if hollow else PIN.radius
    forward: dict[Axis, float] = {Axis.Z: CORNER.z}
    backward: dict[Axis, float] = {}
    for axis, size in ((Axis.X, size_x), (Axis.Y, size_y)):
        middle, away = CORNER[axis] + MIDDLE[axis], size / 2.0 + reach
        forward[axis], backward[axis] = middle - away, middle + away
        if hollow:
            forward[axis], backward[axis] = backward[axis], forward[axis]
    return TwoSided(HERE, forward, backward=backward)


def bare_paper() -> Paper:
    """Return a paper machine with the bare corner of the stock."""
    return Paper(HERE, {Axis.X: CORNER.x - PIN.radius, Axis.Y: CORNER.y - PIN.radius, Axis.Z: CORNER.z})


def seated_paper() -> Paper:
    """Return a paper machine with a plate on the corner of bare stock."""
    return Seated(HERE, paper_at().faces, bare=bare_paper().faces)


def feature_scenarios() -> tuple[Scenario, ...]:
    """Return a scenario for every routine that `scenarios` does not have, its circuit proved before."""
    verified = Verify(routine=Surface(spot=SPOT, offset=2), expected=((Axis.Z, CORNER.z),), tolerance=0.05)
    moved = replace(verified, expected=((Axis.Z, CORNER.z + 1.0),))
    with_plate: tuple[tuple[str, Routine], ...] = (
        ("single edge", SingleEdge(spot=SPOT, axis=Axis.Y, offset=2, with_top=True)),
        ("edge skew", EdgeSkew(spot=SPOT)),
        ("skewed corner", SkewedCorner(spot=SPOT, offset=2, assure_lead=False)),
        ("verify", verified),
        ("verify, moved", moved),
        ("repeatability", Repeatability(spot=SPOT, touches=3)),
        ("reaction time", ReactionTime(spot=SPOT, rounds=1)),
    )
    inside: tuple[tuple[str, Routine], ...] = (
        (
            "inside corner",
            InsideCorner(
                spot=BARE, at=(40.0, 30.0), which=Corner.FRONT_LEFT, sizes=(40.0, 30.0), deep=12.0, offset=2
            ),
        ),
        ("pocket middle", PocketMiddle(spot=BARE, centre=MIDDLE, sizes=(40.0, 30.0), deep=12.0, offset=2)),
        (
            "slot middle",
            SlotMiddle(spot=BARE, axis=Axis.X, centre=MIDDLE, width=40.0, length=30.0, deep=12.0, offset=2),
        ),
    )
    outside: tuple[tuple[str, Routine], ...] = (
        ("rib middle", RibMiddle(spot=BARE, axis=Axis.Y, centre=MIDDLE, width=30.0, length=40.0, height=9.0)),
        ("block middle", BlockMiddle(spot=BARE, centre=MIDDLE, sizes=(40.0, 30.0), height=9.0, offset=2)),
        ("tool diameter", WIDTH),
        ("tool diameter, half turn", replace(WIDTH, half_turn=True)),
    )
    bore = BoreCentre(spot=BARE, centre=MIDDLE, diameter=20.0, deep=12.0, offset=2)
    boss = BossCentre(spot=BARE, centre=MIDDLE, diameter=30.0, height=9.0, offset=2)
    return (
        *(_told(name, routine, paper_at) for name, routine in with_plate),
        *(_told(name, routine, lambda: paper_around(40.0, 30.0, hollow=True)) for name, routine in inside),
        *(_told(name, routine, lambda: paper_around(40.0, 30.0, hollow=False)) for name, routine in outside),
        _told("bore centre", bore, lambda: paper_around(20.0, 20.0, hollow=True)),
        _told("boss centre", boss, lambda: paper_around(30.0, 30.0, hollow=False)),
        _told("surface grid", SurfaceGrid(spot=BARE, columns=2, rows=2), bare_paper),
        _told(
            "plate calibration", PlateCalibration(spot=replace(BARE, plate=PLATE), assure_lead=False), seated_paper
        ),
    )


def stop_test_scenarios() -> tuple[Scenario, ...]:
    """Return both halves of the stop test, their circuit checked before, and the same without that."""
    low = HERE._replace(z=-60.0)
    site, test = replace(SITE, here=low), StopTest(tool=PIN)
    held = Proof(frozenset(Place), restarts=0)

    def told(name: str, course: PlannedCourse, table: Callable[[], Cycle], proof: Proof | None) -> Scenario:
        setup = Setup(facts=FACTS, course=course, here=low, proof=proof, hand_over=False)
        touched_at = -54.0 if table is stop_test_cycle else 1e3
        return Scenario(name, setup, lambda: Paper(low, {Axis.Z: touched_at}), table)

    return tuple(
        told(name + without, course, table, proof)
        for name, course, table in (
            ("stop test", test.plan(site), stop_test_cycle),
            ("own stop", test.plan_own_stop(site), own_stop_cycle),
        )
        for without, proof in (("", held), (", circuit not checked", None))
    )


def way_scenarios() -> tuple[Scenario, ...]:
    """Return what moves with lead and plate off: the look at the new zero, and straight up out of an interruption."""
    look = LookAtZero(CORNER, height=5.0, tool=PIN, length_known=True, above=0.0).plan(SITE)
    up = WayCourse(Way((Leg(HERE._replace(z=FACTS.envelope.high.z), clear=True),)))

    def told(name: str, course: WayCourse) -> Scenario:
        return Scenario(name, Setup(facts=FACTS, course=course, here=HERE, hand_over=False), paper_at, view_cycle)

    return (told("look at zero", look), told("straight up", up))


def every_scenario() -> tuple[Scenario, ...]:
    """Return all there is to explore: every routine, every table."""
    return (*all_scenarios(), *feature_scenarios(), *stop_test_scenarios(), *way_scenarios())


def _told(name: str, routine: Routine, paper: Callable[[], Paper]) -> Scenario:
    held = Proof(frozenset(Place), restarts=0)
    return Scenario(name, Setup(facts=FACTS, course=routine.plan(SITE), here=HERE, proof=held), paper)
