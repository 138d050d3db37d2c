"""The courses of the further routines, on paper: edges, hollows, what stands up, grids, comparisons, calibrations.

They go through the same table as those of `scenarios`; only their ways and their ends differ.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from gingerly.cycle import Setup
from gingerly.cycle.stop_test import stop_test_cycle
from gingerly.explore.paper import Paper
from gingerly.explore.scenarios import CORNER, FACTS, HERE, PIN, SITE, SPOT, STOCK, Scenario, paper_at
from gingerly.geometry import Axis, Corner
from gingerly.messages.commands import Sense
from gingerly.messages.outcome import Proof
from gingerly.messages.replies import Reply
from gingerly.messages.touches import Place
from gingerly.routines import (
    BlockMiddle,
    BoreCentre,
    BossCentre,
    EdgeSkew,
    InsideCorner,
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
        (
            "tool diameter",
            ToolDiameter(spot=BARE, width=40.0, centre=MIDDLE, length=30.0, height=9.0, assure_lead=False),
        ),
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
    )


def stop_test_scenarios() -> tuple[Scenario, ...]:
    """Return the stop test, its circuit checked before, and the same without that."""
    low = HERE._replace(z=-30.0)
    course = StopTest(tool=PIN).plan(replace(SITE, here=low))
    held = Proof(frozenset(Place), restarts=0)

    def told(name: str, proof: Proof | None) -> Scenario:
        setup = Setup(facts=FACTS, course=course, here=low, proof=proof, hand_over=False)
        return Scenario(name, setup, lambda: Paper(low, {Axis.Z: -24.0}), stop_test_cycle)

    return (told("stop test", held), told("stop test, circuit not checked", None))


def _told(name: str, routine: Routine, paper: Callable[[], Paper]) -> Scenario:
    held = Proof(frozenset(Place), restarts=0)
    return Scenario(name, Setup(facts=FACTS, course=routine.plan(SITE), here=HERE, proof=held), paper)
