"""What the virtual controller remembers when its process ends, as a real one does when a computer is switched off.

A small file: where it stands, its work offsets, its restarts, whether it is homed, and which tool came first. It is
written anew after every call, whole or not at all, so that a process may be killed at any moment. To switch the
controller off for good, delete the file.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from gingerly.geometry import ORIGIN, Position

FORMAT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """What outlives the process. Positions in mm."""

    position: Position
    offsets: dict[int, Position]
    restarts: int = 0
    homed: bool = True
    first_tool: str = ""


class Memory:
    """The file at `path`; a missing one is a controller that was never switched on."""

    def __init__(self, path: str) -> None:
        self.path = Path(path)

    def recalled(self) -> Remembered | None:
        """Return what was kept, or None; raises `ValueError` for a file that is none of ours or cannot be read."""
        if not self.path.absolute().parent.is_dir():
            raise ValueError(f"the memory {str(self.path)!r} cannot be kept: its folder does not exist")
        try:
            text = self.path.read_text("utf-8")
        except FileNotFoundError:
            return None
        except (OSError, ValueError) as error:
            reason = (error.strerror or "the disk fails") if isinstance(error, OSError) else "it is not UTF-8 text"
            raise ValueError(f"the memory {str(self.path)!r} cannot be read: {reason}") from error
        try:
            return _remembered(json.loads(text))
        except (KeyError, TypeError, ValueError) as error:
            raise ValueError(
                f"{str(self.path)!r} is no memory of a virtual machine; delete it, or name another file"
            ) from error

    def keep(self, remembered: Remembered) -> None:
        """Write the file, whole or not at all; raises `OSError`."""
        plain = {"format": FORMAT, **asdict(remembered)}
        plain["position"] = list(remembered.position)
        plain["offsets"] = {str(number): list(origin) for number, origin in remembered.offsets.items()}
        fresh = self.path.with_name(f".{self.path.name}.new")
        fresh.write_text(json.dumps(plain), "utf-8")
        os.replace(fresh, self.path)


def _remembered(plain: dict[str, Any]) -> Remembered:
    if plain["format"] != FORMAT:
        raise ValueError
    offsets = dict.fromkeys(range(1, 10), ORIGIN)
    offsets |= {int(number): _position(origin) for number, origin in plain["offsets"].items()}
    return Remembered(
        position=_position(plain["position"]),
        offsets=offsets,
        restarts=int(plain["restarts"]),
        homed=bool(plain["homed"]),
        first_tool=str(plain["first_tool"]),
    )


def _position(values: list[float]) -> Position:
    x, y, z = (float(value) for value in values)
    found = Position(x, y, z)
    if not found.is_finite():
        raise ValueError
    return found
