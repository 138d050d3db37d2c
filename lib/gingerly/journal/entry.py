"""One entry of the journal, and how messages become plain data fit for JSON.

Lengths in mm, angles in rad, times in seconds. A position is ``{"x": …, "y": …, "z": …}``; what nobody knows is
null.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import UTC, datetime
from enum import Enum
from typing import Any

from gingerly.geometry import Axis, Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.faults import Fault
from gingerly.messages.touches import Face


class Kind(Enum):
    """What an entry tells."""

    BATCH_BEGUN = "batch begun"
    """Machine, adapter, facts, versions, job, the work offsets as they were, whether the position is trusted."""
    PART_BEGUN = "part begun"
    ASKED = "asked"
    """A question and the answer to it; a waiver is an answer."""
    INTENT = "intent"
    """A work offset is about to be written: old, new, and the faces it rests on."""
    OUTCOME = "outcome"
    """What the work offset reads afterwards, or what went wrong."""
    ENDED = "ended"
    """How a part's run ended."""
    STATED = "stated"
    """How far off everything that a part's run found may be, at 95 %."""
    SETTLED = "settled"
    """A start after a crash has asked the controller which value stands."""
    CONFLICT = "conflict"
    """A work offset is not what the journal says; somebody else changed it."""
    OVERRULED = "overruled"
    """A person said that the work offset of a conflict may be written over."""
    ACCEPTED = "accepted"
    """A person said that the work offset of a conflict is right as it stands; nothing touched it."""
    FINISHED = "finished"
    """A person said that this part is done with: its work offset may be used again."""
    TRUST_ENDED = "trust ended"
    """From here on, nothing set before on this machine is believed."""
    VERIFIED = "verified"
    """A reference face was touched again, and is where it was: what was set before may be believed again."""
    RELEASED = "released"
    """A person confirmed that lead and plate are off the machine."""
    BATCH_ENDED = "batch ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry. `number` counts up; `at_s` are seconds since 1970 (UTC).

    `batch` is the number of the entry with which its batch began, `series` that of the first batch of a job that
    was resumed since, `life` that of the entry with which the unbroken trust in the machine's position began.
    """

    kind: Kind
    machine: str
    job: str = ""
    part: str = ""
    batch: int = 0
    series: int = 0
    life: int = 0
    data: Mapping[str, Any] = field(default_factory=dict)
    at_s: float = 0.0
    number: int = 0

    @property
    def when(self) -> str:
        """The date and time in UTC, to the second, as ISO 8601 writes it."""
        return datetime.fromtimestamp(self.at_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

    def plain(self) -> dict[str, Any]:
        """Return the entry as plain data."""
        return {
            "number": self.number,
            "at": self.when,
            "kind": self.kind.value,
            "machine": self.machine,
            "job": self.job,
            "part": self.part or None,
            "batch": self.batch,
            "series": self.series,
            "life": self.life,
            "data": dict(self.data),
        }


# ---- plain data ---------------------------------------------------------------------------------------------


def plain(thing: Any) -> Any:
    """Return `thing` (a message, a fact, a face) as plain data."""
    if thing is None or isinstance(thing, str | bool):
        return thing
    match thing:
        case Position():
            return {"x": round(thing.x, 6), "y": round(thing.y, 6), "z": round(thing.z, 6)}
        case Axis():
            return thing.name.lower()
        case Enum():
            return thing.value
        case Mapping():
            return {str(plain(key)): plain(value) for key, value in thing.items()}
        case tuple() | list() | frozenset():
            return [plain(one) for one in thing]
        case float():
            return thing if math.isfinite(thing) else None
        case int():
            return thing
    if is_dataclass(thing):
        return {each.name: plain(getattr(thing, each.name)) for each in fields(thing)}
    return str(thing)


def axes(values: AxisValues) -> dict[str, float]:
    """Return axes with a value each (mm) by their names."""
    return {axis.name.lower(): value for axis, value in values}


def axis_values(given: Mapping[str, float]) -> AxisValues:
    """Return what `axes` was given."""
    return tuple((Axis[name.upper()], float(value)) for name, value in given.items())


def position(given: Mapping[str, float] | None) -> Position | None:
    """Return a position (mm) from plain data; None from null."""
    return None if given is None else Position(given["x"], given["y"], given["z"])


def faces(found: tuple[Face, ...]) -> list[dict[str, Any]]:
    """Return faces with all their contacts as plain data."""
    return [
        {
            "touch": face.touch,
            "position": plain(face.position),
            "direction": plain(face.direction),
            "contacts": [
                {"position": plain(one.position), "feed": one.feed, "distance": one.distance}
                for one in face.contacts
            ],
        }
        for face in found
    ]


def fault(found: Fault | None) -> dict[str, Any] | None:
    """Return a fault as plain data."""
    if found is None:
        return None
    return {
        "name": found.name,
        "summary": found.summary,
        "detail": found.detail,
        "state": found.state,
        "position": plain(found.position),
        "done": found.done,
        "standstill": found.standstill.value,
        "code": found.code or None,
    }


def packed(data: Mapping[str, Any]) -> str:
    """Return data as the journal keeps it."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
