"""How the practice controller misbehaves on request.

A `Mischief` is plain data. Those on replies (drop, delay, garble, duplicate, split, interleave) name `which`
meaning they spoil and the `nth` of it; those at a moment (reset, hang up, and whatever the virtual machine can
suffer) name the `motion` by its number and the `share` of its time, or put themselves off by `in_s`; without
either they happen at once. `write ignored` and `write wrong` spoil the `nth` work offset written; `silence` leaves
the next requests without an answer, `times` of them, at most until a stop; `refuse` refuses the next lines;
`stops short` ends the next motion `amount` mm early. A key that would do nothing is refused.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from gingerly import units
from gingerly_mock.faults import STATES, What
from gingerly_mock.mishaps import EFFECTS

ON_REPLIES = ("drop", "delay", "garble", "duplicate", "split", "interleave")
SAID = ("any", "greeting", "accepted", "done", "refused", "alarm", "state", "contact", "missed", "offset")
"""What the practice controller says, as a profile calls it."""

ON_WRITES = ("write ignored", "write wrong")
ON_REQUESTS = ("silence", "refuse")
BY_ITSELF = ("reset", "hang up", "stuck closed", "stuck open", "unstick")
NOT_TOLD = (What.CIRCUIT_UNKNOWN, What.RESTART, What.RESTART_FORGETTING, What.ALARM_ON_MISS)
"""What the virtual machine can suffer and its practice controller cannot show; a restart is its `reset`."""

SUFFERED = tuple(what.value for what in EFFECTS if what not in NOT_TOLD)
SIZED = ("chip", "noise", "plate slides", "plate lifts", "position jump", "lost steps", "foreign state")
AT_A_MOMENT = frozenset({"motion", "share", "in_s"})


def _keys() -> dict[str, frozenset[str]]:
    """Return, for each thing that can go wrong, what else may be said of it."""
    known = {what: frozenset({"which", "nth", "times"}) for what in ON_REPLIES}
    known |= {what: frozenset({"nth", "times"}) for what in ON_WRITES}
    known |= dict.fromkeys((*BY_ITSELF, *SUFFERED), AT_A_MOMENT)
    known |= {what: frozenset({"times", "in_s"}) for what in ON_REQUESTS}
    known["stops short"] = frozenset({"times", "in_s", "amount"})
    for what in ("delay", "split"):
        known[what] |= {"seconds"}
    for what in ("write wrong", *SIZED):
        known[what] |= {"amount"}
    for what in ("alarm", "foreign state"):
        known[what] |= {"detail"}
    return known


KEYS = _keys()


@dataclass(slots=True)
class Mischief:
    """One thing to go wrong; `times` in a row, `seconds` of the world for a delay, `amount` in mm.

    `in_s` puts it off by so many seconds of the machine. What is left out is our own choice.
    """

    what: str
    which: str = "any"
    nth: int = 1
    times: int = 1
    motion: int = 0
    in_s: float = 0.0
    share: float = 0.5
    seconds: float = 0.2
    amount: float = 0.1
    detail: str = ""
    seen: int = 0

    @classmethod
    def from_plain(cls, given: object) -> Mischief:
        """Return the mischief that a table describes; raises `ValueError` for an unusable one."""
        if not isinstance(given, Mapping):
            raise ValueError('mischief must be a JSON object such as {"what": "reset", "motion": 3}')
        if "what" not in given:
            raise ValueError(f"mischief must say what; known are {', '.join(KEYS)}")
        what = given["what"]
        if not isinstance(what, str) or what not in KEYS:
            near = difflib.get_close_matches(str(what), KEYS, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else f"; known are {', '.join(KEYS)}"
            raise ValueError(f"no mischief is called {units.shown(what)}{hint}")
        values = {name: _read(what, name, value) for name, value in given.items() if name != "what"}
        if "share" in values and "motion" not in values:
            raise ValueError(f"{what!r}: share is a share of a motion's time; say which motion")
        if "motion" in values and values.get("in_s", 0.0) > 0.0:
            raise ValueError(f"{what!r}: say either in which motion it happens, or in how many seconds (in_s)")
        if what == "foreign state" and values.get("detail") not in STATES:
            raise ValueError(f"{what!r}: detail must be one of {', '.join(STATES)}")
        return cls(what=what, **values)

    def strikes(self, means: str) -> bool:
        """Return whether it is the turn of this reply (or write), and count it."""
        if self.which not in ("any", means):
            return False
        self.seen += 1
        return self.nth <= self.seen < self.nth + self.times


def _read(what: str, name: object, value: object) -> Any:
    if not isinstance(name, str) or name not in KEYS[what]:
        raise ValueError(f"{what!r} has no {units.shown(name)}; it takes {', '.join(sorted(KEYS[what]))}")
    return READERS[name](name, value)


def _count(name: str, value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 1_000_000:
        raise ValueError(f"{name} must be a whole number of 1 or more, not {units.shown(value)}")
    return value


def _size(name: str, value: object) -> float:
    number = units.number(value, name=name)
    if not 0.0 <= number <= (1.0 if name == "share" else math.inf):
        raise ValueError(
            f"{name} must {'lie from 0 to 1' if name == 'share' else 'not be negative'}, not {number:g}"
        )
    return number


def _meaning(name: str, value: object) -> str:
    if not isinstance(value, str) or value not in SAID:
        raise ValueError(f"{name} must be one of {', '.join(SAID)}, not {units.shown(value)}")
    return value


def _text(name: str, value: object) -> str:
    if not isinstance(value, str) or not value.isprintable() or len(value) > units.TEXT_LIMIT:
        raise ValueError(f"{name} must be a short text, not {units.shown(value)}")
    return value


READERS: Mapping[str, Callable[[str, object], Any]] = {
    "which": _meaning,
    "nth": _count,
    "times": _count,
    "motion": _count,
    "in_s": _size,
    "share": _size,
    "seconds": _size,
    "amount": lambda name, value: units.number(value, name=name),
    "detail": _text,
}


def garbled(data: bytes) -> bytes:
    """Return the bytes with their highest bits upset, as a wrong speed or a loose plug does; line ends stay."""
    return bytes(byte if byte in (10, 13) else (byte ^ 0x95) | 0x80 for byte in data)
