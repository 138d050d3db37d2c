"""What the faces of one run are worth: each corrected for what is one-sided, and each with its budget.

Pure: a judge knows the machine's facts and what is in doubt, and nothing of a run.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from gingerly.budgets.doubts import DEFAULTS, Doubts
from gingerly.budgets.sources import of_the_machine, of_the_metal
from gingerly.budgets.touched import TouchedFace, touched
from gingerly.geometry import Position
from gingerly.messages.facts import MachineFacts
from gingerly.messages.touches import Face, Touch
from gingerly.statistics.summary import Pooled
from gingerly.uncertainty.budget import Budget, combined

STAYS = ("form of the face", "spindle growth")
"""What is the same in two touches of one spot, with one tool or two."""


@lru_cache(maxsize=4096)
def face_budget(face: TouchedFace, facts: MachineFacts, doubts: Doubts = DEFAULTS) -> Budget:
    """Return the budget in mm of one face's coordinate, its sources signed as the package says."""
    return Budget(tuple(of_the_machine(face, facts, doubts)) + tuple(of_the_metal(face, doubts)))


def change_budget(face: TouchedFace, facts: MachineFacts, doubts: Doubts = DEFAULTS) -> Budget:
    """Return the budget in mm of the difference between two touches of one spot, as at a tool change.

    What both share cancels, and so does the form of the one spot; what each has for itself counts twice.
    """
    whole = face_budget(face, facts, doubts)
    own = Budget(tuple(source for source in whole.sources if source.name not in STAYS))
    return combined(((1.0, own), (-1.0, own)))


@dataclass(frozen=True, slots=True)
class Judge:
    """Judges the faces of one machine (`facts`) with what is in doubt besides (`doubts`)."""

    facts: MachineFacts
    doubts: Doubts = DEFAULTS

    def touched(self, touch: Touch, observed: Pooled | None = None) -> TouchedFace:
        """Return what a budget needs to know of a touch; raises `ValueError` for one oblique to Z."""
        metal = touch.metal
        return touched(
            touch,
            observed=observed,
            lip=metal.lip,
            plate=metal.plate,
            beside=metal.beside,
            shortfall=metal.shortfall,
        )

    def budget(self, touch: Touch, observed: Pooled | None = None) -> Budget:
        """Return the budget of the face that a touch finds (mm); `observed` is the scatter of its axis."""
        return face_budget(self.touched(touch, observed), self.facts, self.doubts)

    def corrected(self, touch: Touch, face: Face) -> Face:
        """Return the face where it lies on average, seen where it was found: half the seating gap on, and so on."""
        about = self.touched(touch)
        by = face_budget(about, self.facts, self.doubts).correction
        return face if by == 0.0 else shifted(face, about, by)


def shifted(face: Face, about: TouchedFace, by: float) -> Face:
    """Return the face with its coordinate `by` mm greater: along its axis, or along its own oblique direction."""
    way = Position(0.0, 0.0, 0.0).with_axes(dict(about.parts))
    return replace(face, position=face.position.plus(way.times(by)))
