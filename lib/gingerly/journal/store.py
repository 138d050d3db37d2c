"""The journal's file: opened with care, added to one transaction at a time, never changed.

A transaction is on the disk when `add` returns. After one that failed nothing more is added: what the system still
holds in memory may be lost, and trying again would hide that.
"""

from __future__ import annotations

import asyncio
import json
import sqlite3
import sys
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from gingerly.journal.entry import Entry, Kind, packed
from gingerly.journal.place import LEAST_ROOM, default_path, is_local, own_path, room, sync_folder
from gingerly.journal.schema import VERSION, bring_up_to_date, is_ours, version_of
from gingerly.journal.whereabouts import Whereabouts
from gingerly.messages.faults import NotRecorded

BUSY_S = 10.0
"""How long another process that writes to the same journal is waited for. Our own choice."""

TURNS = 100
"""How often a file that another process is opening is tried within that time. Our own choice."""

NO_FOLDER = "there is no such folder"

COLUMNS = "number, at_s, kind, machine, job, part, batch, series, life, data"

INSERT = f"INSERT INTO entries ({COLUMNS}) VALUES (?,?,?,?,?,?,?,?,?,?)"


class Journal:
    """One open journal. Several machines, threads and processes may share its file."""

    def __init__(self, path: Path, connection: sqlite3.Connection, *, now: Callable[[], float]) -> None:
        self.path = path
        self._connection = connection
        self._now = now
        self._lock = threading.Lock()
        self._thread: ThreadPoolExecutor | None = None
        self._failed = ""
        self._places: dict[str, Whereabouts] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file, after what is being added has been; may be called more than once."""
        if self._thread is not None:
            self._thread.shutdown(wait=True)
            self._thread = None
        with self._lock:
            self._connection.close()
        for places in self._places.values():
            places.close()

    def whereabouts(self, machine: str) -> Whereabouts:
        """Return the record of where the machine of this name stood last; it closes with the journal."""
        return self._places.setdefault(machine, Whereabouts(self.path, machine))

    @property
    def failed(self) -> str:
        """Why nothing more can be added, or nothing."""
        return self._failed

    # ---- adding ---------------------------------------------------------------------------------------

    async def record(self, entry: Entry, *, after: Sequence[Entry] = ()) -> Entry:
        """Add one entry from an event loop, which goes on meanwhile; see `add`.

        What was begun is finished even where the caller is cancelled, and in the order in which it was begun.
        """
        if self._thread is None:
            self._thread = ThreadPoolExecutor(1, "journal")
        adding = asyncio.get_running_loop().run_in_executor(self._thread, partial(self.add, entry, after=after))
        return await asyncio.shield(adding)

    def add(self, entry: Entry, *, after: Sequence[Entry] = ()) -> Entry:
        """Add one entry, and return it with its number and time once it is on the disk.

        Those that it comes `after`, and that were not worth a flush of their own, are added with it, all or none.
        A batch that begins is numbered after its own entry, and so are its series and life where they are 0. Raises
        `NotRecorded` where it cannot be kept, and ever after.
        """
        given = [(each, packed(each.data)) for each in (*after, entry)]
        with self._lock:
            if self._failed:
                raise self._not_recorded("an earlier entry could not be kept: ")
            try:
                return self._added(given)
            except (sqlite3.Error, OSError) as error:
                self._failed = _told(error)
                self._give_up()
                raise self._not_recorded("") from error

    def _added(self, given: list[tuple[Entry, str]]) -> Entry:
        connection = self._connection
        connection.execute("BEGIN IMMEDIATE")
        number = int(connection.execute("SELECT ifnull(max(number), 0) FROM entries").fetchone()[0])
        for entry, data in given:
            number += 1
            entry = replace(entry, number=number, at_s=self._now())
            if entry.kind is Kind.BATCH_BEGUN:
                entry = replace(entry, batch=number, series=entry.series or number, life=entry.life or number)
            row = (entry.number, entry.at_s, entry.kind.value, entry.machine, entry.job, entry.part)
            connection.execute(INSERT, (*row, entry.batch, entry.series, entry.life, data))
        connection.execute("COMMIT")
        return entry

    def _give_up(self) -> None:
        try:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
        except sqlite3.Error:
            pass  # the transaction is lost either way, and the first error is the one to tell

    def _not_recorded(self, before: str) -> NotRecorded:
        detail = f"{self.path}: {before}{self._failed}"
        return NotRecorded(detail, state="recording", advice=_advice(self._failed))

    # ---- reading --------------------------------------------------------------------------------------

    def entries(
        self,
        *,
        kind: Kind | str | None = None,
        machine: str | None = None,
        job: str | None = None,
        part: str | None = None,
        series: int | None = None,
        since_s: float | None = None,
        until_s: float | None = None,
        last: int | None = None,
    ) -> list[Entry]:
        """Return the entries that fit all that is given, in order; `last` of them at most, the latest ones.

        `since_s` and `until_s` are seconds since 1970 (UTC). Raises `NotRecorded` where the file cannot be read.
        """
        wanted: dict[str, Any] = {
            "kind = ?": kind.value if isinstance(kind, Kind) else kind,
            "machine = ?": machine,
            "job = ?": job,
            "part = ?": part,
            "series = ?": series,
            "at_s >= ?": since_s,
            "at_s < ?": until_s,
        }
        given = {clause: value for clause, value in wanted.items() if value is not None}
        where = f" WHERE {' AND '.join(given)}" if given else ""
        limit = f" LIMIT {int(last)}" if last is not None else ""
        found = self.query(f"SELECT {COLUMNS} FROM entries{where} ORDER BY number DESC{limit}", *given.values())
        return [entry_of(row) for row in reversed(found)]

    def query(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        """Return the rows of a statement that only reads; raises `NotRecorded` where the file cannot be read."""
        try:
            with self._lock:
                return self._connection.execute(statement, values).fetchall()
        except sqlite3.Error as error:
            what = _told(error)
            raise NotRecorded(
                f"{self.path}: cannot be read: {what}", state="reading", advice=_advice(what)
            ) from error


def entry_of(row: tuple[Any, ...]) -> Entry:
    """Return the entry of a row with all `COLUMNS`."""
    number, at_s, kind, machine, job, part, batch, series, life, data = row
    return Entry(
        number=number,
        at_s=at_s,
        kind=Kind(kind),
        machine=machine,
        job=job,
        part=part,
        batch=batch,
        series=series,
        life=life,
        data=json.loads(data),
    )


# ---- opening ------------------------------------------------------------------------------------------------


def open_journal(
    path: str | Path | None = None,
    *,
    only_read: bool = False,
    rollback: bool | None = None,
    now: Callable[[], float] = time.time,
    trace: Callable[[str], object] | None = None,
) -> Journal:
    """Return the journal at `path`, by default the user's own; a missing one is made, unless it is `only_read`.

    The folder of the user's own journal is made too; any other must be there, since its name may be mistyped. The
    file is checked whole, and brought up to date after a copy was kept. `rollback` keeps a rollback journal instead
    of a write-ahead log, by default where the file system is not local. `now` returns seconds since 1970; `trace`
    is called with each statement before it is carried out. Raises `NotRecorded` where it cannot be kept or read: a
    folder that may not be written to, a disk without room, a file that is damaged, newer, or something else.
    """
    place = Path(path) if path is not None else default_path()
    try:
        if only_read:
            return _opened_to_read(place, now)
        return _opened(place, rollback, now, trace)
    except (sqlite3.Error, OSError) as error:
        what = _told(error)
        raise NotRecorded(
            f"{place}: {what}", state="opening", done="no motion was ordered", advice=_advice(what)
        ) from error


def _opened(
    place: Path, rollback: bool | None, now: Callable[[], float], trace: Callable[[str], object] | None
) -> Journal:
    if place == own_path():
        place.parent.mkdir(parents=True, exist_ok=True)
    elif not place.parent.is_dir():
        raise OSError(f"{NO_FOLDER}: {place.parent}")
    if room(place.parent) < LEAST_ROOM:
        raise OSError(f"less than {LEAST_ROOM // 2**20} MiB are free on its disk")
    new = not place.exists()
    connection = _connected(str(place))
    try:
        _check(connection, new=new)
        _settings(connection, rollback=not is_local(place.parent) if rollback is None else rollback)
        _bring_up_to_date(connection, place)
        if new:
            sync_folder(place.parent)
        connection.set_trace_callback(trace)
        return Journal(place, connection, now=now)
    except BaseException:
        connection.close()
        raise


def _opened_to_read(place: Path, now: Callable[[], float]) -> Journal:
    if not place.exists():
        raise OSError("there is no journal yet")
    connection = _connected(place.resolve().as_uri() + "?mode=ro", uri=True)
    try:
        _check_shape(connection)
        if version_of(connection) < VERSION:
            raise OSError("it is of an older version; the next run brings it up to date")
        return Journal(place, connection, now=now)
    except BaseException:
        connection.close()
        raise


def _connected(name: str, *, uri: bool = False) -> sqlite3.Connection:
    connection = sqlite3.connect(name, timeout=BUSY_S, isolation_level=None, check_same_thread=False, uri=uri)
    connection.execute(f"PRAGMA busy_timeout = {int(1000 * BUSY_S)}")
    return connection


def _check(connection: sqlite3.Connection, *, new: bool) -> None:
    """Refuse what is no journal of ours, is newer, or is damaged, before anything is written to it."""
    _check_shape(connection)
    if new:
        return
    found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise OSError(f"the file is damaged ({found}); put it aside, or restore a copy")


def _check_shape(connection: sqlite3.Connection) -> None:
    if not is_ours(connection):
        raise OSError("this is some other database, and no journal")
    version = version_of(connection)
    if version > VERSION:
        raise OSError(
            f"it was written by a newer gingerly (version {version} of the journal; this one knows {VERSION}):"
            " nothing was changed; use the newer program, or name another file"
        )


def _settings(connection: sqlite3.Connection, *, rollback: bool) -> None:
    mode = "DELETE" if rollback else "WAL"
    # Against a writer this one statement does not wait by itself, against a reader it does: so it is to wait never.
    connection.execute("PRAGMA busy_timeout = 0")
    for turn in range(1, TURNS + 1):
        try:
            connection.execute(f"PRAGMA journal_mode = {mode}")  # where it cannot be, the one in force stays
            break
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or turn == TURNS:
                raise
            time.sleep(BUSY_S / TURNS)
    connection.execute(f"PRAGMA busy_timeout = {1000.0 * BUSY_S:.0f}")
    connection.execute("PRAGMA synchronous = FULL")
    if sys.platform == "darwin":  # plain fsync does not reach the disk itself there
        connection.execute("PRAGMA fullfsync = 1")
        connection.execute("PRAGMA checkpoint_fullfsync = 1")


def _bring_up_to_date(connection: sqlite3.Connection, place: Path) -> None:
    version = version_of(connection)
    if version == VERSION:
        return
    if version > 0:
        kept = place.with_name(f"{place.name}.version-{version}")
        with closing(sqlite3.connect(kept)) as copy:
            connection.backup(copy)
        sync_folder(place.parent)
    bring_up_to_date(connection)


def _told(error: Exception) -> str:
    """Say in words what went wrong with a file."""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    text = str(error)
    return next((f"{meaning} ({text})" for sign, meaning in _MEANINGS if sign in text), text)


def _advice(what: str) -> str:
    """Say what to check first of a file that cannot be opened; nothing where it is room and permission as ever."""
    return next((advice for sign, advice in _ADVICE if sign in what), "")


_MEANINGS = (
    ("disk is full", "the disk is full"),
    ("disk I/O error", "the disk could not be written to or read"),
    ("readonly", "it may not be written to"),
    ("unable to open", "it cannot be opened here"),
    ("not a database", "this is no journal, or it is damaged"),
    ("malformed", "the file is damaged; put it aside, or restore a copy"),
    ("locked", "another program keeps it to itself"),
)

_ADVICE = (
    (NO_FOLDER, "Is its name right? Make the folder first, or name another file."),
    ("no journal, or", "Is its name right? If so, put the file aside, or restore a copy."),
    ("damaged", "Put the file aside, or restore a copy. A new journal knows nothing of what was set before."),
    ("other database", "Is its name right? Name another file."),
    ("newer gingerly", "Use the newer program, or name another file."),
    ("to itself", "See which other program has it open, and end that."),
)
