"""Orders and replies in a few words, for a counterexample that a person can follow."""

from __future__ import annotations

from gingerly.cycle.triage import snapshot_of
from gingerly.messages.commands import Command, ReadOffset, Sense, Traverse, WriteOffset
from gingerly.messages.replies import OffsetRead, Reply, Touched


def short(thing: Command | Reply) -> str:
    """Return one order or reply in a few words: what kind, where to, and what a snapshot shows."""
    words = [type(thing).__name__]
    if isinstance(thing, Traverse | Sense):
        words.append(f"to {thing.to}")
    if isinstance(thing, Touched):
        words.append(f"at {thing.contact}")
    snapshot = None if isinstance(thing, Command) else snapshot_of(thing)
    if snapshot is not None:
        circuit = snapshot.circuit.value if snapshot.circuit is not None else "untold"
        words.append(f"({'idle' if snapshot.idle else 'moving'}, {circuit}, {snapshot.position})")
    for name in ("question", "answer"):
        if hasattr(thing, name):
            words.append(getattr(thing, name).value)
    if isinstance(thing, ReadOffset | WriteOffset | OffsetRead):
        words.append(str(thing.number))
    if isinstance(thing, WriteOffset):
        words.append(" ".join(f"{axis.name}{value}" for axis, value in thing.axes))
    if isinstance(thing, OffsetRead):
        words.append(f"as {thing.origin}")
    return " ".join(words)
