"""What holds while the test lead is on one machine, and what ends it.

An attachment runs from the continuity check to the release. The proof of the circuit and the knowledge of the tool's
length outlive a run, so they live here; what voids them is said here too, and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gingerly.budgets.scatter import UNKNOWN, Scatter
from gingerly.cycle import Course
from gingerly.geometry import Axis, Position
from gingerly.messages.faults import Stands
from gingerly.messages.outcome import Outcome, Proof
from gingerly.messages.touches import Face
from gingerly.routines import PlannedCourse
from gingerly.tool import Tool


@dataclass(frozen=True, slots=True)
class Found:
    """The faces that one run found, and the metal between tool and stock where it touched from above (mm)."""

    course: PlannedCourse
    faces: tuple[Face, ...]
    metal: float

    @property
    def heights(self) -> tuple[float, ...]:
        """Machine Z (mm) of the faces that were found from above."""
        faces = self.course.corrected(self.faces)
        return tuple(face.position.z - self.metal for face in faces if face.direction.z < 0.0)


@dataclass(frozen=True, slots=True)
class Zero:
    """A work offset that was set in this connection: its `origin` as it stands now, and what was found for it.

    `axes` are those that were found; `shift` is how far the origin was moved in Z since, together with the faces,
    by tool changes (mm).
    """

    origin: Position
    axes: frozenset[Axis] = frozenset()
    found: tuple[Found, ...] = ()
    shift: float = 0.0

    @property
    def above(self) -> float | None:
        """How far the highest face that was found lies above the zero (mm).

        None where none was found from above, or where X and Y come from elsewhere, and with them what lies below.
        """
        heights = [height for one in self.found for height in one.heights]
        if not heights or not self.axes.issuperset((Axis.X, Axis.Y)):
            return None
        return max(heights) + self.shift - self.origin.z

    def shifted(self, origin: Position) -> Zero:
        """Return this zero where a tool change has put it."""
        return replace(self, origin=origin, shift=self.shift + origin.z - self.origin.z)

    def set_anew(self, origin: Position, axes: frozenset[Axis], found: Found) -> Zero:
        """Return this zero where a further run has put it; one that found Z replaces what was found before."""
        if Axis.Z in axes:
            return Zero(origin, self.axes | axes, (found,))
        return replace(self, origin=origin, axes=self.axes | axes, found=(*self.found, found))


class Attachment:
    """The test lead, the plate and the tool on one machine, as far as they are known; moves nothing.

    `on`: lead and plate must be thought to be on the machine. `proof`: that of the circuit, where one holds.
    `touched_with`: the tool that touched downwards last, whose length is therefore known. `zeros`: the work offsets
    that were set meanwhile, by number. `scatter`: how contacts on this machine are known to scatter by now. `tool`:
    the tool of the runs since the proof began.
    """

    def __init__(self) -> None:
        self.on = False
        self.proof: Proof | None = None
        self.touched_with: Tool | None = None
        self.tool: Tool | None = None
        self.zeros: dict[int, Zero] = {}
        self.scatter: Scatter = UNKNOWN

    def assume(self) -> None:
        """Think of lead and plate as on the machine; a proof that holds goes on holding."""
        self.on = True

    def void_proof(self) -> None:
        """Forget the proof: the plate was moved, or hands were at the circuit."""
        self.proof = self.tool = None

    def tool_changed(self) -> None:
        """Forget the proof and the tool's length."""
        self.void_proof()
        self.touched_with = None

    def begin_anew(self) -> None:
        """Forget all that somebody may have changed while nobody watched: after a reconnection or a restart."""
        self.tool_changed()
        self.zeros.clear()

    def use(self, tool: Tool | None) -> None:
        """Take note of the tool of the next run: another than before was changed, whether or not anybody said so."""
        if None not in (tool, self.tool) and tool != self.tool:
            self.tool_changed()
        self.tool = tool or self.tool

    def released(self) -> None:
        """Lead and plate are off: a person said so."""
        self.on = False
        self.void_proof()

    def remember(self, course: Course, outcome: Outcome, *, metal: float = 0.0) -> None:
        """Take over what a run leaves: its proof, whether it ended released, the tool's length, the scatter.

        `metal` is what lay between tool and stock where it touched from above (mm).
        """
        self.proof = outcome.proof
        self.on = self.on and not outcome.released
        if outcome.fault is not None:
            self.touched_with = None  # the tool may have been pushed up, or the position may be another
        if not isinstance(course, PlannedCourse):
            return
        self.scatter = self.scatter.grown(outcome.faces)
        if outcome.fault is None and any(face.direction.z < 0.0 for face in outcome.faces):
            self.touched_with = course.tool
        for offset in outcome.offsets:
            known = self.zeros.pop(offset.number, None)
            if offset.stands is not Stands.NEW or offset.new is None:
                continue
            if outcome.found:
                axes = frozenset(axis for axis, _ in outcome.found)
                found = Found(course, outcome.faces, metal)
                self.zeros[offset.number] = (known or Zero(offset.new)).set_anew(offset.new, axes, found)
            elif known is not None:  # nothing found, and yet set: a tool change has shifted it
                self.zeros[offset.number] = known.shifted(offset.new)
