"""Whether an answer has the form that the contract gives it: types, finite numbers, members of the right enum."""

from __future__ import annotations

from gingerly.geometry import Position
from gingerly.messages.snapshot import Circuit, InForce, Snapshot, Spindle


def flaw_of_position(place: object) -> str:
    """Return what is wrong with the form of a position, or nothing."""
    if not isinstance(place, Position):
        return f"is a {type(place).__name__}, not a Position"
    if any(isinstance(value, bool) or not isinstance(value, int | float) for value in place):
        return f"holds {tuple(place)!r}, which are not three numbers"
    if not place.is_finite():
        return f"holds {tuple(place)!r}, which are not three finite numbers"
    return ""


def flaw_of_snapshot(found: object) -> str:
    """Return what is wrong with the form of a snapshot, or nothing."""
    if not isinstance(found, Snapshot):
        return f"that is a {type(found).__name__}, not a Snapshot"
    if flaw := flaw_of_position(found.position):
        return f"its position {flaw}"
    if not isinstance(found.idle, bool):
        return "idle must be True or False"
    if isinstance(found.restarts, bool) or not isinstance(found.restarts, int) or found.restarts < 0:
        return "restarts must be a whole number, 0 or more"
    wanted = {
        "alarm": bool,
        "circuit": Circuit,
        "spindle": Spindle,
        "homed": bool,
        "in_force": InForce,
    }
    for name, kind in wanted.items():
        value = getattr(found, name)
        if value is not None and not isinstance(value, kind):
            return f"{name} is {value!r}, neither None nor a {kind.__name__}"
    return ""
