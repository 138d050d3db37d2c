"""The record of everything sent and heard, a JSON object a line, for support and for checking a profile.

Keys: ``t`` (seconds since the record began), ``way`` (``sent``, ``heard`` or ``note``), and ``text``; bytes
that are no printable ASCII stand in ``hex`` instead.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from gingerly_serial.why import why

WAYS = ("sent", "heard", "note")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a transcript."""

    at_s: float
    way: str
    data: bytes


class Transcript:
    """Writes a transcript as things happen. Only ever appends, so that several connections share a file."""

    def __init__(self, path: str | Path) -> None:
        self._path = Path(path)
        self._file: TextIO | None = None
        self._began = time.monotonic()

    def open(self) -> None:
        """Open the file; raises `OSError` where that fails."""
        self._file = self._path.open("a", encoding="ascii", buffering=1)

    def note(self, way: str, data: bytes) -> None:
        """Add one entry; a record that cannot be written never stops the machine's work."""
        if self._file is None:
            return
        entry: dict[str, object] = {"t": round(time.monotonic() - self._began, 6), "way": way}
        text = data.decode("ascii", "replace")
        entry |= {"text": text} if data.isascii() and text.isprintable() else {"hex": data.hex()}
        try:
            self._file.write(json.dumps(entry) + "\n")
        except (OSError, ValueError):
            self._file = None

    def close(self) -> None:
        """Close the file."""
        file, self._file = self._file, None
        if file is not None:
            file.close()


def obstacle(path: Path) -> str:
    """Return why a transcript cannot be kept in this file, or nothing where it can; the file is left as it is."""
    try:
        if path.is_dir():
            return "it is a folder"
        if not path.absolute().parent.is_dir():
            return "its folder does not exist"
        if not os.access(path if path.exists() else path.absolute().parent, os.W_OK):
            return "this user may not write there"
    except OSError as error:
        return why(error)
    return ""


def read(path: str | Path) -> Iterator[Entry]:
    """Yield the entries of a transcript; raises `ValueError` that names the file, or the line that is none."""
    try:
        file = Path(path).open(encoding="utf-8", errors="replace")  # noqa: SIM115 (closed below)
    except (OSError, ValueError) as error:
        raise ValueError(f"the transcript {str(path)!r} cannot be read: {why(error)}") from error
    with file:
        for at, line in enumerate(file, 1):
            if line.strip():
                yield _entry(line, f"{path}, line {at}")


def _entry(line: str, where: str) -> Entry:
    try:
        raw = json.loads(line)
        data = bytes.fromhex(raw["hex"]) if "hex" in raw else raw["text"].encode("ascii", "replace")
        at_s, way = float(raw.get("t", 0.0)), raw["way"]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        keys = f"t, way (one of {', '.join(WAYS)}), and text or hex"
        raise ValueError(f"{where}: this is no entry of a transcript, a JSON object with {keys}") from error
    if way not in WAYS:
        raise ValueError(f"{where}: way must be one of {', '.join(WAYS)}, not {way!r}")
    return Entry(at_s, way, data)
