"""Twelve small machines, unlike each other, and touching with fixed constants on any of them."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, replace
from typing import Any

from gingerly import Limits, Machine, MachineFacts, OutsideCorner, Wishes
from gingerly.budgets import CERTAIN
from gingerly.geometry import Axis, Box, Position
from gingerly.messages.touches import Touch, TouchPlan
from gingerly.planner import plan_touch
from gingerly.routines import PlannedCourse, Site
from gingerly_mock import MockAdapter
from support.bench import PIN, PLACE, STOCK, scene, spot

ENVELOPE = Box(Position(0.0, 0.0, -80.0), Position(300.0, 200.0, 0.0))
BARE = replace(STOCK, conductive=True)
ROUTINE = OutsideCorner(spot=spot(plate=None, stock=BARE, within=0.5), offset=1)
DOUBTS = replace(CERTAIN, approach=(1, 1, -1))
"""Work is approached as it is touched, so that backlash is no doubt."""


def machine(
    name: str, a: float, q: float, every: float, stop: float, late: float, play: float, top: float
) -> MachineFacts:
    """Facts of one machine: acceleration, step, sampling, reaction, greatest lateness, backlash, top feed."""
    return MachineFacts(
        name=name,
        envelope=ENVELOPE,
        resolution=q,
        acceleration=a,
        top_feed=top,
        rapid_feed=top,
        latch_s=Limits(0.0, late),
        stop_reaction_s=stop,
        sample_interval_s=every,
        settle_s=0.02,
        offset_resolution=0.0001,
        backlash=play,
    )


MACHINES = (
    machine("belt router", 400.0, 0.0125, 0.001, 0.006, 0.002, 0.05, 3000.0),
    machine("hand-built mill", 60.0, 0.005, 0.004, 0.030, 0.010, 0.10, 600.0),
    machine("school mill", 150.0, 0.0025, 0.002, 0.010, 0.004, 0.03, 1200.0),
    machine("stiff mill", 900.0, 0.000625, 0.0002, 0.001, 0.0004, 0.005, 5000.0),
    machine("servo mill", 1500.0, 0.0005, 0.0001, 0.0005, 0.0002, 0.002, 8000.0),
    machine("slow sampler", 300.0, 0.0025, 0.008, 0.020, 0.016, 0.02, 1500.0),
    machine("unknown reaction", 300.0, 0.0025, 0.001, 0.030, 0.012, 0.02, 1500.0),
    machine("old converted mill", 100.0, 0.01, 0.005, 0.040, 0.012, 0.08, 800.0),
    machine("small engraver", 500.0, 0.00125, 0.0005, 0.004, 0.001, 0.01, 2000.0),
    machine("wide router", 250.0, 0.00625, 0.001, 0.008, 0.003, 0.06, 4000.0),
    machine("watch bench", 200.0, 0.0005, 0.0005, 0.002, 0.0008, 0.003, 600.0),
    machine("fast sampler", 700.0, 0.0025, 0.00005, 0.002, 0.0001, 0.01, 4000.0),
)


@dataclass(frozen=True)
class Fixed:
    """A corner touched with the same feeds, back-off and number of re-touches on any machine."""

    fast: float
    slow: float
    back_off: float
    retouches: int

    spot = ROUTINE.spot

    def of(self, facts: MachineFacts) -> TouchPlan:
        usual = plan_touch(facts, PIN, Wishes(spread=1.0))
        return replace(
            usual,
            fast_feed=self.fast,
            slow_feed=self.slow,
            back_off=self.back_off,
            retouches=self.retouches,
            reach=1.5,
            overtravel=10.0,
        )

    def plan(self, site: Site) -> PlannedCourse:
        plan, course = self.of(site.facts), ROUTINE.plan(site)

        def fixed(maker: Any) -> Any:
            def step(faces: Any) -> Any:
                made = maker(faces)
                if not isinstance(made, Touch):
                    return made
                return replace(made, plan=replace(plan, retouches=min(plan.retouches, made.plan.retouches)))

            return step

        return replace(course, steps=tuple(fixed(maker) for maker in course.steps))


@dataclass(frozen=True)
class Tried:
    """One corner touched: errors (mm), the time that touching took (s), how deep (mm), and what was travelled (mm)."""

    errors: tuple[float, ...]
    touching_s: float
    deepest: float
    travels: tuple[tuple[float, int], ...]


def tried(facts: MachineFacts, routine: Any, wishes: Wishes, number: int) -> Tried:
    """Touch one corner on one machine of these facts; everything but the machine is exactly known."""
    adapter = MockAdapter(facts=facts, doubts=DOUBTS, seed=f"{facts.name}/{number}", bounce_s=0.0, latency_s=0.0)

    async def work() -> Tried:
        made = Machine(adapter, operator=adapter.operator, doubts=DOUBTS)
        async with made:
            truth = adapter.stage(scene(plate=None, stock=BARE, within=0.45, place=PLACE))
            result = await made.probe(routine, wishes=wishes)
        play = adapter.true_backlash
        meant = truth.plus(Position(play.x / 2.0, play.y / 2.0, -play.z / 2.0))
        found = dict(result.outcome.found)
        counted = [run for run in adapter.motions if run.kind == "sense" or run.closed_at_start]
        senses = sum(run.kind == "sense" for run in counted)
        faces = result.outcome.faces
        return Tried(
            errors=tuple(found[axis] - meant[axis] for axis in Axis),
            touching_s=sum(run.ended_s - run.began_s for run in counted) + senses * facts.settle_s,
            deepest=adapter.deepest_penetration,
            travels=tuple((face.contacts[0].distance, len(face.contacts) - 1) for face in faces),
        )

    return asyncio.run(work())
