"""What the faces of one run are worth: each corrected for what is one-sided, and each with its budget.

Pure: a judge knows the machine's facts and what is in doubt, and nothing of a run.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from gingerly.budgets.doubts import DEFAULTS, Doubts
from gingerly.budgets.sources import of_the_machine, of_the_metal, of_the_storage
from gingerly.budgets.touched import TouchedFace, touched
from gingerly.geometry import Point, Position
from gingerly.messages.facts import MachineFacts
from gingerly.messages.touches import Face, Touch
from gingerly.statistics.summary import Pooled
from gingerly.uncertainty.budget import Budget, combined

ALONG = (Position(1.0, 0.0, 0.0), Position(0.0, 1.0, 0.0), Position(0.0, 0.0, 1.0))
"""The directions of the axes."""

STAYS = ("form of the face", "spindle growth")
"""What is the same in two touches of one spot, with one tool or two."""


MOST = 512
"""So many budgets are remembered for one machine and its doubts. Our own choice."""


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


Known = dict[TouchedFace, tuple[Budget, float]]
"""Budgets, each with its correction (mm), by what they are the budgets of."""


@lru_cache(maxsize=8)
def _known_budgets(facts: MachineFacts, doubts: Doubts) -> Known:
    """Return where the budgets of one machine are remembered: to hash its facts for each face would cost more."""
    return {}


@dataclass(frozen=True, slots=True)
class Judge:
    """Judges the faces of one machine (`facts`) with what is in doubt besides (`doubts`)."""

    facts: MachineFacts
    doubts: Doubts = DEFAULTS
    _known: Known = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_known", _known_budgets(self.facts, self.doubts))

    def touched(self, touch: Touch, observed: Pooled | None = None, normal: Point | None = None) -> TouchedFace:
        """Return what a budget needs to know of a touch; raises `ValueError` for one oblique to Z."""
        metal = touch.metal
        return touched(
            touch,
            observed=observed,
            lip=metal.lip,
            plate=metal.plate,
            beside=metal.beside,
            shortfall=metal.shortfall,
            normal=normal,
        )

    def budget(self, touch: Touch, observed: Pooled | None = None, normal: Point | None = None) -> Budget:
        """Return the budget of the face that a touch finds (mm).

        `observed` is the scatter of its axis, `normal` the way into a round wall where it was met.
        """
        return self._judged(self.touched(touch, observed, normal))[0]

    def stored(self, budget: Budget) -> Budget:
        """Return the budget of a coordinate after a work offset has kept it, rounded."""
        return Budget((*budget.sources, of_the_storage(self.facts)))

    def _judged(self, about: TouchedFace) -> tuple[Budget, float]:
        found = self._known.get(about)
        if found is None:
            if len(self._known) >= MOST:
                self._known.clear()
            budget = face_budget(about, self.facts, self.doubts)
            found = self._known[about] = budget, budget.correction
        return found

    def corrected(self, touch: Touch, face: Face) -> Face:
        """Return the face where it lies on average, seen where it was found: half the seating gap on, and so on."""
        about = self.touched(touch)
        by = self._judged(about)[1]
        return face if by == 0.0 else shifted(face, about, by)


def shifted(face: Face, about: TouchedFace, by: float) -> Face:
    """Return the face with its coordinate `by` mm greater: along its axis, or along its own oblique direction."""
    way = ALONG[about.axis] if about.along is None else Position(*about.along, 0.0)
    return Face(face.touch, face.position.plus(way.times(by)), face.direction, face.contacts)
