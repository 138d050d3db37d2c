"""Touches per second on the virtual machine, and where the host's time goes: table, machine, and the driver's rest.

Run on demand: ``pytest tests/benchmarks --benchmark-enable -n 0``. Figures are for one core.
"""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from gingerly.cycle import Setup, cycle
from gingerly.driver.run import Run
from gingerly.messages.commands import Command, Look, Sense, Traverse
from gingerly.messages.outcome import Proof
from gingerly.messages.touches import Finding, Leg, Place
from gingerly.routines.course import PlannedCourse, Site
from support.bench import PIN, bench, scene, spot

TOUCHES = 40
HELD = Proof(frozenset(Place), restarts=0)


class Wiretap:
    """Keeps every order and reply, so that the same run can be told again by one part of the host alone."""

    def __init__(self):
        self.orders: list[Command] = []
        self.replies = []

    async def before(self, command):
        self.orders.append(command)

    async def after(self, command, reply):
        self.replies.append(reply)

    async def ended(self, outcome):
        pass


def _course(facts, here):
    """The same touch of the top face again and again: approach, two re-touches, and the way out."""
    first = spot().touch(Site(facts=facts, here=here), "top")
    risen = first.start.z - first.exit.z
    again = replace(
        first, legs=(Leg(first.exit),), start=first.exit, near=first.near - risen, far=first.far - risen
    )
    steps = (lambda faces: first, *[lambda faces: again] * (TOUCHES - 1), lambda faces: Finding(()))
    return PlannedCourse(name="again", tool=PIN, places=(Place.TIP,), steps=steps)


class Bench:
    """A machine, a set-up for many touches, and a loop to run them on."""

    def __init__(self):
        self.loop = asyncio.new_event_loop()
        self.machine = bench()
        self.loop.run_until_complete(self.machine.adapter.open())
        self.machine.adapter.stage(scene())
        self.here = self.loop.run_until_complete(self.machine.look()).position
        facts = self.machine.facts
        self.setup = Setup(facts=facts, course=_course(facts, self.here), here=self.here, proof=HELD)

    def run(self, recorder=None):
        machine = self.machine
        run = Run(cycle(), self.setup, machine._carrier(), machine.clock, machine.events, recorder)
        outcome = self.loop.run_until_complete(run.go())
        assert outcome.fault is None, outcome.fault.story()
        self.loop.run_until_complete(machine.adapter.traverse(self.here, None))


@pytest.fixture
def ready():
    made = Bench()
    yield made
    made.loop.close()


def test_touches_a_second(benchmark, ready):
    """A complete touch is an approach, two re-touches and the way out, driven on the virtual machine."""
    benchmark.pedantic(ready.run, rounds=25, iterations=1, warmup_rounds=3)
    if benchmark.stats is not None:
        benchmark.extra_info["touches per second"] = round(TOUCHES / benchmark.stats.stats.median)


def test_the_table_alone(benchmark, ready):
    """The same replies fed to the table, without driver and machine."""
    tap = Wiretap()
    ready.run(tap)

    def feed():
        session, _ = cycle().start(ready.setup)
        for reply in tap.replies:
            cycle().advance(session, reply)

    benchmark.pedantic(feed, rounds=25, iterations=1, warmup_rounds=3)
    if benchmark.stats is not None:
        benchmark.extra_info["µs per touch"] = round(1e6 * benchmark.stats.stats.median / TOUCHES)


def test_the_physics_alone(benchmark, ready):
    """The same calls made of the virtual machine, without table and driver."""
    tap, adapter = Wiretap(), ready.machine.adapter
    ready.run(tap)

    async def calls():
        for order in tap.orders:
            match order:
                case Look():
                    await adapter.look()
                case Traverse():
                    await adapter.traverse(order.to, order.feed)
                case Sense():
                    await adapter.sense(order.to, order.feed)
        await adapter.traverse(ready.here, None)

    benchmark.pedantic(lambda: ready.loop.run_until_complete(calls()), rounds=25, iterations=1, warmup_rounds=3)
    if benchmark.stats is not None:
        benchmark.extra_info["µs per touch"] = round(1e6 * benchmark.stats.stats.median / TOUCHES)
