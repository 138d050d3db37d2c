"""What truly happened, a JSON object a line: the judge of every test against the practice controller.

Keys: ``t`` (seconds of the practice machine), ``world_s`` (seconds of the world's steady clock), ``event``, and
what belongs to that event; lengths in mm, feeds in mm/min.
"""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any, TextIO

from gingerly_serial.why import why


class TruthLog:
    """Writes the truth log, each event at once; without a file it forgets everything.

    Raises `ValueError` for a file that cannot be written.
    """

    def __init__(self, path: str | Path | None) -> None:
        self._file: TextIO | None = None
        if path is None:
            return
        try:
            self._file = Path(path).open("w", encoding="ascii", buffering=1)  # noqa: SIM115 (closed by close)
        except OSError as error:
            raise ValueError(f"the truth log {str(path)!r} cannot be written: {why(error)}") from error

    def note(self, at_s: float, event: str, **what: Any) -> None:
        """Write one event."""
        if self._file is not None:
            entry = {"t": round(at_s, 6), "world_s": time.monotonic(), "event": event, **what}
            self._file.write(json.dumps(entry) + "\n")

    def close(self) -> None:
        """Close the file."""
        if self._file is not None:
            self._file.close()
