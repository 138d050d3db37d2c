"""What a batch knows of heights: where faces were met that others are compared with, and how much tools differ.

Machine Z of the controlled point at the first contact, in mm; pure, nothing moves.
"""

from __future__ import annotations

from gingerly.geometry import Axis, Position
from gingerly.job import Job, Part
from gingerly.messages.commands import AxisValues
from gingerly.messages.outcome import Outcome
from gingerly.routines import Routine, ToolChange


class Heights:
    """The heights that one job needs: of the parts that a tool change names, whatever else is touched."""

    def __init__(self, job: Job) -> None:
        self._by_name = {part.name: part for part in job.parts}
        self._compared = frozenset(part.compare_with for part in job.parts)
        self._heights: dict[str, float] = {}
        self._longer: dict[str, float] = {}

    def __contains__(self, name: str | None) -> bool:
        return name in self._heights

    def adopt(self, part: Part, height: float, found: AxisValues) -> AxisValues:
        """Take over where an earlier batch met a part, and return what it found, a tool change's shift too."""
        self._heights[part.name] = height
        return self._shift(part, part.compare_with) if part.compare_with in self._heights else found

    def corrected(self, part: Part) -> Routine:
        """Return the part's routine with its place corrected by what is known of tools and faces by now.

        A tool change expects its face where the former tool met it; other parts stand higher by as much as their
        tool is longer than the first one.
        """
        if part.compare_with is None:
            return part.moved(self._longer.get(part.tool.name, 0.0)).routine
        height, place = self._heights[part.compare_with], part.spot.place
        assert isinstance(place, Position)
        return part.moved(height - part.spot.thickness() - place.z).compared(height)

    def found(self, part: Part, outcome: Outcome) -> AxisValues:
        """Remember where a run met the part's face, and return what it found: of a tool change the shift."""
        if not isinstance(part.routine, ToolChange):
            if outcome.faces and part.name in self._compared:
                self._heights[part.name] = outcome.faces[0].position.z
            return outcome.found
        height = self._heights[part.name] = outcome.faces[0].position.z
        return ((Axis.Z, height),) if part.compare_with is None else self._shift(part, part.compare_with)

    def _shift(self, part: Part, before: str | None) -> AxisValues:
        """Remember how much longer a new tool is than the one that it is compared with, and return that."""
        assert before is not None
        shift = self._heights[part.name] - self._heights[before]
        known = self._longer.get(self._by_name[before].tool.name, 0.0)
        self._longer[part.tool.name] = known + shift
        return ((Axis.Z, shift),)
