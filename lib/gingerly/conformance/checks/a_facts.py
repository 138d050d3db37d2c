"""What the adapter says of its machine: the numbers on which every plan rests. Nothing moves here."""

from __future__ import annotations

from gingerly.conformance.case import Case
from gingerly.conformance.catalogue import check
from gingerly.geometry import Axis
from gingerly.messages.facts import MachineFacts

FEEDS = (10.0, 200_000.0)
"""Between these, in mm/min, lies the top feed of any machine that this is for: our own bounds."""
ACCELERATIONS = (1.0, 50_000.0)
"""Between these, in mm/s², lies any such machine's acceleration: our own bounds."""


@check("facts", moves=False)
async def facts_are_there_once_open(case: Case) -> None:
    """`facts` is a `MachineFacts` once `open` has returned.

    Does: opens the adapter and asks for its facts.
    Why: feeds, deadlines and stopping distances are computed from them, and from nothing else.
    """
    case.hold(isinstance(case.adapter.facts, MachineFacts), f"facts is {case.adapter.facts!r}")


@check("facts", moves=False)
async def facts_name_the_machine(case: Case) -> None:
    """The facts give the machine a name of its own.

    Does: looks for an empty name.
    Why: prompts name the machine they mean; whoever stands between two machines must know which one will move.
    """
    case.hold(bool(case.facts.name.strip()), "facts.name is empty")


@check("facts", moves=False)
async def feeds_and_acceleration_are_in_the_right_units(case: Case) -> None:
    """Feeds are in mm/min, the acceleration in mm/s², and both are those of a machine.

    Does: compares them with wide bounds.
    Why: a stopping distance from numbers in other units is wrong by a factor of 25 or 60, and the tool goes on.
    """
    facts = case.facts
    for name, bounds in (("top_feed", FEEDS), ("rapid_feed", FEEDS), ("acceleration", ACCELERATIONS)):
        value = getattr(facts, name)
        low, high = bounds
        case.hold(low <= value <= high, f"facts.{name} is {value:g}; a machine's lies between {low:g} and {high:g}")


@check("facts", moves=False)
async def times_in_the_facts_are_seconds(case: Case) -> None:
    """Reaction times, intervals and the time for an answer are in seconds.

    Does: compares them with wide bounds.
    Why: a reaction of 5 ms given as 5 makes every approach crawl, and one given as 0.000005 crushes the tool.
    """
    facts = case.facts
    bounds = {
        "sample_interval_s": 0.5,
        "stop_reaction_s": 1.0,
        "look_interval_s": 5.0,
        "settle_s": 5.0,
        "answer_s": 60.0,
    }
    for name, most in bounds.items():
        value = getattr(facts, name)
        case.hold(value <= most, f"facts.{name} is {value:g}; more than {most:g} s is no machine's")
    case.hold(facts.latch_s.high <= 0.5, f"facts.latch_s reaches {facts.latch_s.high:g} s")


@check("facts", moves=False)
async def lengths_in_the_facts_are_millimetres(case: Case) -> None:
    """Motor step, step of the work offsets and backlash are in millimetres, and those of a machine.

    Does: compares them with wide bounds.
    Why: a step of a millimetre is a tolerance of two; nothing that is checked or judged by it is worth a word then.
    """
    facts = case.facts
    for name, most in (("resolution", 0.1), ("offset_resolution", 0.1), ("backlash", 1.0)):
        value = getattr(facts, name)
        case.hold(value <= most, f"facts.{name} is {value:g}; more than {most:g} mm is no machine's for this work")


@check("facts", moves=False)
async def envelope_is_a_machines_own(case: Case) -> None:
    """The envelope has an extent on every axis, far larger than a motor step.

    Does: measures it against the resolution, and looks whether the subject's free box lies inside.
    Why: the preflight refuses moves that leave the envelope; one that is wrong refuses nothing, or everything.
    """
    facts = case.facts
    for axis in Axis:
        extent = facts.envelope.high[axis] - facts.envelope.low[axis]
        case.hold(extent > 100.0 * facts.resolution, f"the envelope is {extent:g} mm long on {axis.name}")
    for corner in (case.subject.free.low, case.subject.free.high):
        excess = facts.envelope.excess(corner)
        case.hold(excess is None, f"the free box of the subject leaves the envelope at {corner}")


@check("look", moves=False)
async def machine_stands_inside_its_envelope(case: Case) -> None:
    """The position of a machine at rest lies inside the envelope of its facts.

    Does: looks once, without moving.
    Why: a position outside means other units, another sign or work coordinates, and the first move would show it.
    """
    seen = await case.look()
    excess = case.facts.envelope.excess(seen.position)
    case.hold(
        excess is None or excess[1] <= case.slack, f"the position is {seen.position}, outside {case.facts.envelope}"
    )


@check("traverse")
async def facts_stay_as_they_are(case: Case) -> None:
    """The facts do not change while the adapter is open.

    Does: compares them before and after a move.
    Why: a plan is made once, before anything moves, and must still be true when it is carried out.
    """
    before = case.facts
    await case.traverse(case.near(Axis.X))
    case.hold(case.facts == before, f"after a move the facts are {case.facts}; before, they were {before}")
