"""Tool diameter: how wide the tool is where it touches, from a rib or a block of known width.

::

       →│ known width │←        between the contacts lies the width and one whole diameter:
        │             │         radius errors and backlash are in it, as they are in every touch

With `half_turn` the operator then turns the spindle by half a turn, and both walls are touched once more: the middle
then lies elsewhere by twice the runout, the width stays as it was.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.budgets.doubts import NOTHING
from gingerly.geometry import Axis
from gingerly.messages.commands import Question
from gingerly.messages.touches import Finding, Measures, Step
from gingerly.routines.course import Faces, PlannedCourse, Site
from gingerly.routines.features import upon
from gingerly.routines.opposite import middle_of, span_of
from gingerly.routines.preflight import sought
from gingerly.routines.rib_middle import plan_standing
from gingerly.routines.top import TopSpot
from gingerly.units import positive_length


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolDiameter:
    """Touch both walls of a block `width` mm wide across `axis`, and find the tool's diameter; nothing is written.

    `width` is known from elsewhere, better than what is looked for. Left out, `centre` (mm inward from the
    stock's corner), `length` and `height` (mm) are the whole stock's.

    With `half_turn` the operator is asked, between two pairs of touches, to turn the spindle by half a turn: by hand,
    its drive off and locked out, the test lead still on. Found is then the runout's part along `axis` too (mm), and
    the diameter is the mean of both pairs. A turn that is 10° off leaves some 9 % of the part across `axis` in it.
    """

    spot: TopSpot
    width: float
    axis: Axis = Axis.X
    centre: tuple[float, float] | None = None
    length: float | None = None
    height: float | None = None
    half_turn: bool = False
    assure_lead: bool = True

    def __post_init__(self) -> None:
        positive_length(self.width, name="the known width")
        if self.axis is Axis.Z:
            raise ValueError("a tool's diameter shows across X or Y, not Z")
        object.__setattr__(self, "spot", upon(self.spot, self._middle()))

    def _middle(self) -> tuple[float, float]:
        stock = self.spot.stock
        return self.centre or (stock.size_x / 2.0, stock.size_y / 2.0)

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        stock, centre = self.spot.stock, self._middle()
        if self.axis is Axis.X:
            sizes = self.width, stock.size_y if self.length is None else self.length
        else:
            sizes = stock.size_x if self.length is None else self.length, self.width
        height = stock.proud if self.height is None else self.height
        rounds = (None, Question.TURN_HALF) if self.half_turn else (None,)
        course = plan_standing(
            self, site, "known width", (self.axis,), sizes, centre, height, self._conclude, rounds=rounds
        )
        return sought(course, radius=NOTHING)

    def _conclude(self, faces: Faces) -> Step:
        pairs = list(zip(faces[1::2], faces[2::2], strict=True))
        spans = [span_of(one, other, self.axis) for one, other in pairs]
        centres = [middle_of(one, other, self.axis) for one, other in pairs]
        measures: Measures = (
            ("diameter", sum(spans) / len(spans) - self.width),
            ("middle", sum(centres) / len(spans)),
        )
        if self.half_turn:
            measures = (*measures, (f"runout along {self.axis.name}", abs(centres[1] - centres[0]) / 2.0))
        return Finding((), measures)
