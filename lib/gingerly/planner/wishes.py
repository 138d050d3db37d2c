"""What a person fixes of a plan, and what the planner is to reach with the rest."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What a person fixes of a plan; None leaves the choice to the planner.

    Feeds in mm/min, lengths in mm. `retouches` slow contacts are wanted (two, where nobody says otherwise),
    `extras` more are allowed. `uncertainty` is the standard uncertainty in mm that touching alone may add to a
    face: with it the planner looks for the fastest plan that keeps it. Three extras are our own choice.
    """

    fast_feed: float | None = None
    slow_feed: float | None = None
    back_off: float | None = None
    spread: float | None = None
    uncertainty: float | None = None
    retouches: int | None = None
    extras: int = 3

    def __post_init__(self) -> None:
        for name in ("fast_feed", "slow_feed", "back_off", "spread", "uncertainty"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value < 1e6:
                raise ValueError(f"{name} must be greater than 0, not {value!r}")
        # Bounds that catch slips: our own choice.
        for name, most in (("retouches", 50), ("extras", 50)):
            value = getattr(self, name)
            if value is not None and not 0 <= value <= most:
                raise ValueError(f"{name} must lie from 0 to {most}, not {value!r}")


ANY = Wishes()
