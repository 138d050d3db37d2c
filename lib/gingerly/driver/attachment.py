"""What holds while the test lead is on one machine, and what ends it.

An attachment runs from the continuity check to the release. The proof of the circuit and the knowledge of the tool's
length outlive a run, so they live here; what voids them is said here too, and nowhere else.
"""

from __future__ import annotations

from gingerly.budgets.scatter import UNKNOWN, Scatter
from gingerly.cycle import Course
from gingerly.messages.outcome import Outcome, Proof
from gingerly.routines import PlannedCourse
from gingerly.tool import Tool


class Attachment:
    """The test lead, the plate and the tool on one machine, as far as they are known; moves nothing.

    `on`: lead and plate must be thought to be on the machine. `proof`: that of the circuit, where one holds.
    `touched_with`: the tool that touched downwards last, whose length is therefore known. `scatter`: how contacts
    on this machine are known to scatter by now.
    """

    def __init__(self) -> None:
        self.on = False
        self.proof: Proof | None = None
        self.touched_with: Tool | None = None
        self.scatter: Scatter = UNKNOWN

    def assume(self) -> None:
        """Think of lead and plate as on the machine; a proof that holds goes on holding."""
        self.on = True

    def void_proof(self) -> None:
        """Forget the proof: the plate was moved, or hands were at the circuit."""
        self.proof = None

    def tool_changed(self) -> None:
        """Forget the proof and the tool's length."""
        self.proof = None
        self.touched_with = None

    def released(self) -> None:
        """Lead and plate are off: a person said so."""
        self.on = False
        self.proof = None

    def remember(self, course: Course, outcome: Outcome) -> None:
        """Take over what a run leaves: its proof, whether it ended released, the tool's length, the scatter."""
        self.proof = outcome.proof
        self.on = self.on and not outcome.released
        if not isinstance(course, PlannedCourse):
            return
        self.scatter = self.scatter.grown(outcome.faces)
        if outcome.fault is None and any(face.direction.z < 0.0 for face in outcome.faces):
            self.touched_with = course.tool
