"""A batch's books: everything that it keeps in the journal, and what it learns from there before it begins.

Opened before anything moves: the work offsets are read, the machine's position is judged, and the beginning is on
record. Nothing here moves a machine; only a set of work offsets that was cut off half-written is put back.
"""

from __future__ import annotations

import platform
from collections.abc import Callable, Collection, Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from gingerly.batch.resume import RESUMING, Remainder, remainder, too_late
from gingerly.batch.standing import Standing, digest, identity, latest_series, read
from gingerly.batch.summary import PartResult, Status
from gingerly.driver.adapter import Simulated
from gingerly.driver.machine import Machine
from gingerly.driver.result import Result, refused
from gingerly.geometry import Position
from gingerly.job import Job, Part
from gingerly.journal.entry import Entry, Kind, plain
from gingerly.journal.history import maybe_attached
from gingerly.journal.recorder import BatchRecorder, Heading, kept_as
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
    although somebody else changed them, `accept` parts whose work offset is right as somebody else has left it,
    `finished` parts that are done with (None: nothing, empty: all that are
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
        accept: Collection[str] = (),
        finished: Sequence[str] | None = None,
        follow: bool = False,
    ) -> None:
        if not resume and (overwrite or accept or finished is not None):
            raise ValueError("overwrite, accept and finished say how to resume; without resume they mean nothing")
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
        self._accept = frozenset(accept)
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
        machine, heading = self._machine, Heading(machine=kept_as(self._machine), job=identity(self._job))
        standing = read(self.journal, self._job, heading.machine) if self._resume else None
        snapshot = await machine.look()
        now = await self._offsets()
        whereabouts = self.journal.whereabouts(heading.machine)
        last = whereabouts.last()
        why = doubt(last, snapshot, machine.facts)
        heading.series = standing.series if standing is not None else 0
        heading.life = 0 if why else last_life(self.journal, heading.machine)
        if maybe_attached(self.journal, heading.machine):
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
        self._drop_what_has_moved(standing)
        self.resumed, self.last_tool = True, standing.last_tool
        left = remainder(
            self._job,
            standing,
            now,
            life=heading.life,
            verified=last_verified(self.journal, heading.machine, heading.life, _axes(standing)),
            overwrite=self._overwrite,
            accept=self._accept,
        )
        self.left = left = self._with_notes(left)
        await self._keep_what_was_settled(left, standing, now)
        await self._refuse_conflicts()
        late = too_late(self._job, left)
        if late is not None:
            part, change = late
            raise UnsuitableTool(
                f"{part.name} needs {part.tool.name!r}, and the tool was changed since ({change.name}): its height"
                " would not fit those of the other parts",
                state=RESUMING,
                advice="Begin anew without resuming.",
                done="no motion was ordered",
            )
        if left.doubted:
            told = ", ".join(left.doubted[:9]) + (" …" if len(left.doubted) > 9 else "")
            raise PositionUnknown(
                f"{why or 'the trust in the position has ended since'}; {VERIFY_FIRST} ({told})",
                state=RESUMING,
                advice="Touch a face again with `gingerly verify`; where it is where it was, resume again.",
                done="no motion was ordered",
            )

    def _drop_what_has_moved(self, standing: Standing) -> None:
        """A part that was verified since and not found where it was set counts as never set."""
        for name, number in not_as_set(self.journal, kept_as(self._machine), identity(self._job)).items():
            before = standing.parts.get(name)
            if before is not None and not before.finished and number > before.number:
                self.left.notes.append(f"{name}: it was verified and is not where it was set; it is done again")
                del standing.parts[name]

    async def _keep_what_was_settled(self, left: Remainder, standing: Standing, now: dict[int, Position]) -> None:
        """Keep what the controller has settled, and what a person has said of work offsets that others changed."""
        assert self._recorder is not None
        recorder = self._recorder
        for name, number, write, stands in left.settled:
            data = {"number": number, "old": plain(write.old), "new": plain(write.new), "stands": stands}
            await recorder.keep(Kind.SETTLED, {**data, "read": plain(now[number])}, part=name)
        for number in sorted(self._overwrite & set(now)):
            data = {"number": number, "read": plain(now[number])}
            await recorder.keep(Kind.OVERRULED, data, part=standing.by.get(number, ""))
        digests = {part.name: digest(part) for part in self._job.parts}
        for one in left.accepted:
            data = {"number": one.number, "read": plain(one.read), "expected": plain(one.expected)}
            await recorder.keep(Kind.ACCEPTED, {**data, "digest": digests[one.part]}, part=one.part)

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
            names = " ".join(dict.fromkeys(repr(one.part) for one in self.left.conflicts))
            raise OffsetNotKept(
                f"{'; '.join(map(str, self.left.conflicts))}. Somebody else has changed that; nothing was written."
                f" To write over it, say so by number: {numbers} (--overwrite)."
                f" To take what stands there as it is, say so by part: {names} (--accept)",
                state=RESUMING,
                advice="Read these work offsets at the controller, and ask who has changed them.",
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

    async def end_trust(self, why: str) -> None:
        """Keep that nothing set so far on this machine is believed any more, and where it stands now."""
        if self._recorder is None:
            return
        await self._recorder.end_trust(why)
        self._note_where(await self._machine.look())

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

    async def end(self, fault: Fault | None, result: Result | None = None) -> None:
        """Keep how sure the part begun last is, or that it ended before any run of it began; raises `NotRecorded`."""
        assert self._recorder is not None
        if result is not None and result.statements and not self._follow:
            stated = {
                name: {"half_width": round(one.half_width, 9), "probability": one.probability}
                for name, one in result.statements.items()
            }
            self._recorder.keep_with_the_next(Kind.STATED, {"statements": stated})
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


def last_verified(journal: Journal, machine: str, life: int, axes: Collection[str]) -> int:
    """Return the number of the entry of a life by which faces across all of `axes` were found where they were; or 0."""
    rows = journal.query(
        f"""SELECT number, json_extract(data, '$.axes') FROM entries
        WHERE machine = ? AND kind = '{Kind.VERIFIED.value}' AND life = ? ORDER BY number""",
        machine,
        life,
    )
    latest = dict.fromkeys(axes, 0)
    for number, seen in rows:
        latest |= {axis: int(number) for axis in axes if axis in (seen or "")}
    return min(latest.values(), default=0)


def not_as_set(journal: Journal, machine: str, job: str) -> dict[str, int]:
    """Return the parts of a job that were verified and not found where they were set, each with its latest entry."""
    rows = journal.query(
        f"""SELECT part, max(number) FROM entries WHERE machine = ? AND job = ? AND kind = '{Kind.ENDED.value}'
        AND json_extract(data, '$.fault.name') = 'NotAsSet' GROUP BY part""",
        machine,
        job,
    )
    return {str(part): int(number) for part, number in rows}


def _axes(standing: Standing) -> set[str]:
    """Return the axes in which the parts of a job were found."""
    return {axis.name for one in standing.parts.values() for axis, _ in one.found}


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
