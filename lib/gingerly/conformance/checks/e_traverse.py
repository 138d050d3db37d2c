"""Moves that expect no contact: the right place, the right axis, the right feed, and a return after standstill."""

from __future__ import annotations

import math

from gingerly.conformance.case import BRISK_S, Case, describe, feed_text
from gingerly.conformance.catalogue import check
from gingerly.conformance.subject import Wall
from gingerly.geometry import Axis, Position
from gingerly.kinematics import stopping_distance
from gingerly.messages.facts import Guard
from gingerly.messages.faults import AlarmActive, ControllerRefused, Fault
from gingerly.messages.replies import Touched
from gingerly.messages.snapshot import Circuit

EARLIEST = 0.9
"""A move over in less than this share of distance / feed was not made at that feed; the rest is for clocks.
Our own choice."""
GUARD_LENIENCE, GUARD_TRIES = 2.0, 3
"""A guard may take so many times its reaction time, and the best of so many tries counts, so that a busy computer
passes. Our own choice."""


@check("traverse")
async def each_axis_goes_where_it_is_sent(case: Case) -> None:
    """A traverse ends at its target: this axis, this direction, millimetres.

    Does: moves a few millimetres along each axis in both directions, and compares the snapshot with the target.
    Why: a wrong sign or unit is a crash on the first move.
    """
    for axis in Axis:
        for sign in (1, -1):
            if case.subject.room(axis, sign) < 1.0:
                continue
            to = case.near(axis, sign)
            rest = await case.traverse(to)
            case.hold(case.same_place(rest.position, to), f"a traverse to {to} ended at {rest.position}")
            await case.traverse(case.subject.safe)


@check("traverse")
async def each_axis_truly_goes_where_it_is_sent(case: Case) -> None:
    """A traverse truly ends at its target, and not only in its snapshot.

    Does: moves along each axis, and looks at the truth by a second way.
    Why: an adapter that answers with the target passes every comparison with itself.
    """
    await case.truth()
    allowed = case.slack + case.facts.backlash
    for axis in Axis:
        to = case.near(axis)
        await case.traverse(to)
        true = (await case.truth()).position
        case.hold(true.distance(to) <= allowed, f"a traverse to {to} truly ended at {true}")


@check("traverse")
async def a_slanting_move_ends_at_its_target(case: Case) -> None:
    """A traverse moves all axes that differ.

    Does: moves to a point that differs on all three axes.
    Why: an axis left out shows up at the next approach, in the wrong place.
    """
    safe = case.subject.safe
    to = Position(case.near(Axis.X).x, case.near(Axis.Y).y, case.near(Axis.Z).z)
    rest = await case.traverse(to)
    case.hold(case.same_place(rest.position, to), f"a traverse from {safe} to {to} ended at {rest.position}")


@check("traverse")
async def a_traverse_returns_after_standstill(case: Case) -> None:
    """A traverse returns once the machine stands, with a snapshot taken then.

    Does: moves, and watches whether anything still moves after the answer.
    Why: the next order, a look at the circuit or a hand may follow at once.
    """
    to = case.far
    rest = await case.traverse(to, case.feed_for(case.subject.safe.distance(to), 2.0 * BRISK_S))
    await case.hold_still(rest, "traverse()")


@check("traverse")
async def small_and_odd_moves_are_made(case: Case) -> None:
    """A move smaller than people think of, or between motor steps, ends as near to its target as the steps allow.

    Does: moves by a few steps, and to thirds of a millimetre.
    Why: the last moves before a touch are small; rounded away or to tenths, they put the tool beside its line.
    """
    safe, axis = case.subject.safe, Axis.X
    sign = 1 if case.subject.room(axis, 1) > 1.0 else -1
    for step in (max(4.0 * case.facts.resolution, 0.01), 1.0 / 3.0, 2.0 / 3.0, 0.05):
        to = safe.with_axes({axis: safe[axis] + sign * step})
        rest = await case.traverse(to)
        case.hold(
            case.same_place(rest.position, to),
            f"a traverse to X{to.x:.4f} ended at X{rest.position.x:.4f}, more than {case.slack:.4f} mm off",
        )


@check("traverse")
async def small_moves_add_up(case: Case) -> None:
    """Many small moves end where one large move would.

    Does: moves ten times by a length that is no whole number of steps, and back in one move.
    Why: rounding that adds up walks the tool away from where everybody thinks it is.
    """
    safe, axis = case.subject.safe, Axis.X
    sign = 1 if case.subject.room(axis, 1) > 1.0 else -1
    length = 0.1 + 0.4 * case.facts.resolution
    for turn in range(1, 11):
        to = safe.with_axes({axis: safe[axis] + sign * turn * length})
        rest = await case.traverse(to)
        case.hold(case.same_place(rest.position, to), f"small move {turn} to X{to.x:.4f} ended at {rest.position}")
    rest = await case.traverse(safe)
    case.hold(
        case.same_place(rest.position, safe), f"back from small moves it stands at {rest.position}, not {safe}"
    )


@check("traverse")
async def a_move_to_where_it_stands_is_no_error(case: Case) -> None:
    """A traverse to where the machine stands returns at once.

    Does: orders one.
    Why: a routine that begins where the last one ended must not fail for it.
    """
    rest = await case.traverse(case.subject.safe, start=case.subject.safe)
    case.hold(case.same_place(rest.position, case.subject.safe), f"it ended at {rest.position}")


async def _timed(case: Case, to: Position, feed: float | None, start: Position) -> float:
    began = case.clock.now()
    await case.traverse(to, feed, start)
    return case.clock.now() - began


async def _hold_feed(case: Case, to: Position, feed: float, start: Position) -> None:
    distance = start.distance(to)
    took_s = await _timed(case, to, feed, start)
    least_s = distance / feed * 60.0
    case.hold(
        took_s >= EARLIEST * least_s,
        f"a traverse of {distance:g} mm at {feed_text(feed)} came back after {took_s:.3f} s;"
        f" at that feed it takes {least_s:.3f} s or more",
    )


@check("traverse")
async def a_feed_is_never_exceeded(case: Case) -> None:
    """A traverse is no faster than the feed it was given, in mm/min, and ends within the driver's deadline.

    Does: times moves at two feeds on the adapter's clock.
    Why: the feed is what keeps a tool, a plate and a thread of glass-hard carbide whole.
    """
    safe, to = case.subject.safe, case.far
    distance = safe.distance(to)
    await _hold_feed(case, to, case.feed_for(distance, BRISK_S), safe)
    await _hold_feed(case, safe, case.feed_for(distance, 3.0 * BRISK_S), to)


@check("traverse")
async def a_feed_holds_along_the_path(case: Case) -> None:
    """On a slanting move the feed is the speed along the path, not that of each axis.

    Does: times a move that uses all three axes.
    Why: axes that each keep the feed add up to a speed 1.7 times higher.
    """
    safe = case.subject.safe
    to = Position(case.near(Axis.X).x, case.near(Axis.Y).y, case.near(Axis.Z).z)
    await _hold_feed(case, to, case.feed_for(safe.distance(to), 2.0 * BRISK_S), safe)


@check("traverse")
async def without_a_feed_it_goes_as_fast_as_the_facts_say(case: Case) -> None:
    """A traverse without a feed goes at the facts' rapid feed, no faster, and ends within the driver's deadline.

    Does: moves slowly first, so that a feed left in force would show, then times a move without one.
    Why: deadlines and stopping distances of traverses rest on the rapid feed.
    """
    safe, to = case.subject.safe, case.far
    distance, rapid = safe.distance(to), case.facts.rapid_feed
    slow = case.feed_for(1.0, BRISK_S)
    await case.traverse(case.near(Axis.X, most=1.0), slow)
    await case.traverse(safe, slow)
    took_s = await _timed(case, to, None, safe)
    least_s = distance / rapid * 60.0
    case.hold(
        took_s >= EARLIEST * least_s,
        f"a traverse of {distance:g} mm without a feed took {took_s:.3f} s; at the facts' rapid feed it takes"
        f" {least_s:.3f} s or more",
    )


@check("traverse")
async def a_target_that_is_no_number_is_never_sent(case: Case) -> None:
    """A target that is no finite number is refused, and nothing moves.

    Does: orders a move to a point with a coordinate that is no number.
    Why: controllers read such text each in its own way; one of the ways is zero.
    """
    for wrong in (math.nan, math.inf):
        error = await case.misuse(
            f"traverse() to {wrong}", case.adapter.traverse(case.subject.safe.with_axes({Axis.X: wrong}), 60.0)
        )
        if error is None:
            case.fail(f"a traverse to X{wrong} was accepted")
        case.hold(
            isinstance(error, ValueError | ControllerRefused),
            f"a traverse to X{wrong} raised {describe(error)}; it must be ValueError or ControllerRefused",
        )
    seen = await case.look()
    case.hold(case.same_place(seen.position, case.subject.safe), f"it moved to {seen.position} nevertheless")


@check("traverse")
async def a_target_outside_the_envelope_is_not_reported_as_reached(case: Case) -> None:
    """A target outside the envelope is refused, or the snapshot says that it was not reached.

    Does: on a simulated machine, orders a move to 1 mm beyond the nearest axis limit.
    Why: an axis that stalls at its end while the position counts on is off by the difference from then on.
    """
    case.only_if(case.subject.simulated, "on a real machine this would drive an axis against its end")
    envelope, to = case.facts.envelope, case.outside
    got = await case.attempt_traverse(to)
    if isinstance(got, Fault):
        case.hold(isinstance(got, ControllerRefused | AlarmActive), f"a target outside raised {describe(got)}")
    else:
        case.hold(
            envelope.excess(got.position) is None or not case.same_place(got.position, to),
            f"a traverse to {to}, outside the envelope, was reported as arrived there",
        )


@check("traverse")
async def a_target_not_reached_is_told_by_the_snapshot(case: Case) -> None:
    """A target that was not reached is no error of the adapter; the snapshot says where the machine stands.

    Does: has a move end short, and compares the snapshot with the target and a later look.
    Why: the library trusts that place, and stops on the difference.
    """
    shorten = case.needs("short_move")
    to = case.near(Axis.X)
    await shorten(0.0)
    rest = await case.traverse(to)
    case.hold(not case.same_place(rest.position, to), f"a traverse that ended short of {to} was reported as there")
    later = await case.look()
    case.hold(
        case.same_place(rest.position, later.position), f"it reported {rest.position}, a look {later.position}"
    )


@check("sense")
async def a_traverse_may_begin_with_the_circuit_closed(case: Case) -> None:
    """A traverse away from a contact is carried out although the circuit is closed when it begins.

    Does: touches the wall, and traverses back to where the approach began.
    Why: it is the only way back; a refusal leaves the tool pressed against the work.
    """
    wall = case.wall()
    await case.touch(wall, case.sense_feed(wall))
    rest = await case.traverse(wall.start)
    case.hold(
        case.same_place(rest.position, wall.start),
        f"the back-off from a contact to {wall.start} ended at {rest.position}",
    )
    case.circuit_is(rest, Circuit.OPEN, "After the back-off from a contact")


@check("traverse")
async def a_guarded_traverse_stops_at_metal(case: Case) -> None:
    """Where the facts name a guard, a traverse stops at a contact; the snapshot says so, and nothing is raised.

    Does: traverses slowly into the wall, no further than its `give`, and measures how far past the contact it came.
    Why: feeds below clearance are chosen by this promise.
    """
    case.only_if(case.facts.guard is not Guard.NONE, "the facts say that no traverse sees the circuit")
    wall, facts = case.wall(), case.facts
    feed = min(case.sense_feed(wall), 60.0 * 0.2 * wall.give / facts.traverse_reaction_s)
    late_s = GUARD_LENIENCE * (facts.traverse_reaction_s + facts.sample_interval_s)
    allowed = wall.within + case.slack + stopping_distance(feed, acceleration=facts.acceleration, reaction_s=late_s)
    overruns = [await _guarded_overrun(case, wall, feed)]
    while overruns[-1] > allowed and len(overruns) < GUARD_TRIES:
        overruns.append(await _guarded_overrun(case, wall, feed))
    case.hold(
        overruns[-1] <= allowed,
        f"a guarded traverse at {feed_text(feed)} came to rest {min(overruns):.4f} mm past a contact, in the best of"
        f" {GUARD_TRIES} tries; even at twice the reaction time of its facts it is {allowed:.4f} mm",
    )


async def _guarded_overrun(case: Case, wall: Wall, feed: float) -> float:
    await case.traverse(wall.start)
    case.away_from_wall = wall.start
    rest = await case.traverse(wall.to, feed, wall.start)
    short = rest.position.distance(wall.to)
    case.hold(
        short > 2.0 * case.slack, f"a guarded traverse went through a wall at {wall.contact} to {rest.position}"
    )
    case.circuit_is(rest, Circuit.CLOSED, "After a guarded traverse met metal")
    await case.hold_still(rest, "traverse()")
    return rest.position.minus(wall.contact).dot(wall.way)


@check("sense")
async def a_machine_moves_on_after_a_touch(case: Case) -> None:
    """After a touch and a back-off the machine moves as before.

    Does: touches, backs off, and traverses to the safe point and on.
    Why: a controller left in the mode of a sense stops the next move half-way, or refuses it.
    """
    wall = case.wall()
    got = await case.touch(wall, case.sense_feed(wall))
    case.hold(isinstance(got, Touched), "there was no touch")
    await case.traverse(wall.start)
    for to in (case.subject.safe, case.near(Axis.X)):
        rest = await case.traverse(to)
        case.hold(case.same_place(rest.position, to), f"after a touch, a traverse to {to} ended at {rest.position}")
