"""The journal: what was set, when, why it was believed, and whether lead and plate came off afterwards.

::

    journal = gingerly.journal.open_journal()
    for entry in journal.entries(kind="outcome", machine="bench mill"):
        print(entry.when, entry.part, entry.data["read"])

It is only ever added to. The intent (old and new) is kept before a work offset is written, the outcome after it,
and whatever cannot be kept stops the run: after a crash the controller is asked which of both stands.
"""

from __future__ import annotations

from gingerly.journal.entry import Entry, Kind
from gingerly.journal.export import as_csv, as_json_lines
from gingerly.journal.history import SetOffset, unreleased, what_was_set
from gingerly.journal.place import default_path
from gingerly.journal.recorder import BatchRecorder
from gingerly.journal.store import Journal, open_journal
from gingerly.journal.whereabouts import Whereabouts

__all__ = [
    "BatchRecorder",
    "Entry",
    "Journal",
    "Kind",
    "SetOffset",
    "Whereabouts",
    "as_csv",
    "as_json_lines",
    "default_path",
    "open_journal",
    "unreleased",
    "what_was_set",
]
