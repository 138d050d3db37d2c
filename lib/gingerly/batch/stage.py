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
"""Stands for any tool; its sizes are never used."""


class Stage:
    """Sets up one scene per part, and remembers where its stock's corner truly is (mm, for the part's tool).

    Parts that say that they lie on the same blank, at whichever corner, are touched on the very same one, unless
    one of them brings a new blank.
    """

    def __init__(self, world: Simulated, parts: tuple[Part, ...]) -> None:
        self._world = world
        self._first = _first_on_blank(parts)
        self._compared = frozenset(part.compare_with for part in parts)
        self._true_corners: dict[str, Position] = {}

    def deepest(self, part: Part) -> float | None:
        """Return how deep the tool was pushed past a surface of this part, in mm; None unless it was set up last."""
        return self._world.deepest_penetration if part.name in self._true_corners else None

    def set_up(self, part: Part, here: Position) -> None:
        """Put this part's blank on the table and its tool into the spindle; the tool stands at `here` (mm)."""
        first = self._first.get(part.name, part)
        if part.spot.corner is first.spot.corner:
            corner = self._world.stage(self._scene(part, first, _place(first, here), within=first.spot.within))
        else:
            corner = self._other_corner(part, first, here)
        compared = {name: true for name, true in self._true_corners.items() if name in self._compared}
        self._true_corners = {**compared, part.name: corner}

    def _scene(self, part: Part, first: Part, place: Position, *, within: float) -> Scene:
        """Return the scene of a part on the blank of the first part that lies there."""
        spot = part.spot
        return Scene(
            name=first.name,
            place=place,
            corner=spot.corner,
            stock=spot.stock,
            tool=part.tool,
            plate=spot.plate,
            placement=spot.placement,
            within=SHARE * within,
            skew=first.staged.skew if first.staged is not None else 0.0,
            lead_off_after=part.staged.lead_off_after if part.staged is not None else None,
            feature=feature_for(routine_of(part)),
        )

    def _other_corner(self, part: Part, first: Part, here: Position) -> Position:
        """Set the stage at another corner of a blank, and return where that corner truly is (mm)."""
        at_first = replace(part.spot, corner=first.spot.corner)
        known = self._scene(part.with_spot(at_first), first, _place(first, here), within=first.spot.within)
        true_first = self._world.stage(known)
        turn = getattr(self._world, "true_skew", 0.0)
        # What the tool is longer than the first one stands in every corner that is told, and must not count twice.
        nominal = _place(part, here)
        longer = self._world.stage(self._scene(part, first, nominal, within=0.0)).z - nominal.z
        away = _aside(part.spot).minus(_aside(first.spot)).turned(turn)
        place = true_first.plus(away).minus(Position(0.0, 0.0, longer))
        return self._world.stage(self._scene(part, first, place, within=0.0))

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


def _place(part: Part, here: Position) -> Position:
    spot = part.spot
    return spot.place if isinstance(spot.place, Position) else spot.corner_place(here)


def _aside(spot: TopSpot) -> Position:
    """How far a spot's corner lies from the front left one, in mm."""
    inward, stock = spot.corner.inward, spot.stock
    return Position(stock.size_x if inward[0] < 0.0 else 0.0, stock.size_y if inward[1] < 0.0 else 0.0, 0.0)


def _first_on_blank(parts: tuple[Part, ...]) -> dict[str, Part]:
    """Return the first part on the same blank, by part; those that are the first themselves are left out.

    A blank is told from others by its size and by where its front left corner is expected.
    """
    newest: dict[tuple[object, ...], Part] = {}
    found: dict[str, Part] = {}
    if len(parts) == 1:  # as in most rehearsals
        return found
    for part in parts:
        place = part.spot.place
        if isinstance(place, Position):
            front = place.minus(_aside(part.spot))
            stock = replace(part.spot.stock, conductive=False)  # bare or insulated, it is the same blank
            key: tuple[object, ...] = (stock, *(round(value, 3) for value in front))
        else:
            key = (replace(part.spot, tool=NO_TOOL, within=0.0, at=None),)
        if part.new_blank or key not in newest:
            newest[key] = part
        else:
            found[part.name] = newest[key]
    return found
