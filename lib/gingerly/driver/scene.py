"""What a simulated machine is to find on its table, told by the same spot that a routine will touch."""

from __future__ import annotations

from gingerly.driver.adapter import Scene
from gingerly.geometry import Position
from gingerly.routines import TopSpot


def scene_for(
    spot: TopSpot, here: Position, *, name: str, skew: float = 0.0, lead_off_after: int | None = None
) -> Scene:
    """Return the scene of one blank, with the tool standing at `here` (mm); `skew` in rad."""
    return Scene(
        name=name,
        place=spot.corner_place(here),
        corner=spot.corner,
        stock=spot.stock,
        tool=spot.tool,
        plate=spot.plate,
        placement=spot.placement,
        within=spot.within,
        skew=skew,
        lead_off_after=lead_off_after,
    )
