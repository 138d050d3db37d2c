"""What a batch keeps in the journal while it goes on: the driver's recorder, and the batch's own entries.

The driver awaits `before` and `after` around each command. Motions are only noted as whereabouts; questions,
intents and outcomes are on the disk before the run goes on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gingerly.driver.adapter import Simulated
from gingerly.driver.events import Event, FaceFound, RunStarted
from gingerly.driver.machine import Machine
from gingerly.geometry import ORIGIN, Position
from gingerly.journal.entry import Entry, Kind, axes, faces, fault, plain
from gingerly.journal.store import Journal
from gingerly.journal.whereabouts import Whereabouts
from gingerly.messages.commands import Answer, Ask, Command, Question, ReadOffset, Sense, Traverse, WriteOffset
from gingerly.messages.faults import (
    AlarmActive,
    ControllerRestarted,
    Fault,
    NotAsSet,
    PositionJumped,
    PositionUnknown,
    Standstill,
    TooEarly,
)
from gingerly.messages.outcome import Outcome
from gingerly.messages.replies import Answered, Arrived, Missed, OffsetRead, OffsetWritten, Reply, Seen, Touched
from gingerly.messages.snapshot import Snapshot
from gingerly.messages.touches import Face

UNTRUSTED = (ControllerRestarted, PositionJumped, PositionUnknown, TooEarly, AlarmActive, NotAsSet)
"""Faults after which the position that a machine tells proves nothing."""


def kept_as(machine: Machine) -> str:
    """Return the name under which the journal keeps a machine: a virtual one is never taken for the real one.

    A job is tried under the same name under which it is run later, and nothing that was set, or left on, there is
    true of the real machine.
    """
    return f"{machine.name} (virtual)" if isinstance(machine.adapter, Simulated) else machine.name


@dataclass(slots=True, kw_only=True)
class Heading:
    """What all entries of a batch have in common; `part` is the one that is being done."""

    machine: str
    job: str = ""
    part: str = ""
    batch: int = 0
    series: int = 0
    life: int = 0


class BatchRecorder:
    """Keeps the runs of one batch: a machine's recorder, whose `observe` is subscribed to its events."""

    def __init__(
        self, journal: Journal, whereabouts: Whereabouts, heading: Heading, *, offsets_readable: bool
    ) -> None:
        self.journal = journal
        self.heading = heading
        self._whereabouts = whereabouts
        self._readable = offsets_readable
        self._at = ORIGIN
        self._restarts = 0
        self._faces: tuple[Face, ...] = ()
        self._routine = ""
        self._written: dict[int, WriteOffset] = {}
        self._waiting: list[Entry] = []
        self.run_ended = False
        """Whether the end of a run has been kept since this was last set to False."""

    def observe(self, event: Event) -> None:
        """Remember the routine and the faces of the run that goes on."""
        if isinstance(event, RunStarted):
            self._routine, self._faces = event.routine, ()
            self._written.clear()
        elif isinstance(event, FaceFound):
            self._faces = (*self._faces, event.face)

    async def keep(self, kind: Kind, data: Mapping[str, Any], *, part: str | None = None) -> Entry:
        """Add an entry under the batch's heading; raises `NotRecorded` where it cannot be kept."""
        waiting, self._waiting = self._waiting, []
        return await self.journal.record(self._entry(kind, data, part), after=waiting)

    def keep_with_the_next(self, kind: Kind, data: Mapping[str, Any]) -> None:
        """Add an entry together with the next one: nothing is lost if the process dies before."""
        self._waiting.append(self._entry(kind, data, None))

    def _entry(self, kind: Kind, data: Mapping[str, Any], part: str | None) -> Entry:
        head = self.heading
        return Entry(
            kind=kind,
            machine=head.machine,
            job=head.job,
            part=head.part if part is None else part,
            batch=head.batch,
            series=head.series,
            life=head.life,
            data=data,
        )

    def stands(self, snapshot: Snapshot, *, cut_off: bool) -> None:
        """Note where the machine stands now; raises `OSError` where that cannot be kept."""
        self._at, self._restarts = snapshot.position, snapshot.restarts
        self._whereabouts.note(self._at, self._at, self._restarts, cut_off=cut_off)

    # ---- the driver's recorder ------------------------------------------------------------------------

    async def before(self, command: Command) -> None:
        """Keep the intent of a write; note where a motion leads."""
        if isinstance(command, Traverse | Sense):
            self._whereabouts.note(self._at, command.to, self._restarts, cut_off=True)
        elif isinstance(command, WriteOffset):
            before = self._written.get(command.number)
            self._written[command.number] = command
            data = {
                "number": command.number,
                "old": plain(command.old),
                "new": plain(command.new),
                "axes": axes(command.axes),
                "faces": faces(self._faces),
                "restores": before is not None and before.old == command.new,
            }
            await self.keep(Kind.INTENT, data)

    async def after(self, command: Command, reply: Reply) -> None:
        """Keep what was answered, and what a written work offset reads; note where a motion has ended."""
        match reply:
            case Arrived(rest) | Missed(rest) | Touched(_, rest):
                self.stands(rest, cut_off=True)
            case Seen(snapshot) if snapshot.idle and snapshot.position != self._at:
                self.stands(snapshot, cut_off=True)
        match command, reply:
            case Ask(question), _:
                await self._keep_answer(question, reply)
            case WriteOffset(number), OffsetWritten():
                if not self._readable:
                    await self._keep_outcome(number, None, "written, and cannot be read back")
            case WriteOffset(number), _:
                await self._keep_outcome(number, None, f"no confirmation: {type(reply).__name__}")
            case ReadOffset(number), OffsetRead(_, origin) if number in self._written:
                await self._keep_outcome(number, origin, "read back")

    async def ended(self, outcome: Outcome) -> None:
        """Keep how the run ended.

        Where it ended well and every work offset was read back, all that matters is on the disk already, and what is
        told besides goes there with the next entry.
        """
        on_record = self._readable and bool(self._written) and outcome.fault is None
        self._written.clear()
        # Where nobody saw it stand, the machine may still go on to the end of its last way: that stays on record.
        if outcome.position is not None and outcome.standstill is not Standstill.UNCONFIRMED:
            self._whereabouts.note(outcome.position, outcome.position, self._restarts, cut_off=False)
        if on_record:
            self.keep_with_the_next(Kind.ENDED, self.told(outcome))
        else:
            await self.keep(Kind.ENDED, self.told(outcome))
        self.run_ended = True
        if isinstance(outcome.fault, UNTRUSTED):
            await self.end_trust(outcome.fault)
        elif outcome.fault is None and self._routine.startswith("verify "):
            off = [name.removeprefix("off ") for name, _ in outcome.measures if name.startswith("off ")]
            await self.keep(Kind.VERIFIED, {"routine": self._routine, "axes": off})
        if outcome.released:
            await self.keep(Kind.RELEASED, {})

    def told(self, outcome: Outcome) -> dict[str, Any]:
        """Return how a run ended, as plain data."""
        return {
            "routine": self._routine,
            "standstill": outcome.standstill.value,
            "fault": fault(outcome.fault),
            "faces": faces(outcome.faces),
            "found": axes(outcome.found),
            "measures": dict(outcome.measures),
            "offsets": plain(outcome.offsets),
            "unconfirmed": list(outcome.unconfirmed),
            "waived": outcome.proof.waived if outcome.proof is not None else None,
            "released": outcome.released,
            "position": plain(outcome.position),
        }

    async def end_trust(self, why: Fault | str) -> None:
        """Keep that nothing set so far on this machine is believed any more."""
        told = why if isinstance(why, str) else f"{why.name}: {why.detail}"
        entry = await self.keep(Kind.TRUST_ENDED, {"why": told})
        self.heading.life = entry.number

    async def _keep_answer(self, question: Question, reply: Reply) -> None:
        answer = reply.answer if isinstance(reply, Answered) else None
        await self.keep(Kind.ASKED, {"question": question.value, "answer": plain(answer)})
        if question is Question.RELEASE and answer is Answer.YES:
            await self.keep(Kind.RELEASED, {}, part="")

    async def _keep_outcome(self, number: int, read: Position | None, how: str) -> None:
        meant = self._written[number]
        data = {"number": number, "old": plain(meant.old), "new": plain(meant.new), "read": plain(read), "how": how}
        await self.keep(Kind.OUTCOME, data)
