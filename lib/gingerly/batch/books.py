"""A batch's books: everything that it keeps in the journal, and what it learns from there before it begins.

Opened before anything moves: the work offsets are read, the machine's position is judged, and the beginning is on
record. Nothing here moves a machine; only a set of work offsets that was cut off half-written is put back.
"""

from __future__ import annotations

import platform
from collections.abc import Callable, Collection, Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from gingerly.batch.resume import Remainder, remainder, too_late
from gingerly.batch.standing import Standing, digest, identity, latest_series, read
from gingerly.batch.summary import PartResult, Status
from gingerly.driver.adapter import Simulated
from gingerly.driver.machine import Machine
from gingerly.driver.result import refused
from gingerly.geometry import Position
from gingerly.job import Job, Part
from gingerly.journal.entry import Entry, Kind, plain
from gingerly.journal.history import maybe_attached
from gingerly.journal.recorder import BatchRecorder, Heading
from gingerly.journal.store import Journal
from gingerly.journal.whereabouts import doubt
from gingerly.messages.faults import Fault, NotRecorded, OffsetNotKept, PositionUnknown, UnsuitableTool
from gingerly.messages.snapshot import Snapshot

VERIFY_FIRST = (
    "what was set before cannot be relied on. Touch a reference face again with `gingerly verify`, or begin anew"
    " without resuming"
)


class Books:
    """The books of one batch on one connected machine.

    With `resume` the latest series of the job goes on: `overwrite` names work offsets that may be written over
    although somebody else changed them, `finished` parts that are done with (None: nothing, empty: all that are
    set), so that the next wave may use their work offsets. With `follow` nothing is begun nor resumed: a machine is
    only watched while something else moves it (a verification, jogging), so that its position stays accounted for;
    a face that is verified restores the trust in what was set before.
    """

    def __init__(
        self,
        journal: Journal,
        job: Job,
        machine: Machine,
        *,
        resume: bool = False,
        overwrite: Collection[int] = (),
        finished: Sequence[str] | None = None,
        follow: bool = False,
    ) -> None:
        self.journal = journal
        self.left = Remainder()
        self.cut_off = False
        self.last_tool = ""
        self.resumed = False
        """Whether there was something to resume."""
        self._job = job
        self._machine = machine
        self._resume = resume
        self._overwrite = frozenset(overwrite)
        self._finished = finished
        self._follow = follow
        self._recorder: BatchRecorder | None = None
        self._unsubscribe: Callable[[], None] = lambda: None

    async def open(self) -> None:
        """Begin the batch in the journal, and make it the machine's recorder; moves nothing.

        Raises `NotRecorded` where it cannot be kept, `OffsetNotKept` for work offsets that somebody else changed,
        `PositionUnknown` where what was set can no longer be believed, and the machine's own faults. Opening open
        books changes nothing.
        """
        if self._recorder is not None:
            return
        machine, heading = self._machine, Heading(machine=self._machine.name, job=identity(self._job))
        standing = read(self.journal, self._job, machine.name) if self._resume else None
        snapshot = await machine.look()
        now = await self._offsets()
        whereabouts = self.journal.whereabouts(machine.name)
        last = whereabouts.last()
        why = doubt(last, snapshot, machine.facts.position_slack)
        heading.series = standing.series if standing is not None else 0
        heading.life = 0 if why else last_life(self.journal, machine.name)
        if maybe_attached(self.journal, machine.name):
            machine.assume_attached()
        self._recorder = BatchRecorder(
            self.journal, whereabouts, heading, offsets_readable=machine.facts.offsets_readable
        )
        if not self._follow:
            entry = await self._recorder.keep(Kind.BATCH_BEGUN, self._beginning(snapshot, now, why, standing))
            heading.batch, heading.series, heading.life = entry.batch, entry.series, entry.life
        elif why:
            await self._recorder.end_trust(why)
        self.cut_off = last is not None and last.cut_off
        self._note_where(snapshot)
        machine.recorder = self._recorder  # from here on answers are kept too, also where the batch is refused
        self._unsubscribe = machine.events.subscribe(self._recorder.observe)
        if standing is not None:
            await self._compare(standing, now, why)
        elif self._resume:
            self.left.notes.append(
                "the journal knows no earlier run of this job on this machine: all of it is done"
            )
        for name, number, write in self.left.put_back:
            assert write.old is not None
            assert write.new is not None
            self.left.notes.append(f"{name}: only some of its work offsets were written; {number} was put back")
            await machine.put_back(number, write.old, write.new)

    def _note_where(self, snapshot: Snapshot) -> None:
        assert self._recorder is not None
        try:
            self._recorder.stands(snapshot, cut_off=self.cut_off)
        except OSError as error:
            raise NotRecorded(f"{self.journal.path}: {error.strerror or error}", state="opening") from error

    async def _offsets(self) -> dict[int, Position]:
        if not self._machine.facts.offsets_readable:
            return {}
        numbers = sorted({number for part in self._job.parts for number in part.offsets})
        return {number: await self._machine.read_offset(number) for number in numbers}

    def _beginning(
        self, snapshot: Snapshot, now: dict[int, Position], why: str, standing: Standing | None
    ) -> dict[str, Any]:
        job, machine = self._job, self._machine
        return {
            "title": job.title,
            "parts": len(job.parts),
            "resumed": standing is not None,
            "adapter": job.machine.adapter,
            "simulated": isinstance(machine.adapter, Simulated),
            "facts": plain(machine.facts),
            "versions": {"gingerly": _version(), "python": platform.python_version()},
            # What a resumed batch finds is compared first, and counts only once it is settled.
            "offsets": {} if standing is not None else plain(now),
            "snapshot": plain(snapshot),
            "untrusted": why or None,
            "blind_waiver": machine.blind_waiver,
        }

    # ---- resuming -------------------------------------------------------------------------------------

    async def _compare(self, standing: Standing, now: dict[int, Position], why: str) -> None:
        assert self._recorder is not None
        heading = self._recorder.heading
        await self._mark_finished(standing)
        if not self._machine.facts.offsets_readable and any(part.offsets for part in self._job.parts):
            self.left.notes.append(
                "this controller does not tell its work offsets: parts that set one are done again"
            )
            for part in self._job.parts:
                if part.offsets and part.name in standing.parts and not standing.parts[part.name].finished:
                    del standing.parts[part.name]
        self.resumed, self.last_tool = True, standing.last_tool
        left = remainder(
            self._job,
            standing,
            now,
            life=heading.life,
            verified=last_verified(self.journal, self._machine.name, heading.life),
            overwrite=self._overwrite,
        )
        self.left = left = self._with_notes(left)
        for name, number, write, stands in left.settled:
            data = {"number": number, "old": plain(write.old), "new": plain(write.new), "stands": stands}
            await self._recorder.keep(Kind.SETTLED, {**data, "read": plain(now[number])}, part=name)
        for number in sorted(self._overwrite & set(now)):
            data = {"number": number, "read": plain(now[number])}
            await self._recorder.keep(Kind.OVERRULED, data, part=standing.by.get(number, ""))
        await self._refuse_conflicts()
        late = too_late(self._job, left)
        if late is not None:
            part, change = late
            raise UnsuitableTool(
                f"{part.name} needs {part.tool.name!r}, and the tool was changed since ({change.name}): its height"
                " would not fit those of the other parts. Begin anew without resuming",
                state="resuming",
                done="no motion was ordered",
            )
        if left.doubted:
            told = ", ".join(left.doubted[:9]) + (" …" if len(left.doubted) > 9 else "")
            raise PositionUnknown(
                f"{why or 'the trust in the position has ended since'}; {VERIFY_FIRST} ({told})",
                state="resuming",
                done="no motion was ordered",
            )

    def _with_notes(self, left: Remainder) -> Remainder:
        left.notes[:0] = self.left.notes
        tools = {part.tool.name for part in self._job.parts if part.name in left.kept}
        if tools and len(left.kept) < len(self._job.parts):
            left.notes.append(
                "resumed: all heights hold only for a tool that has not been taken out or pushed in since;"
                " otherwise begin anew without resuming"
            )
        return left

    async def _refuse_conflicts(self) -> None:
        assert self._recorder is not None
        for one in self.left.conflicts:
            data = {"number": one.number, "read": plain(one.read), "expected": plain(one.expected)}
            await self._recorder.keep(Kind.CONFLICT, data, part=one.part)
        if self.left.conflicts:
            numbers = " ".join(str(one.number) for one in self.left.conflicts)
            raise OffsetNotKept(
                f"{'; '.join(map(str, self.left.conflicts))}. Somebody else has changed that; nothing was written."
                f" To write over it, say so by number: {numbers}",
                state="resuming",
                done="no motion was ordered",
            )

    async def _mark_finished(self, standing: Standing) -> None:
        assert self._recorder is not None
        if self._finished is None:
            return
        names = self._finished or [name for name, one in standing.parts.items() if one.ended_well or one.writes]
        for name in names:
            one = standing.parts.get(name)
            if one is None:
                self.left.notes.append(f"{name!r} was never set, so it cannot be finished")
            elif not one.finished:
                await self._recorder.keep(Kind.FINISHED, {"offsets": sorted(one.writes)}, part=name)
                one.finished = True

    # ---- while it goes on -----------------------------------------------------------------------------

    def begin(self, part: Part) -> None:
        """Keep that a part begins; raises `NotRecorded`."""
        assert self._recorder is not None
        self._recorder.heading.part = part.name
        self._recorder.run_ended = False
        if self._follow:
            return
        data = {"digest": digest(part), "routine": part.kind, "tool": part.tool.name, "offsets": list(part.offsets)}
        if self.journal.failed:
            raise NotRecorded(self.journal.failed, state="recording", done="no motion was ordered")
        # Without anything after it this entry says nothing that matters, so it needs no flush of its own.
        self._recorder.keep_with_the_next(Kind.PART_BEGUN, data)

    async def end(self, fault: Fault | None) -> None:
        """Keep that the part begun last ended before any run of it was begun; raises `NotRecorded`."""
        assert self._recorder is not None
        if fault is not None and not self._recorder.run_ended and not self.journal.failed:
            await self._recorder.keep(Kind.ENDED, self._recorder.told(refused(fault)))

    async def close(self, *, released: bool, interrupted: bool, entries: Sequence[PartResult]) -> None:
        """Keep how the batch ended, where that is still possible."""
        if self._recorder is None:
            return
        self._recorder.heading.part = ""
        counts = {status.value: sum(entry.status is status for entry in entries) for status in Status}
        data = {"released": released, "interrupted": interrupted, "parts": counts}
        self._machine.recorder = None
        self._unsubscribe()
        if not self.journal.failed and not self._follow:
            await self._recorder.keep(Kind.BATCH_ENDED, data)


def last_life(journal: Journal, machine: str) -> int:
    """Return the life that a machine is in by the journal: where the unbroken trust in its position began."""
    rows = journal.query(
        f"""SELECT number, kind, life FROM entries
        WHERE machine = ? AND kind IN ('{Kind.BATCH_BEGUN.value}', '{Kind.TRUST_ENDED.value}')
        ORDER BY number DESC LIMIT 1""",
        machine,
    )
    if not rows:
        return 0
    number, kind, life = rows[0]
    return int(number if kind == Kind.TRUST_ENDED.value else life)


def last_verified(journal: Journal, machine: str, life: int) -> int:
    """Return the number of the latest entry of a life that says that a reference face is where it was; or 0."""
    rows = journal.query(
        f"""SELECT ifnull(max(number), 0) FROM entries
        WHERE machine = ? AND kind = '{Kind.VERIFIED.value}' AND life = ?""",
        machine,
        life,
    )
    return int(rows[0][0])


def unfinished(journal: Journal, job: Job, machine: str) -> str:
    """Return when an earlier run of this job was begun that did not come to its end, or nothing."""
    series = latest_series(journal, job, machine)
    if series is None:
        return ""
    last: Entry | None = next(iter(journal.entries(kind=Kind.BATCH_ENDED, series=series[0], last=1)), None)
    begun = journal.entries(kind=Kind.BATCH_BEGUN, series=series[0], last=1)[0]
    if last is not None and last.batch == begun.batch and not last.data["interrupted"]:
        return ""
    return series[1]


def _version() -> str:
    try:
        return version("gingerly")
    except PackageNotFoundError:
        return "unknown"
