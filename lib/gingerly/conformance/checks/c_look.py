"""Snapshots: what must be told, what must be left open, and whether it is fresh."""

from __future__ import annotations

from gingerly.conformance.case import LONG_S, WHILE_S, Case
from gingerly.conformance.catalogue import check
from gingerly.geometry import Axis
from gingerly.messages.facts import SpindleKnowledge
from gingerly.messages.snapshot import Circuit, Snapshot, Spindle


def untold(case: Case, snapshot: Snapshot) -> list[str]:
    """Return the fields that the facts call known and the snapshot leaves None."""
    facts = case.facts
    known = {
        "circuit": facts.circuit_known,
        "alarm": facts.alarm_known,
        "in_force": facts.in_force_known,
        "spindle": facts.spindle is not SpindleKnowledge.BY_HAND,
    }
    return [name for name, told in known.items() if told and getattr(snapshot, name) is None]


def guessed(case: Case, snapshot: Snapshot) -> list[str]:
    """Return the fields that the facts call unknown and the snapshot claims to know."""
    facts = case.facts
    unknown = {
        "circuit": not facts.circuit_known,
        "alarm": not facts.alarm_known,
        "in_force": not facts.in_force_known,
    }
    found = [name for name, hidden in unknown.items() if hidden and getattr(snapshot, name) is not None]
    if facts.spindle is SpindleKnowledge.BY_HAND and snapshot.spindle is Spindle.STILL:
        found.append("spindle")
    return found


@check("look", moves=False)
async def looking_changes_nothing(case: Case) -> None:
    """Two looks at a machine at rest say the same, and that it is idle.

    Does: looks twice.
    Why: whatever differs between two looks is taken for something that happened to the machine.
    """
    first, second = await case.look(), await case.look()
    case.hold(first.idle and second.idle, "a snapshot of a machine that was never moved is not idle")
    case.hold(
        case.same_place(first.position, second.position),
        f"two looks at a standing machine gave {first.position} and {second.position}",
    )
    case.hold(first.restarts == second.restarts, "looking made the count of restarts grow")


@check("look", moves=False)
async def what_the_facts_call_known_is_told(case: Case) -> None:
    """What the facts call known is never None in a snapshot.

    Does: compares a snapshot with the facts.
    Why: the library refuses to move on an untold circuit, spindle or alarm; an adapter that forgets one is useless.
    """
    missing = untold(case, await case.look())
    case.hold(not missing, f"the facts call {', '.join(missing)} known, and the snapshot leaves it None")


@check("look", moves=False)
async def what_the_facts_call_unknown_is_left_open(case: Case) -> None:
    """What the facts call unknown is None in a snapshot, never guessed.

    Does: compares a snapshot with the facts.
    Why: a guessed "circuit open" or "spindle still" is believed, and a person is not asked.
    """
    claimed = guessed(case, await case.look())
    case.hold(not claimed, f"the facts call {', '.join(claimed)} unknown, and the snapshot claims to know it")


@check("look", moves=False)
async def nothing_odd_is_in_force_at_the_start(case: Case) -> None:
    """At the start nothing is in force that would falsify a result.

    Does: looks at shifts, tool length, override, rotation and units after `open`.
    Why: `open` puts the controller into a known modal state; an inch or a shift left over moves every face.
    """
    seen = await case.look()
    case.only_if(seen.in_force is not None, "the facts say that what is in force cannot be known")
    assert seen.in_force is not None
    odd = ", ".join(seen.in_force.oddities())
    case.hold(not odd, f"after open() the snapshot reports {odd}")


@check("look", moves=False)
async def no_alarm_stands_at_the_start(case: Case) -> None:
    """A machine in order is reported without alarm, homed where that is known, its spindle still.

    Does: looks once, where the machine stands.
    Why: an alarm reported for nothing keeps people from believing one that is real.
    """
    seen = await case.look()
    case.hold(not seen.alarm, f"a snapshot reports the alarm {seen.alarm_detail!r} although nothing is wrong")
    case.hold(seen.spindle is not Spindle.TURNING, "a snapshot reports a turning spindle although it stands")


@check("traverse")
async def circuit_is_open_in_free_air(case: Case) -> None:
    """In free air the circuit is open.

    Does: looks at the safe point, where nothing touches.
    Why: a swapped sense of the input makes every touch look like free air, and the tool drives on.
    """
    case.only_if(case.facts.circuit_known, "the facts say that the circuit cannot be known")
    case.circuit_is(await case.look(), Circuit.OPEN, "In free air")


@check("stop")
async def looks_during_a_motion_are_fresh(case: Case) -> None:
    """A look during a motion tells where the machine is now, and that it moves.

    Does: gives a slow traverse up half-way without stopping it, and looks three times as it goes on.
    Why: whoever guards a traverse by looking sees a touch late by as much as the snapshots are old.
    """
    start, to = case.subject.safe, await case.leave_moving()
    first = await case.look()
    await case.wait()
    second = await case.look()
    for seen in (first, second):
        case.hold(
            case.on_way(seen.position, start, to), f"on the way from {start} to {to} a look gave {seen.position}"
        )
    if first.idle:
        # A cancelled call may well stop the machine; then it must stand.
        await case.hold_still(first, "look() after a cancelled traverse")
        return
    moved = second.position.minus(first.position).dot(to.minus(start).unit())
    expected = case.feed_for(start.distance(to), LONG_S) / 60.0 * WHILE_S
    case.hold(
        second.idle or moved > 0.2 * expected,
        f"{WHILE_S:g} s apart, two looks at a moving machine gave {first.position} and {second.position};"
        f" at its feed it moves {expected:.3f} mm in that time",
    )
    await case.stop()


@check("stop")
async def idle_is_not_claimed_while_it_moves(case: Case) -> None:
    """A snapshot says idle only if no axis moves.

    Does: gives a slow traverse up half-way, looks again and again, and compares what follows each "idle".
    Why: on "idle" the next order goes out, and a person may reach in.
    """
    await case.leave_moving()
    for _ in range(3):
        seen = await case.look()
        if seen.idle:
            await case.hold_still(seen, "look() during a motion")
            return
        await case.wait(0.5 * WHILE_S)
    await case.stop()


@check("traverse")
async def a_look_after_a_move_sees_its_end(case: Case) -> None:
    """A look after a move tells the place where the move has ended.

    Does: moves on each axis in turn, and looks after each move.
    Why: a snapshot from before the move makes the library believe that nothing has moved.
    """
    for axis in Axis:
        to = case.near(axis)
        await case.traverse(to)
        seen = await case.look()
        case.hold(case.same_place(seen.position, to), f"after a move to {to} a look gave {seen.position}")
        await case.traverse(case.subject.safe)


@check("stop")
async def reported_position_is_the_true_one(case: Case) -> None:
    """The reported position is where the machine truly is.

    Does: compares the two after moves on each axis, and after a stop half-way.
    Why: an adapter that reports where it sent the machine hides every stall, limit and stop.
    """
    allowed = case.slack + case.facts.backlash
    await case.truth()
    for axis in Axis:
        await case.traverse(case.near(axis))
        await _hold_true(case, allowed, "after a traverse")
        await case.traverse(case.subject.safe)
    await case.leave_moving()
    await case.stop()
    await _hold_true(case, allowed, "after a stop half-way")


async def _hold_true(case: Case, allowed: float, when: str) -> None:
    seen, truth = await case.look(), await case.truth()
    away = seen.position.distance(truth.position)
    case.hold(
        away <= allowed,
        f"{when} it reported {seen.position}, and truly stands at {truth.position}, {away:.4f} mm away",
    )
