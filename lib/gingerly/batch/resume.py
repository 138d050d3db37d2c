"""Resume a batch: compare what each work offset is with what the journal says, and tell what is left to do.

A part that is set is not touched again while the controller still says so and the machine's position is trusted.
What somebody else changed is reported, all of it, and never written over unless a person says which.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from gingerly.batch.standing import PartStanding, Standing, Write, digest
from gingerly.geometry import Position
from gingerly.job import Job, Part
from gingerly.journal.history import near
from gingerly.messages.commands import AxisValues
from gingerly.routines import StopTest, ToolChange

ACCEPTED = "accepted as it stands, not touched"
"""Why a part needs nothing more whose work offset a person has set or changed, and calls right."""

RESUMING = "resuming"
"""The state in which a fault happens that lets nothing be resumed."""

FINISHED = "finished before"
"""Why a part needs nothing more that a person has called finished: its work offsets are no longer looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A part that needs nothing more: why, what it found, and its height at contact (machine Z, mm)."""

    why: str
    found: AxisValues = ()
    height: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Work offset `number` of `part` reads `read`, and should read one of `expected` (mm)."""

    part: str
    number: int
    read: Position
    expected: tuple[Position, ...]

    def __str__(self) -> str:
        meant = " or ".join(str(one) for one in self.expected)
        return f"work offset {self.number} ({self.part}) reads {self.read}; the journal says {meant}"


@dataclass(slots=True)
class Remainder:
    """What is left of a job. `settled` are writes that were cut off and whose outcome is known now, by part and
    number; `accepted` conflicts that a person has called right; `put_back` those of a set of which only some were
    written; `doubted` parts that rest on a position that is no longer trusted."""

    kept: dict[str, Kept] = field(default_factory=dict)
    conflicts: list[Conflict] = field(default_factory=list)
    accepted: list[Conflict] = field(default_factory=list)
    settled: list[tuple[str, int, Write, str]] = field(default_factory=list)
    put_back: list[tuple[str, int, Write]] = field(default_factory=list)
    doubted: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def remainder(
    job: Job,
    standing: Standing,
    now: Mapping[int, Position],
    *,
    life: int,
    verified: int = 0,
    overwrite: Collection[int] = (),
    accept: Collection[str] = (),
) -> Remainder:
    """Return what is left to do, given what the controller's work offsets are `now` (mm) and the present life.

    `verified` is the number of the latest entry of this life that says that a reference face is where it was.
    Offsets in `overwrite` may be written over whatever they read; the part that set one is done again. Those of the
    parts in `accept` are right as they stand, and their parts are not touched again.
    """
    left = Remainder()
    shifted = {number for number in overwrite if _is_change(job, standing.by.get(number, ""))}
    for number in sorted(shifted):
        left.notes.append(
            f"work offset {number} was shifted by {standing.by[number]!r} since it was set, so it cannot be set"
            " again alone: begin anew without resuming"
        )
    overwrite = frozenset(overwrite) - shifted
    for part in job.parts:
        one = standing.parts.get(part.name)
        # A stop test sets nothing, and several runs of it make one: it is always made again.
        if one is not None and not isinstance(part.routine, StopTest):
            _judge(part, one, standing, now, left, overwrite)
    _look_for_conflicts(job, standing, now, left, overwrite)
    _accept(job, left, accept)
    for conflict in left.conflicts:
        left.kept.pop(conflict.part, None)
    accepted_now = {one.part for one in left.accepted}
    for name in left.kept:
        one = standing.parts.get(name)
        if one is None or one.finished or name in accepted_now:
            continue
        if one.life != life and one.number > verified:
            left.doubted.append(name)
    return left


def _accept(job: Job, left: Remainder, accept: Collection[str]) -> None:
    """Take the conflicts of the accepted parts as settled by a person.

    A tool change that is not complete cannot be: it would shift what a person has set already.
    """
    open_changes = {part.name for part in job.parts if part.compare_with is not None and part.name not in left.kept}
    accepted = frozenset(accept) - open_changes
    left.accepted = [one for one in left.conflicts if one.part in accepted]
    left.conflicts = [one for one in left.conflicts if one.part not in accepted]
    for part in job.parts:
        if part.name in accept and part.name not in {one.part for one in (*left.accepted, *left.conflicts)}:
            left.notes.append(f"{part.name}: there was nothing to accept; its work offset is as the journal says")
    for name in {one.part for one in left.accepted}:
        before = left.kept.get(name)
        left.kept[name] = Kept(why=ACCEPTED, height=None if before is None else before.height)


def too_late(job: Job, left: Remainder) -> tuple[Part, Part] | None:
    """Return a part that is left and a tool change after it that is done: its height would not fit any more."""
    change = None
    for part in reversed(job.parts):
        kept = left.kept.get(part.name)
        if kept is not None and kept.why != FINISHED and part.compare_with is not None:
            change = part
        elif part.name not in left.kept and change is not None:
            return part, change
    return None


def _is_change(job: Job, name: str) -> bool:
    return any(part.name == name and part.compare_with is not None for part in job.parts)


def _judge(
    part: Part,
    one: PartStanding,
    standing: Standing,
    now: Mapping[int, Position],
    left: Remainder,
    overwrite: Collection[int],
) -> None:
    """Decide whether one part that was begun is done."""
    if one.finished:
        left.kept[part.name] = Kept(why=FINISHED, found=one.found, height=one.height)
        return
    if one.digest != digest(part):
        left.notes.append(f"{part.name}: the job says something else than when it was set; it is done again")
        return
    if any(number in overwrite and standing.by.get(number) == part.name for number in part.offsets):
        left.notes.append(f"{part.name}: it is done again, as you said, over what somebody else has set")
        return
    if one.accepted and one.accepted >= set(part.offsets):
        left.kept[part.name] = Kept(why=ACCEPTED, height=one.height)
        return
    if one.ended and not one.ended_well:
        return
    if one.ended_well or (part.offsets and all(_on_record(one.writes.get(number)) for number in part.offsets)):
        left.kept[part.name] = Kept(why="set before", found=one.found, height=one.height)
    elif one.writes:
        _settle(part, one, now, left)


def _settle(part: Part, one: PartStanding, now: Mapping[int, Position], left: Remainder) -> None:
    """A run was cut off while it wrote: what the controller says now is what came of it."""
    stands = {number: _which(write, now.get(number)) for number, write in one.writes.items()}
    for number, write in one.writes.items():
        if write.read is None and stands[number]:
            left.settled.append((part.name, number, write, stands[number]))
    if all(stands.get(number) == "new" for number in part.offsets):
        found = one.found
        if isinstance(part.routine, ToolChange):
            found = tuple((axis, value) for axis, value in found if axis.name == "Z")
        left.kept[part.name] = Kept(why="set before; the controller says so", found=found, height=one.height)
        return
    # All or none: what was written of a set that is not complete goes back before it is found anew.
    left.put_back.extend(
        (part.name, number, write) for number, write in one.writes.items() if stands[number] == "new"
    )


def _on_record(write: Write | None) -> bool:
    """Whether a work offset was read as it was meant; a later part may have shifted it since."""
    return write is not None and write.read is not None and write.new is not None and near(write.read, write.new)


def _which(write: Write, now: Position | None) -> str:
    if now is None or write.new is None or write.old is None:
        return ""
    if near(now, write.new):
        return "new"
    return "old" if near(now, write.old) else ""


def _look_for_conflicts(
    job: Job, standing: Standing, now: Mapping[int, Position], left: Remainder, overwrite: Collection[int]
) -> None:
    """Find every live work offset that reads otherwise than the journal says."""
    users: dict[int, str] = {}
    for part in job.parts:
        one = standing.parts.get(part.name)
        if one is None or not one.finished:
            for number in part.offsets:
                users.setdefault(number, part.name)
    for number, part_name in users.items():
        expected = standing.expected.get(number)
        if expected is None or number not in now or number in overwrite:
            continue
        if not any(near(now[number], one) for one in expected):
            name = standing.by.get(number, part_name)
            left.conflicts.append(Conflict(part=name, number=number, read=now[number], expected=expected))
