"""Touches per second on the virtual machine, and where the host's time goes.

Run on demand: ``pytest tests/benchmarks --benchmark-enable``. Figures are for one core.
"""

from __future__ import annotations

import asyncio

from support.bench import PIN, bench, scene, spot

from gingerly.cycle import Setup, cycle
from gingerly.driver.run import Run
from gingerly.messages.commands import Finish
from gingerly.messages.outcome import Proof
from gingerly.messages.touches import Finding, Place, Touch
from gingerly.routines.course import PlannedCourse, Site

TOUCHES = 40
HELD = Proof(frozenset(Place), restarts=0)


class Wiretap:
    """Keeps every reply, so that the same run can be told again without a machine."""

    def __init__(self):
        self.replies = []

    async def before(self, command):
        pass

    async def after(self, command, reply):
        self.replies.append(reply)

    async def ended(self, outcome):
        pass


def _course(machine, here):
    """The same touch of the top face again and again: approach, two re-touches, retract."""
    site = Site(facts=machine.facts, here=here)
    touch = spot().touch(site, "top")
    again = _closer(touch)
    steps = (lambda faces: touch, *[lambda faces: again] * (TOUCHES - 1), lambda faces: Finding(()))
    return PlannedCourse(name="again", tool=PIN, places=(Place.TIP,), steps=steps)


def _closer(touch: Touch) -> Touch:
    from dataclasses import replace

    from gingerly.messages.touches import Leg

    up = touch.start.z - touch.exit.z
    return replace(
        touch, legs=(Leg(touch.exit),), start=touch.exit, near=touch.near - up, far=touch.far - up
    )


async def _ready(recorder=None):
    machine = bench()
    await machine.adapter.open()
    machine.adapter.stage(scene())
    here = (await machine.look()).position
    setup = Setup(facts=machine.facts, course=_course(machine, here), here=here, proof=HELD)

    async def once():
        run = Run(cycle(), setup, machine._carrier(), machine.clock, machine.events, recorder)
        outcome = await run.go()
        assert outcome.fault is None, outcome.fault.story()
        # Back to where the next round begins, at clearance already.
        await machine.adapter.traverse(here, None)
        return outcome

    return once


def test_touches_a_second(benchmark):
    """A complete touch is an approach, two re-touches and the way out, driven on the virtual machine."""
    loop = asyncio.new_event_loop()
    once = loop.run_until_complete(_ready())
    benchmark.pedantic(lambda: loop.run_until_complete(once()), rounds=15, iterations=1, warmup_rounds=2)
    loop.close()
    if benchmark.stats is not None:
        seconds = benchmark.stats.stats.median
        benchmark.extra_info["touches per second"] = round(TOUCHES / seconds)


def test_the_table_alone(benchmark):
    """The same replies fed to the table without driver and machine: the share of the cycle itself."""
    tap = Wiretap()
    loop = asyncio.new_event_loop()
    once = loop.run_until_complete(_ready(tap))
    loop.run_until_complete(once())
    loop.close()
    machine = bench()
    setup = Setup(facts=machine.facts, course=_course(machine, machine.facts.envelope.low), proof=HELD)
    replies = list(tap.replies)
    course_setup = setup

    def feed():
        session, command = cycle().start(course_setup)
        for reply in replies:
            command = cycle().advance(session, reply)
        return command

    here = replies[0].snapshot.position
    course_setup = Setup(facts=machine.facts, course=_course(machine, here), here=here, proof=HELD)
    assert isinstance(feed(), Finish)
    benchmark(feed)
    if benchmark.stats is not None:
        benchmark.extra_info["µs per step"] = round(1e6 * benchmark.stats.stats.median / len(replies), 1)
