"""Tool change: how much longer or shorter the new tool is, from one touch of a reference face with each.

The face is touched with the old tool first, which only records its height, then with the new one; the difference
is added to the Z of a named set of work offsets, all or none. The stock's own top face may be long gone.

::

          old │ │       │ │ new          each touches the same face: what lies between both contacts
              ▼ │       │ │              is the change in length, and shifts Z of all the offsets named
                ▼       ▼ ▼
        ═════════════════════  reference face
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Axis
from gingerly.messages.touches import Change, Finding, Setting, Step
from gingerly.routines.course import Faces, PlannedCourse, Site
from gingerly.routines.preflight import check_course
from gingerly.routines.top import TopSpot


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolChange:
    """Touch a reference face, and shift the Z of `offsets` by the change in tool length.

    `before` is the controlled point's machine Z (mm) at contact with the old tool, as this routine found it
    then; None records it for the next tool and writes nothing.

    Raises `ValueError` for a set that is empty, or names an offset twice or outside 1–9.
    """

    spot: TopSpot
    before: float | None = None
    offsets: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.before is not None and not self.offsets:
            raise ValueError("name at least one work offset that the tool change shifts")
        if len(set(self.offsets)) != len(self.offsets) or not all(1 <= number <= 9 for number in self.offsets):
            raise ValueError(f"the work offsets to shift must be different numbers from 1 to 9, not {self.offsets}")

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        self.spot.check()
        top = self.spot.touch(site, "reference face")
        course = PlannedCourse(
            name="tool change",
            tool=self.spot.tool,
            places=self.spot.places(),
            steps=(lambda faces: top, self._conclude),
            as_found=True,
        )
        stock_top = self.spot.corner_place(site.here).z
        return check_course(course, site, stock_top=stock_top, within=self.spot.within)

    def _conclude(self, faces: Faces) -> Step:
        height = faces[0].position.z
        if self.before is None:
            return Finding(((Axis.Z, height),))
        shift = height - self.before
        return Setting(tuple(Change(number, ((Axis.Z, shift),), relative=True) for number in self.offsets))
