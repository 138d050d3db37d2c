"""The truth of a batch on a simulated machine: blanks are put on its table, and it tells where they truly lie."""

from __future__ import annotations

from dataclasses import replace

from gingerly.batch.truth import feature_for, routine_of, truth_for
from gingerly.driver.adapter import Scene, Simulated
from gingerly.geometry import Axis, Position
from gingerly.job import Part
from gingerly.messages.commands import AxisValues
from gingerly.routines import ToolChange, TopSpot
from gingerly.tool import Tool

SHARE = 0.9
"""The truth is drawn from this share of what the job allows for: plate, seat and edges take their part of it too.
Our own choice."""

NO_TOOL = Tool.pin(1.0, free_length=1.0, name="any")


class Stage:
    """Sets up one scene per part, and remembers where its stock's corner truly is (mm, for the part's tool)."""

    def __init__(self, world: Simulated, parts: tuple[Part, ...]) -> None:
        self._world = world
        self._blanks: dict[TopSpot, Part] = {}
        for part in parts:
            self._blanks.setdefault(_blank(part), part)
        self._true_corners: dict[str, Position] = {}

    def deepest(self, part: Part) -> float | None:
        """Return how deep the tool was pushed past a surface of this part, in mm; None if it was never set up."""
        return self._world.deepest_penetration if part.name in self._true_corners else None

    def set_up(self, part: Part, here: Position) -> None:
        """Put this part's blank on the table and its tool into the spindle; the tool stands at `here` (mm).

        What is touched at the same corner of the same place is the same blank, whatever the tool.
        """
        source = self._blanks[_blank(part)]
        spot, rehearsal = source.spot, source.rehearsal
        place = spot.place if isinstance(spot.place, Position) else spot.corner_place(here)
        corner = self._world.stage(
            Scene(
                name=source.name,
                place=place,
                corner=spot.corner,
                stock=spot.stock,
                tool=part.tool,
                plate=spot.plate,
                placement=spot.placement,
                within=SHARE * spot.within,
                skew=rehearsal.skew if rehearsal is not None else 0.0,
                lead_off_after=part.rehearsal.lead_off_after if part.rehearsal is not None else None,
                feature=feature_for(routine_of(part)),
            )
        )
        self._true_corners[part.name] = corner

    def truth(self, part: Part) -> AxisValues:
        """Return what this part's routine should find, in mm; empty where nobody knows."""
        corner = self._true_corners.get(part.name)
        if corner is None:
            return ()
        if not isinstance(part.routine, ToolChange):
            return truth_for(routine_of(part), corner, getattr(self._world, "true_skew", 0.0))
        if part.compare_with is None:
            return ((Axis.Z, corner.z + part.spot.thickness()),)
        before = self._true_corners.get(part.compare_with)
        return ((Axis.Z, corner.z - before.z),) if before is not None else ()


def _blank(part: Part) -> TopSpot:
    """What tells one blank from another: all of the spot but the tool, how well its place is known, and where on it."""
    return replace(part.spot, tool=NO_TOOL, within=0.0, at=None)
