"""What must be kept while a run goes on.

The driver awaits the recorder before each command and after each reply. A recorder that fails before a write
stops the run: the intent (old and new) is on record before a work offset changes, the outcome after it.
"""

from __future__ import annotations

from typing import Protocol

from gingerly.messages.commands import Command
from gingerly.messages.faults import NotRecorded
from gingerly.messages.outcome import Outcome
from gingerly.messages.replies import Reply


class Recorder(Protocol):
    """Keeps a run on record. Whatever it raises means that the record could not be kept."""

    async def before(self, command: Command) -> None:
        """Record what is about to be ordered."""
        ...

    async def after(self, command: Command, reply: Reply) -> None:
        """Record what came of it."""
        ...

    async def ended(self, outcome: Outcome) -> None:
        """Record how the run ended."""
        ...


def why_unkept(error: Exception) -> str:
    """Return in words why a record could not be kept."""
    return error.detail if isinstance(error, NotRecorded) else str(error)
