"""The cycle at work: give it a reply, and it gives back the next command.

It does no I/O and knows no clock, so the same object is driven by asyncio, by a blocking script or by an
exhaustive explorer. Whoever drives it keeps one rule: after each reply, carry out the command that comes back,
until that is `Finish`; on `Unhandled`, stop the machine.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from transitions import EventData, Machine, MachineError

from gingerly.cycle.notes import observe, ordered
from gingerly.cycle.session import Session, Setup
from gingerly.cycle.states import ENDED, State
from gingerly.cycle.table import Row, expanded
from gingerly.cycle.triage import triage
from gingerly.messages.commands import Command
from gingerly.messages.replies import Reply, Started

# The library logs every step at INFO; at that level it costs more than the step itself.
logging.getLogger("transitions").setLevel(logging.WARNING)


@dataclass(frozen=True, slots=True)
class Unhandled:
    """The table has no row for this state and reply, or none of its conditions held; nothing has changed."""

    state: State
    reply: Reply


class Cycle:
    """The compiled table. One serves any number of sessions, since it keeps nothing of them."""

    def __init__(self, rows: Iterable[Row]) -> None:
        """Compile `rows`; raises `ValueError` for a row that leads out of an ended state."""
        self.rows = tuple(rows)
        for row in self.rows:
            if row.state in ENDED:
                raise ValueError(f"{row.state} is an end: no row may lead out of it")
        self.machine = Machine(
            model=None,
            states=State,
            initial=State.READY,
            transitions=[_transition(row) for row in self.rows],
            auto_transitions=False,
            send_event=True,
            queued=False,
        )

    def advance(self, session: Session, reply: Reply, elapsed_s: float | None = None) -> Command | Unhandled:
        """Return the next command, after `reply` to the last one; moves nothing itself.

        `elapsed_s` is how long the command took on the machine's clock, or None where nobody measured. On
        `Unhandled` the session is as it was.
        """
        found = triage(session, reply, elapsed_s)
        event = self.machine.events.get(type(found).__name__)
        try:
            fired = event is not None and event.trigger(session, found)
        except MachineError:
            fired = False
        if not fired:
            return Unhandled(session.state, found)
        assert session.command is not None
        return session.command

    def start(self, setup: Setup) -> tuple[Session, Command]:
        """Return a new session and its first command."""
        session = Session(setup)
        command = self.advance(session, Started())
        assert not isinstance(command, Unhandled)
        return session, command


def _transition(row: Row) -> dict[str, Any]:
    def applies(event: EventData) -> bool:
        return row.when(*_subject(event))

    def fire(event: EventData) -> None:
        session, reply = _subject(event)
        observe(session, reply)
        row.note(session, reply)
        session.command = row.order(session)
        ordered(session)

    return {
        "trigger": row.reply.__name__,
        "source": row.state,
        "dest": row.next,
        "conditions": [applies],
        "before": [fire],
    }


def _subject(event: EventData) -> tuple[Session, Reply]:
    session: Any = event.model
    arguments: Any = event.args
    return session, arguments[0]


@cache
def cycle() -> Cycle:
    """Return the one compiled cycle of this process; building it takes a few milliseconds."""
    return Cycle(expanded())
