"""Moves that stop at contact: the place, the order of things, the miss, and the refusal."""

from __future__ import annotations

from gingerly.conformance.case import BRISK_S, Case, describe, feed_text
from gingerly.conformance.catalogue import check
from gingerly.conformance.checks.e_traverse import EARLIEST
from gingerly.conformance.subject import Wall
from gingerly.geometry import Axis, Position, distance_to_line
from gingerly.messages.facts import SpindleKnowledge
from gingerly.messages.faults import AlarmActive, ControllerRefused, Fault
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Circuit, Spindle

NEAR = 0.4
"""How far before a wall, and what it may be off, the kit senses for a short way, in mm: our own choice."""


def _along(wall: Wall, place: Position) -> float:
    """Return how far a place lies from the wall's start along the approach, in mm."""
    return place.minus(wall.start).dot(wall.way)


@check("sense")
async def a_contact_is_found_in_every_wall(case: Case) -> None:
    """A sense that meets metal answers `Touched`, with the contact where the metal is.

    Does: senses into each wall that the subject names.
    Why: the faces of the work are worked out from these places, and from nothing else.
    """
    case.wall()
    for wall in case.subject.walls:
        feed = case.sense_feed(wall)
        got = await case.touch(wall, feed)
        off = _along(wall, got.contact) - wall.distance
        late = case.latch_slack(feed)
        case.hold(
            -wall.within - case.slack <= off <= wall.within + late,
            f"the contact {got.contact} lies {off:+.4f} mm along the approach from the wall at {wall.contact};"
            f" by the facts it may be {late:.4f} mm late",
        )
        await case.traverse(wall.start)
        case.away_from_wall = None
        await case.traverse(case.subject.safe)


@check("sense")
async def the_contact_is_latched_not_where_it_came_to_rest(case: Case) -> None:
    """The contact is the position latched when the circuit closed, not where the machine came to rest.

    Does: touches the same wall slowly and fast, and compares the two contacts.
    Why: a place taken after the overshoot is off by the braking distance, and every face with it.
    """
    wall = case.wall()
    fast = case.sense_feed(wall)
    slow = 0.25 * fast
    places = []
    for feed in (slow, fast):
        got = await case.touch(wall, feed)
        places.append(_along(wall, got.contact))
        await case.traverse(wall.start)
    late = case.latch_slack(fast) + case.slack
    case.hold(
        abs(places[1] - places[0]) <= late,
        f"at {feed_text(slow)} the contact lies at {places[0]:.4f} mm, at {feed_text(fast)} at {places[1]:.4f} mm;"
        f" the facts allow {late:.4f} mm between them",
    )


@check("sense")
async def the_contact_lies_on_the_line_and_before_the_rest(case: Case) -> None:
    """The contact lies on the line of the approach, and the machine comes to rest at it or beyond it.

    Does: touches, and puts start, contact and rest in order.
    Why: a contact elsewhere was another one, or a number of another axis or unit.
    """
    wall = case.wall()
    got = await case.touch(wall, case.sense_feed(wall))
    beside = distance_to_line(got.contact, wall.start, wall.way)
    case.hold(
        beside <= case.slack, f"the contact {got.contact} lies {beside:.4f} mm beside the line of the approach"
    )
    contact, rest = _along(wall, got.contact), _along(wall, got.rest.position)
    case.hold(
        -case.slack <= contact <= rest + case.slack,
        f"from the start, the contact lies {contact:.4f} mm away and the rest {rest:.4f} mm",
    )


@check("sense")
async def it_stops_within_what_the_facts_promise(case: Case) -> None:
    """After a contact the machine comes to rest within the stopping distance of its facts.

    Does: touches at a feed from which it may just stop within the wall's give, and measures the overrun.
    Why: approach feeds are chosen so that this distance crushes nothing.
    """
    wall = case.wall()
    feed = case.sense_feed(wall)
    got = await case.touch(wall, feed)
    over, allowed = got.rest.position.distance(got.contact), case.overrun(feed)
    case.hold(
        over <= allowed,
        f"at {feed_text(feed)} it came to rest {over:.4f} mm past the contact; the facts promise {allowed:.4f} mm",
    )


@check("sense")
async def it_truly_stops_at_the_contact(case: Case) -> None:
    """A sense truly stops at the contact.

    Does: touches, and looks at the truth by a second way.
    Why: an answer of "touched" from a machine that drives on is the worst there is.
    """
    wall = case.wall()
    await case.truth()
    feed = case.sense_feed(wall)
    await case.touch(wall, feed)
    true = _along(wall, (await case.truth()).position) - wall.distance
    allowed = wall.within + case.latch_slack(feed) + case.overrun(feed) + case.facts.backlash
    case.hold(true <= allowed, f"it truly stands {true:.4f} mm past the wall; the facts promise {allowed:.4f} mm")


@check("sense")
async def a_touch_returns_after_standstill(case: Case) -> None:
    """A sense that touched returns after standstill; its `rest` was taken then, with the circuit closed.

    Does: touches, waits for the contact to settle, and watches whether anything still moves.
    Why: the back-off is ordered on the word of this snapshot, and the circuit is judged from it.
    """
    wall = case.wall()
    got = await case.touch(wall, case.sense_feed(wall))
    await case.hold_still(got.rest, "sense()")
    await case.wait(case.facts.settle_s)
    case.circuit_is(await case.look(), Circuit.CLOSED, "At rest after a touch, the contact settled")


@check("sense")
async def the_circuit_opens_after_the_back_off(case: Case) -> None:
    """After the back-off from a contact, a snapshot says that the circuit is open again.

    Does: touches, traverses back, waits for the contact to settle, and looks.
    Why: a circuit reported closed for ever stops every job, and one reported from memory hides a stuck plate.
    """
    case.only_if(case.facts.circuit_known, "the facts say that the circuit cannot be known")
    wall = case.wall()
    await case.touch(wall, case.sense_feed(wall))
    await case.traverse(wall.start)
    await case.wait(case.facts.settle_s)
    case.circuit_is(await case.look(), Circuit.OPEN, "After the back-off from a contact")


@check("sense")
async def repeated_touches_agree(case: Case) -> None:
    """The same wall touched again gives the same contact, as far as steps and latch allow.

    Does: touches three times at one feed.
    Why: touches that disagree without a reason make the library blame a loose plate.
    """
    wall = case.wall()
    feed = 0.5 * case.sense_feed(wall)
    places = []
    for _ in range(3):
        got = await case.touch(wall, feed)
        places.append(_along(wall, got.contact))
        await case.traverse(wall.start)
    spread, allowed = max(places) - min(places), case.latch_slack(feed)
    case.hold(spread <= allowed, f"three touches lie {spread:.4f} mm apart; the facts allow {allowed:.4f} mm")


@check("sense")
async def a_contact_soon_after_the_start_is_found(case: Case) -> None:
    """A contact that lies a few tenths of a millimetre after the start of a sense is found like any other.

    Does: goes near to the wall, and senses into it slowly from there.
    Why: a re-touch begins less than a millimetre before the face; a sense that is blind at first drives into it.
    """
    wall = case.wall()
    feed = 0.25 * case.sense_feed(wall)
    near = wall.contact.minus(wall.way.times(wall.within + NEAR))
    await case.traverse(wall.start)
    case.away_from_wall = wall.start
    await case.traverse(near)
    got = await case.sense(wall.to, feed, near)
    if not isinstance(got, Touched):
        case.fail(f"sense() from {near} answered {got} although a wall lies at {wall.contact}")
    off, late = _along(wall, got.contact) - wall.distance, case.latch_slack(feed)
    case.hold(
        -wall.within - case.slack <= off <= wall.within + late,
        f"from {wall.within + NEAR:g} mm before it, the contact lies {off:+.4f} mm along the approach from the wall;"
        f" by the facts it may be {late:.4f} mm late",
    )


@check("sense")
async def free_air_is_a_miss(case: Case) -> None:
    """A sense that meets nothing answers `Missed`, at rest at its target; it is neither a touch nor an error.

    Does: senses within the free box, along each axis.
    Why: a miss taken for a contact sets the work offset in free air, and the cutter comes down there.
    """
    safe = case.subject.safe
    for axis in Axis:
        to = case.near(axis)
        got = await case.attempt_sense(to, case.feed_for(safe.distance(to), BRISK_S), safe)
        if case.missed_into_alarm(got):
            return
        if not isinstance(got, Missed):
            case.fail(f"a sense in free air from {safe} to {to} answered {got!r}")
        case.hold(
            case.same_place(got.rest.position, to),
            f"a sense without contact ended at {got.rest.position}, not {to}",
        )
        case.circuit_is(got.rest, Circuit.OPEN, "After a sense without contact")
        await case.hold_still(got.rest, "sense()")
        if got.rest.alarm:
            return
        await case.traverse(safe)


@check("sense")
async def an_alarm_after_a_miss_is_as_the_facts_say(case: Case) -> None:
    """A miss leaves an alarm if the facts say so, and none if they do not.

    Does: senses in free air, and looks.
    Why: whether a retreat is possible after a miss is planned from this fact.
    """
    case.only_if(case.facts.alarm_known, "the facts say that alarms cannot be known")
    safe, to = case.subject.safe, case.near(Axis.X)
    got = await case.attempt_sense(to, case.feed_for(safe.distance(to), BRISK_S), safe)
    case.hold(isinstance(got, Missed | AlarmActive), f"a sense in free air answered {got!r}")
    seen = await case.look()
    case.hold(
        seen.alarm is case.facts.alarm_on_miss,
        f"after a miss the alarm is {seen.alarm}, and facts.alarm_on_miss is {case.facts.alarm_on_miss}",
    )


@check("sense")
async def a_sense_never_exceeds_its_feed(case: Case) -> None:
    """A sense is no faster than the feed it was given, in mm/min, and ends within the driver's deadline.

    Does: times a sense in free air on the adapter's clock.
    Why: what the tool is pushed past a contact grows with the square of the feed.
    """
    safe, to = case.subject.safe, case.far
    distance = safe.distance(to)
    feed = case.feed_for(distance, 2.0 * BRISK_S)
    began = case.clock.now()
    await case.attempt_sense(to, feed, safe)
    took_s, least_s = case.clock.now() - began, distance / feed * 60.0
    case.hold(
        took_s >= EARLIEST * least_s,
        f"a sense over {distance:g} mm at {feed_text(feed)} came back after {took_s:.3f} s; at that feed it takes"
        f" {least_s:.3f} s or more",
    )


@check("sense")
async def a_sense_with_the_circuit_closed_is_refused(case: Case) -> None:
    """A sense ordered while the circuit is closed is refused, and nothing moves.

    Does: touches, and from there senses on in the same direction.
    Why: without an open circuit there is nothing that would stop it: it drives on into the work.
    """
    wall = case.wall()
    feed = case.sense_feed(wall)
    got = await case.touch(wall, feed)
    await case.wait(case.facts.settle_s)
    to = got.rest.position.plus(wall.way.times(0.5 * wall.give))
    again = await case.attempt_sense(to, min(feed, 60.0))
    if not isinstance(again, Fault):
        case.fail(f"a sense that began with the circuit closed answered {type(again).__name__}")
    case.hold(isinstance(again, ControllerRefused | AlarmActive), f"it raised {describe(again)}")
    seen = await case.look()
    case.hold(
        case.same_place(seen.position, got.rest.position),
        f"a sense that began with the circuit closed moved from {got.rest.position} to {seen.position}",
    )


@check("sense")
async def a_bridged_circuit_is_seen_and_refused(case: Case) -> None:
    """A circuit closed in free air is seen by a look, and a sense is refused.

    Does: has the circuit closed where the tool stands, looks, and senses.
    Why: a chip across the gap, or a lead that touches the machine, must stop the job before it moves.
    """
    bridge = case.needs("closed_circuit")
    await bridge(0.0)
    case.circuit_is(await case.look(), Circuit.CLOSED, "With the circuit closed in free air")
    got = await case.attempt_sense(case.near(Axis.X), 60.0)
    case.hold(
        isinstance(got, ControllerRefused | AlarmActive),
        f"a sense with the circuit closed in free air gave {got!r}",
    )
    seen = await case.look()
    case.hold(case.same_place(seen.position, case.subject.safe), f"it moved to {seen.position} nevertheless")


@check("sense")
async def a_turning_spindle_is_reported(case: Case) -> None:
    """A turning spindle is reported as turning, where the facts say that it can be told.

    Does: has the spindle turn, and compares what `look`, `stop` and a traverse to where it stands tell.
    Why: with the test lead on, a turning spindle tears it off and throws the plate.
    """
    known = case.facts.spindle is not SpindleKnowledge.BY_HAND
    case.only_if(known, "the facts say that the spindle is switched by hand, unseen")
    spin = case.needs("turning_spindle")
    await spin(0.0)
    for what, seen in (("look()", await case.look()), ("stop()", await case.stop())):
        case.hold(
            seen.spindle is Spindle.TURNING, f"the spindle turns, and the snapshot of {what} says {seen.spindle}"
        )
    rest = await case.attempt_traverse(case.subject.safe)
    if not isinstance(rest, Fault):
        case.hold(
            rest.spindle is Spindle.TURNING,
            f"the spindle turns, and the snapshot of traverse() says {rest.spindle}",
        )


@check("sense")
async def a_sense_after_a_miss_finds_its_own_contact(case: Case) -> None:
    """A sense answers with its own contact, never with one remembered from before.

    Does: touches the wall, backs off, senses in free air, and touches again.
    Why: a remembered contact is a face where none is.
    """
    wall = case.wall()
    feed = case.sense_feed(wall)
    first = await case.touch(wall, feed)
    await case.traverse(wall.start)
    before = wall.contact.minus(wall.way.times(wall.within + 0.3))
    miss = await case.attempt_sense(before, feed, wall.start)
    if case.missed_into_alarm(miss):
        return
    case.hold(isinstance(miss, Missed), f"a sense that ends 0.3 mm before the wall answered {miss!r}")
    if isinstance(miss, Missed) and miss.rest.alarm:
        return
    await case.traverse(wall.start)
    second = await case.touch(wall, feed)
    case.hold(isinstance(second, Touched), f"it answered {second!r}")
    case.hold(
        second.contact.distance(first.contact) <= case.latch_slack(feed) + case.slack,
        f"after a miss the contact moved from {first.contact} to {second.contact}",
    )
