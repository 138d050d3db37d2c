"""The blank that is to be found: its size, and how high it stands."""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.units import length, positive_length


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A rectangular blank.

    `size_x` and `size_y` are its extent, `thickness` its height, and `jaw_height` how far jaws or a step reach
    up its sides from its underside; all in mm. `conductive` says that the stock itself can be touched.

    Raises `ValueError` for a size that cannot be.
    """

    size_x: float
    size_y: float
    thickness: float
    jaw_height: float = 0.0
    conductive: bool = False

    def __post_init__(self) -> None:
        for name in ("size_x", "size_y", "thickness"):
            object.__setattr__(self, name, positive_length(getattr(self, name), name=f"stock {name}"))
        object.__setattr__(self, "jaw_height", length(self.jaw_height, name="stock jaw_height"))
        if not 0.0 <= self.jaw_height < self.thickness:
            raise ValueError(
                f"stock jaw_height must lie from 0 to below the stock's thickness {self.thickness:g} mm,"
                f" not {self.jaw_height:g} mm"
            )

    @property
    def proud(self) -> float:
        """How far the stock stands proud of the jaws, or of the bed, in mm."""
        return self.thickness - self.jaw_height
