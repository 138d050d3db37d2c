"""How the practice controller misbehaves on request.

A `Mischief` is plain data. Those on replies (drop, delay, garble, duplicate, split, interleave) name `which`
meaning they spoil and the `nth` of it; those on motions (reset, hang up, and whatever the virtual machine can
suffer) name the `motion` by its number and the `share` of its time; without either they happen at once. `write
ignored` and `write wrong` spoil the `nth` work offset written; `silence` answers none of the next requests
until a stop, `refuse` refuses the next line; `stops short` ends the next motion `amount` mm early.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

ON_REPLIES = ("drop", "delay", "garble", "duplicate", "split", "interleave")
ON_WRITES = ("write ignored", "write wrong")
ON_REQUESTS = ("silence", "refuse")


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
    def from_plain(cls, given: Mapping[str, Any]) -> Mischief:
        """Return the mischief that a table describes; raises `ValueError` for an unknown key."""
        known = {entry.name for entry in fields(cls)} - {"seen"}
        for name in given:
            if name not in known:
                raise ValueError(f"mischief has no {name!r}; known are {', '.join(sorted(known))}")
        if "what" not in given:
            raise ValueError("mischief must say what")
        return cls(**given)

    def strikes(self, means: str) -> bool:
        """Return whether it is the turn of this reply (or write), and count it."""
        if self.which not in ("any", means):
            return False
        self.seen += 1
        return self.nth <= self.seen < self.nth + self.times


def garbled(data: bytes) -> bytes:
    """Return the bytes with their highest bits upset, as a wrong speed or a loose plug does; line ends stay."""
    return bytes(byte if byte in (10, 13) else (byte ^ 0x95) | 0x80 for byte in data)
