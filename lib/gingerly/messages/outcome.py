"""What a run leaves behind: the proof of the circuit, the faces, the offsets, and the fault if there was one."""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.faults import Fault, OffsetState, Standstill
from gingerly.messages.touches import Face, Measures, Place


@dataclass(frozen=True, slots=True)
class Proof:
    """The circuit was seen open, seen closed at `places`, and seen steadily open again.

    It holds from the continuity check to the release of the test lead, and is void after a fault, a restart,
    a reconnection, a tool change or a plate move. `waived` says that a person at the run went without.
    """

    places: frozenset[Place]
    restarts: int
    waived: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a run ended.

    `fault` is None where it ended well. `offsets` are the work offsets it meant to write, `found` the axes of
    the origin it found (mm), `measures` what it found besides (by name, in mm or rad), `released` whether a
    person confirmed that lead and plate are off, `unconfirmed` every reason, in words, why the result is less
    sure than usual, `proof` what the next run may rely on.
    """

    fault: Fault | None
    standstill: Standstill
    faces: tuple[Face, ...]
    touches: int
    found: AxisValues
    offsets: tuple[OffsetState, ...]
    released: bool
    unconfirmed: tuple[str, ...]
    proof: Proof | None
    position: Position | None
    measures: Measures = ()
