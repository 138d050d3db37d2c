"""What a motion leaves alone, what it does not heed, and the feeds of slanting, long and backward ways."""

from __future__ import annotations

from gingerly.conformance.case import BRISK_S, LONG_S, Case, feed_text
from gingerly.conformance.catalogue import check
from gingerly.conformance.checks.d_offsets import _same, _write_all
from gingerly.conformance.checks.e_traverse import EARLIEST, _hold_feed
from gingerly.geometry import Axis, Position, distance_to_line
from gingerly.kinematics import move_time
from gingerly.messages.replies import Missed
from gingerly.messages.snapshot import Snapshot

SHIFT = 0.6
"""How far the kit sets work offsets off on each axis, in mm, to see whether a contact follows them: our own choice."""


@check("sense")
async def contacts_ignore_work_offsets(case: Case) -> None:
    """A sense takes its target, and tells its contact, in machine coordinates, whatever work offsets hold.

    Does: writes all work offsets, touches the wall, and compares contact and rest with where the wall is.
    Why: a contact told as a work coordinate is off by the offset that stood there before, and so is every face.
    """
    case.only_if(
        case.subject.simulated, "on a real machine a wrong answer would be a crash; run it on a simulated one"
    )
    wall = case.wall()
    for number in await case.keep_offsets():
        await case.write(number, {Axis.X: SHIFT, Axis.Y: -SHIFT, Axis.Z: SHIFT})
    feed = case.sense_feed(wall)
    got = await case.touch(wall, feed)
    for what, place in (("contact", got.contact), ("rest", got.rest.position)):
        beside = distance_to_line(place, wall.start, wall.way)
        case.hold(
            beside <= case.slack + wall.within,
            f"with work offsets of {SHIFT:g} mm set, the {what} {place} lies {beside:.4f} mm beside the line",
        )
    off = got.contact.minus(wall.contact).dot(wall.way)
    late = case.latch_slack(feed)
    case.hold(
        -wall.within - case.slack <= off <= wall.within + late,
        f"with work offsets of {SHIFT:g} mm set, the contact {got.contact} lies {off:+.4f} mm along the approach"
        f" from the wall at {wall.contact}; by the facts it may be {late:.4f} mm late",
    )


@check("sense")
async def only_a_write_changes_a_work_offset(case: Case) -> None:
    """Neither a traverse nor a stop nor a touch changes a work offset.

    Does: writes two work offsets, traverses, stops and touches, and reads both after each.
    Why: an origin that a controller or an adapter sets as a courtesy is one that nobody checked or wrote down.
    """
    numbers = (await case.keep_offsets())[:2]
    meant = {number: await _write_all(case, number) for number in numbers}

    async def hold(after: str) -> None:
        for number in numbers:
            found = await case.read(number)
            case.hold(
                _same(case, found, meant[number]),
                f"work offset {number} was {meant[number]}; after {after} it is {found}",
            )

    await case.traverse(case.near(Axis.X))
    await hold("a traverse")
    await case.stop()
    await hold("a stop")
    await case.traverse(case.subject.safe)
    if case.subject.walls:
        await case.touch(case.wall(), case.sense_feed(case.wall()))
        await hold("a touch")


@check("sense")
async def a_slanting_sense_keeps_its_feed(case: Case) -> None:
    """On a slanting sense the feed is the speed along the path, and all axes get to the target.

    Does: times a sense in free air that uses all three axes.
    Why: axes that each keep the feed add up to a speed 1.7 times higher, and to an overrun nearly three times as long.
    """
    safe, to = case.subject.safe, _slanting(case)
    distance = safe.distance(to)
    feed = case.feed_for(distance, 2.0 * BRISK_S)
    began = case.clock.now()
    got = await case.attempt_sense(to, feed, safe)
    took_s, least_s = case.clock.now() - began, distance / feed * 60.0
    if isinstance(got, Missed):
        case.hold(case.same_place(got.rest.position, to), f"a slanting sense to {to} ended at {got.rest.position}")
    case.hold(
        took_s >= EARLIEST * least_s,
        f"a slanting sense over {distance:.3f} mm at {feed_text(feed)} came back after {took_s:.3f} s; along its"
        f" path it takes {least_s:.3f} s or more",
    )


@check("stop")
async def a_traverse_goes_straight(case: Case) -> None:
    """A traverse goes straight to its target, on all axes at once, with a feed and without one.

    Does: gives slanting traverses up half-way, stops, and looks how far from the straight line it stands.
    Why: an axis that goes first leads round a corner that nobody planned, and there may be a clamp.
    """
    safe, to = case.subject.safe, _slanting(case)
    for feed, within_s in ((case.feed_for(safe.distance(to), LONG_S), 0.5 * LONG_S), (None, _half_way_s(case, to))):
        await case.cut_short(case.adapter.traverse(to, feed), within_s)
        _hold_straight(case, await case.stop(), to, f"a traverse {_at(feed)}")
        await case.traverse(safe)


@check("sense")
async def a_sense_goes_straight(case: Case) -> None:
    """A sense goes straight towards its target, on all axes at once.

    Does: gives a slanting sense in free air up half-way, stops, and looks how far from the straight line it stands.
    Why: a face is looked for on this line; one met on the way round is taken for it.
    """
    to = _slanting(case)
    feed = case.feed_for(case.subject.safe.distance(to), LONG_S)
    await case.cut_short(case.adapter.sense(to, feed), 0.5 * LONG_S)
    _hold_straight(case, await case.stop(), to, f"a sense {_at(feed)}")


def _slanting(case: Case) -> Position:
    """Return a free point that differs from the safe one on all axes."""
    return Position(case.near(Axis.X).x, case.near(Axis.Y).y, case.near(Axis.Z).z)


def _half_way_s(case: Case, to: Position) -> float:
    """Return when a traverse as fast as it goes is about half-way."""
    facts, distance = case.facts, case.subject.safe.distance(to)
    return 0.5 * move_time(distance, feed=facts.rapid_feed, acceleration=facts.acceleration)


def _at(feed: float | None) -> str:
    return feed_text(feed) if feed is None else f"at {feed_text(feed)}"


def _hold_straight(case: Case, rest: Snapshot, to: Position, what: str) -> None:
    safe = case.subject.safe
    beside = distance_to_line(rest.position, safe, to.minus(safe).unit())
    case.hold(
        beside <= case.slack,
        f"{what} from {safe} to {to}, stopped half-way, stands at {rest.position}, {beside:.4f} mm beside the line",
    )


@check("sense")
async def a_back_off_keeps_its_feed(case: Case) -> None:
    """A traverse that begins at a contact, its circuit closed, keeps its own feed along the whole path.

    Does: touches, and times the way back.
    Why: whether the circuit opened in time is judged by this feed; one left over from the sense spoils the judgement.
    """
    wall = case.wall()
    got = await case.touch(wall, case.sense_feed(wall))
    here = got.rest.position
    await _hold_feed(case, wall.start, case.feed_for(here.distance(wall.start), 2.0 * BRISK_S), here)


@check("sense")
async def a_motion_may_last_longer_than_an_answer(case: Case) -> None:
    """A motion is given the time that it takes, however short the facts' `answer_s` is.

    Does: traverses so slowly that it takes longer than `answer_s`, and senses back as slowly.
    Why: a sense over 10 mm at 25 mm/min takes 24 s; given up by the adapter itself, no slow approach ever ends.
    """
    safe, far = case.subject.safe, case.far
    feed = case.feed_for(safe.distance(far), 1.5 * case.facts.answer_s + 1.0)
    rest = await case.traverse(far, feed, safe)
    case.hold(case.same_place(rest.position, far), f"a slow traverse to {far} ended at {rest.position}")
    got = await case.attempt_sense(safe, feed, far)
    if case.missed_into_alarm(got):
        return
    if not isinstance(got, Missed):
        case.fail(f"a slow sense in free air from {far} to {safe} came back with {got!r}")
    case.hold(case.same_place(got.rest.position, safe), f"a slow sense to {safe} ended at {got.rest.position}")
