"""How deep a tool may stand beside a wall when it touches it, and how hard it would push where the lead is off.

The rules of a safe touch, each as a small function. Depths are in mm, measured downward from the upper edge of
the wall (the plate's top, or the stock's own) to the tool's tip. Nothing here moves, and nothing here knows
where on the machine the wall stands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.tool import Tip, Tool
from gingerly.units import length, positive_length

MARGIN = 1.0
"""Millimetres kept from every limit of the depth: common practice, no source."""


@dataclass(frozen=True, slots=True)
class DepthRange:
    """The depths (mm) at which the tool may touch a wall, and which limit rules each end, in words.

    `low` is infinite where no depth is enough; the range is empty where `low` lies above `high`.
    """

    low: float
    high: float
    low_because: str
    high_because: str

    @property
    def room(self) -> float:
        """How many mm there are to choose from; negative: how many are missing."""
        return self.high - self.low

    @property
    def refusal(self) -> str | None:
        """Which number is wrong and by how much, as one sentence; None where there is room."""
        if self.room >= 0.0:
            return None
        if math.isinf(self.low):
            return f"no depth is enough: {self.low_because}"
        return (
            f"the tip must stand at least {self.low:.3f} mm below the wall's edge ({self.low_because}), but may"
            f" stand at most {self.high:.3f} mm below it ({self.high_because}): {-self.room:.3f} mm are missing"
        )


def side_depth(
    tool: Tool,
    *,
    chamfer: float,
    wall_height: float,
    flute_faced: bool,
    face_height: float = math.inf,
    standing: float = 0.0,
) -> DepthRange:
    """Return the depths at which `tool` may touch a wall.

    `chamfer` is the broken edge at the top of the wall, and `wall_height` the height of that edge above jaw or
    bed; `face_height` how far down the touched face itself reaches (a lip's height), and `standing` how far
    anything stands above the edge where clip or nut pass. `flute_faced` says that a flute was turned to the
    wall, so that the flutes need not cover the whole circumference. All in mm.

    At the low end max(chamfer, tip height, flute cover) + 1, and never less than the three together need on a
    wall whose edge is broken; at the high end min(free length, clip or nut − 1, wall height − 1). Raises
    `ValueError` for a length that is not finite, or negative where that cannot be.
    """
    chamfer, standing = (
        _no_less_than_nothing(chamfer, "chamfer"),
        _no_less_than_nothing(standing, "standing height"),
    )
    wall_height = length(wall_height, name="wall height")
    if face_height != math.inf:
        face_height = positive_length(face_height, name="face height")
    low, low_because = _least_depth(tool, chamfer, face_height, 0.0 if flute_faced else tool.flute_cover)
    high, high_because = _greatest_depth(tool, wall_height, standing)
    return DepthRange(low, high, low_because, high_because)


def _no_less_than_nothing(value: float, name: str) -> float:
    found = length(value, name=name)
    if found < 0.0:
        raise ValueError(f"a {name} must not be negative, and is {found:g} mm")
    return found


def _least_depth(tool: Tool, chamfer: float, face_height: float, cover: float) -> tuple[float, str]:
    if cover > 0.0 and math.isinf(cover):
        return math.inf, "straight flutes never cover the whole circumference; turn a flute to face the wall"
    if cover > face_height - chamfer:
        return math.inf, (
            f"the flutes cover the whole circumference over {cover:.3f} mm only, and the touched face is"
            f" {face_height - chamfer:.3f} mm high: {cover - face_height + chamfer:.3f} mm too little"
        )
    tip = tool.tip_height
    limits = [
        (chamfer + MARGIN, f"its edge is broken by {chamfer:.3f} mm, and {MARGIN:g} mm is kept"),
        (tip + MARGIN, f"the tool has its full diameter from {tip:.3f} mm up, and {MARGIN:g} mm is kept"),
        (
            cover + MARGIN,
            f"the flutes cover the whole circumference over {cover:.3f} mm, and {MARGIN:g} mm is kept",
        ),
        (chamfer + tip + cover, f"broken edge, tip and flutes take {chamfer:.3f} + {tip:.3f} + {cover:.3f} mm"),
    ]
    return max(limits, key=lambda limit: limit[0])


def _greatest_depth(tool: Tool, wall_height: float, standing: float) -> tuple[float, str]:
    limits = [
        (wall_height - MARGIN, f"the wall ends {wall_height:.3f} mm down, and {MARGIN:g} mm is kept"),
        (tool.free_length, f"the tool is free up to {tool.free_length:.3f} mm"),
    ]
    over = f", over what stands {standing:.3f} mm up" if standing > 0.0 else ""
    for name, height, _ in tool.obstructions:
        because = f"the {name} begins {height:.3f} mm above the tip, and {MARGIN:g} mm is kept{over}"
        limits.append((height - standing - MARGIN, because))
    return min(limits, key=lambda limit: limit[0])


def side_objections(tool: Tool, *, depth: float = 0.0) -> tuple[str, ...]:
    """Return, in words and numbers, why `tool` cannot touch a wall with its tip `depth` mm below the edge.

    At depth 0 only what holds at every depth is named.
    """
    found = []
    if tool.tip is Tip.V:
        angle = math.degrees(tool.v_angle)
        found.append(f"a V tip of {angle:g}° meets a wall on its slope, at no known radius")
    for name, height, radius in tool.obstructions:
        if height < depth:
            found.append(
                f"the {name} begins {height:.3f} mm above the tip and would strike the wall before the flank does:"
                f" it reaches {radius - tool.radius:.3f} mm further out, {depth - height:.3f} mm below the edge"
            )
    if tool.free_length < depth:
        found.append(
            f"the tool is free up to {tool.free_length:.3f} mm above the tip only, and what comes next would"
            f" stand {depth - tool.free_length:.3f} mm below the edge"
        )
    return tuple(found)


def top_note(tool: Tool) -> str | None:
    """Return what to heed when `tool` touches a flat from above, as one sentence; None for an ordinary tip."""
    if tool.tip is not Tip.HOLLOW:
        return None
    return (
        "no edge reaches the centre of this tool: bring the middle of a cutting edge over the spot,"
        f" {tool.spot_offset:.3f} mm beside the axis"
    )


def blind_push(uncertainty: float, margin: float, extra: float = 0.0) -> float:
    """Return how many mm the tool pushes into the metal, at worst, where the circuit never closes.

    A sense ends `uncertainty` + `margin` mm beyond the expected face; the real face may lie another
    `uncertainty` nearer. `extra` is what the sense goes deeper for any other reason.
    """
    return 2.0 * uncertainty + margin + extra
