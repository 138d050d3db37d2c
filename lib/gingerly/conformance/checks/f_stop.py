"""Stop: at any time, as often as wanted, and back only after standstill."""

from __future__ import annotations

from gingerly.conformance.case import LONG_S, WHILE_S, Case
from gingerly.conformance.catalogue import NotApplicable, check
from gingerly.geometry import Axis, Position
from gingerly.messages.replies import Missed
from gingerly.messages.snapshot import Snapshot


async def _stop_half_way(case: Case) -> tuple[Snapshot, Position]:
    to = await case.leave_moving()
    return await case.stop(), to


def _hold_between(case: Case, rest: Snapshot, to: Position, what: str) -> None:
    case.hold(rest.idle, f"{what} answered a snapshot that is not idle")
    case.hold(not case.same_place(rest.position, to), f"{what} was answered only when the target {to} was reached")
    case.hold(
        case.on_way(rest.position, case.subject.safe, to),
        f"{what} ended at {rest.position}, off the way from {case.subject.safe} to {to}",
    )


@check("stop")
async def a_stop_at_rest_is_no_error(case: Case) -> None:
    """A stop at rest changes nothing, and may be repeated.

    Does: stops a standing machine three times.
    Why: in trouble the library stops without asking first, and so do people.
    """
    for _ in range(3):
        seen = await case.stop()
        case.hold(seen.idle, "stop() at rest answered a snapshot that is not idle")
        case.hold(case.same_place(seen.position, case.subject.safe), f"stop() at rest reports {seen.position}")


@check("stop")
async def a_stop_ends_a_traverse(case: Case) -> None:
    """A stop ends a traverse on its way, long before its target.

    Does: gives a slow traverse up half-way and stops.
    Why: it is what the library does when anything is wrong; a tool that goes on breaks.
    """
    rest, to = await _stop_half_way(case)
    _hold_between(case, rest, to, "stop()")


@check("stop")
async def a_stop_returns_after_standstill(case: Case) -> None:
    """A stop returns after standstill, with a snapshot taken then.

    Does: stops a traverse half-way, and watches whether anything still moves after the answer.
    Why: "the machine stands still (confirmed)" is told to people on the word of this snapshot.
    """
    rest, _ = await _stop_half_way(case)
    await case.hold_still(rest, "stop()")


@check("stop")
async def a_stop_from_speed_returns_after_standstill(case: Case) -> None:
    """A stop returns after standstill from a high feed too, where braking takes its time.

    Does: gives a fast traverse up while it moves and stops.
    Why: the braking distance is where the snapshot of a hasty stop is wrong.
    """
    start, to = case.subject.safe, case.far
    quick = case.facts.rapid_feed / 60.0
    after_s = 0.3 * start.distance(to) / quick
    rest = await case.cut_short(case.adapter.traverse(to, None), after_s)
    seen = await case.stop()
    if rest is None:
        await case.hold_still(seen, "stop()")


@check("stop")
async def a_stop_may_be_repeated_while_it_moves(case: Case) -> None:
    """A second stop right after the first is served like it.

    Does: stops a traverse half-way twice in a row.
    Why: people press twice, and a program that is cancelled twice stops twice.
    """
    first, to = await _stop_half_way(case)
    second = await case.stop()
    _hold_between(case, second, to, "the second stop()")
    case.hold(
        case.same_place(first.position, second.position),
        f"the first stop() reported {first.position}, the second {second.position}",
    )


@check("sense")
async def a_stop_ends_a_sense(case: Case) -> None:
    """A stop ends a sense on its way, and returns after standstill.

    Does: gives a slow sense in free air up half-way and stops.
    Why: it is the most delicate motion of all, and the one most often interrupted.
    """
    start, to = case.subject.safe, case.far
    got = await case.cut_short(case.adapter.sense(to, case.feed_for(start.distance(to), LONG_S)), 3 * WHILE_S)
    case.hold(got is None, f"a slow sense ended before its time with {got}")
    rest = await case.stop()
    _hold_between(case, rest, to, "stop()")
    await case.hold_still(rest, "stop()")


@check("sense")
async def it_moves_again_after_a_stop(case: Case) -> None:
    """After a stop the machine takes orders again, and an abandoned motion is not taken up.

    Does: stops a traverse half-way, traverses back, and senses in free air.
    Why: the retreat comes after the stop; a motion that comes back to life then is a crash.
    """
    rest, _ = await _stop_half_way(case)
    if rest.alarm or rest.restarts or rest.homed is False:
        raise NotApplicable("a stop leaves this controller in a state that only a person may clear")
    back = await case.traverse(case.subject.safe)
    case.hold(
        case.same_place(back.position, case.subject.safe),
        f"after a stop, a traverse to {case.subject.safe} ended at {back.position}",
    )
    to = case.near(Axis.X)
    got = await case.attempt_sense(to, case.feed_for(case.subject.safe.distance(to), 2 * WHILE_S))
    if case.missed_into_alarm(got):
        return
    case.hold(isinstance(got, Missed), f"after a stop, a sense in free air answered {got!r}")
