"""What a budget needs to know of one touch: which way it went, what was touched, and what its contacts showed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from gingerly.geometry import Axis, Point, Position
from gingerly.messages.touches import Face, Touch, TouchPlan
from gingerly.statistics.summary import Pooled, pooled


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedFace:
    """What a budget needs to know of one touch.

    `axis` and `inward` (+1 or −1) say which way it went; for a touch that goes obliquely in X and Y, as in a
    bore, `along` is the unit vector that its coordinate is counted along, and `axis` only says that it is no Z.
    `plan` holds the feeds and repeats, `observed` the scatter of single contacts pooled over this machine and
    axis, where there are any. `lip` names the plate's lip that was touched; `plate` says that its flat was (Z).
    `beside` is the distance in mm along the wall from the corner to the touch, with its sign, which skew acts
    on. `shortfall` is by how much stationary flutes may read short (`Tool.flute_shortfall`). `normal` is the unit
    vector into the wall in X and Y where it was met, for a round wall that a touch meets beside its middle: what
    the metal leaves open acts along it, and shifts the contact along the touch by 1/cos of the angle between.

    Raises `ValueError` for a direction that is none.
    """

    axis: Axis
    inward: int
    plan: TouchPlan
    along: Point | None = None
    observed: Pooled | None = None
    lip: str | None = None
    plate: bool = False
    beside: float = 0.0
    shortfall: float = 0.0
    normal: Point | None = None

    def __post_init__(self) -> None:
        if self.inward not in (-1, 1):
            raise ValueError(f"a face is touched along +1 or −1, not {self.inward}")
        if self.along is not None and abs(math.hypot(*self.along) - 1.0) > 1e-9:
            raise ValueError(f"an oblique direction must have length 1, not {math.hypot(*self.along):g}")

    @property
    def parts(self) -> tuple[tuple[Axis, float], ...]:
        """The machine's axes that the coordinate is made of, with their shares: the cosines of its direction."""
        if self.along is None:
            return ((self.axis, 1.0),)
        return tuple((axis, share) for axis, share in zip((Axis.X, Axis.Y), self.along, strict=True) if share)

    @property
    def across(self) -> Point:
        """How much a shift of the tool along X and Y shifts the coordinate."""
        if self.normal is not None:
            return self.normal[0] / self.lean, self.normal[1] / self.lean
        return self.way

    @property
    def lean(self) -> float:
        """The cosine of the angle between touch and wall, with the sign that `inward` gives it; else 1."""
        if self.normal is None:
            return 1.0
        (x, y), (normal_x, normal_y) = self.way, self.normal
        return x * normal_x + y * normal_y

    @property
    def way(self) -> Point:
        """The unit vector in X and Y that the coordinate counts along; zeros for one in Z."""
        shares = dict(self.parts)
        return shares.get(Axis.X, 0.0), shares.get(Axis.Y, 0.0)


def main_axis(direction: Position) -> Axis:
    """Return the axis that a direction mostly follows."""
    x, y, z = abs(direction.x), abs(direction.y), abs(direction.z)
    if x >= y and x >= z:
        return Axis.X
    return Axis.Y if y >= z else Axis.Z


def touched(touch: Touch, **more: Any) -> TouchedFace:
    """Return the face that a touch is about, its way taken from the touch; `more` as `TouchedFace` has it.

    A touch along an axis is counted along that axis, an oblique one in X and Y along its own direction. Raises
    `ValueError` for one that is oblique to Z.
    """
    direction = touch.direction
    main = main_axis(direction)
    if abs(direction[main]) > 1.0 - 1e-9:
        return TouchedFace(axis=main, inward=1 if direction[main] > 0.0 else -1, plan=touch.plan, **more)
    if abs(direction.z) > 1e-9:
        raise ValueError(f"a touch goes along Z or across it, not along {tuple(direction)}")
    return TouchedFace(axis=main, inward=1, along=(direction.x, direction.y), plan=touch.plan, **more)


def pooled_scatter(faces: Sequence[Face], earlier: Sequence[Sequence[float]] = ()) -> Pooled | None:
    """Return the scatter of single slow contacts, pooled over faces of one machine and axis (mm).

    `earlier` adds contacts' distances from earlier touches of the same machine and axis: three contacts alone
    have two degrees of freedom, and t at 95 % is then 4.3. None where no face has two slow contacts.
    """
    samples = [[contact.distance for contact in face.contacts[1:]] for face in faces]
    usable = [sample for sample in (*samples, *earlier) if len(sample) >= 2]
    return pooled(usable) if usable else None
