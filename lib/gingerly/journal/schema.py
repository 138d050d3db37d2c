"""The shape of the journal's file, in steps: a file of an older version gets the steps that it lacks."""

from __future__ import annotations

import sqlite3

APPLICATION = 0x67696E67
"""Marks a file as a journal of this library: "ging" in ASCII."""

STEPS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE entries (
            number INTEGER PRIMARY KEY,
            at_s REAL NOT NULL,
            kind TEXT NOT NULL,
            machine TEXT NOT NULL,
            job TEXT NOT NULL,
            part TEXT NOT NULL,
            batch INTEGER NOT NULL,
            series INTEGER NOT NULL,
            life INTEGER NOT NULL,
            data TEXT NOT NULL
        )""",
        """CREATE TRIGGER entries_stay BEFORE UPDATE ON entries
            BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END""",
        """CREATE TRIGGER entries_are_kept BEFORE DELETE ON entries
            BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END""",
    ),
    (
        "CREATE INDEX entries_by_series ON entries (series, number)",
        "CREATE INDEX entries_by_machine ON entries (machine, kind, number)",
    ),
    (),  # nothing new in the file itself, but entries of the kinds "stated" and "accepted", unknown to older programs
)
"""The statements that lead from each version to the next; the version is the number of steps taken."""

VERSION = len(STEPS)


def version_of(connection: sqlite3.Connection) -> int:
    """Return the version of an open file; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def is_ours(connection: sqlite3.Connection) -> bool:
    """Return whether the file is a journal, or empty."""
    connection.execute("BEGIN")  # both are read of one moment: another process may be making the file just now
    try:
        tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
        application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    finally:
        connection.execute("ROLLBACK")
    return application == APPLICATION or (application == 0 and tables == 0)


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Take the steps that the file lacks, all or none.

    Another process may take them at the same time; whoever comes second finds nothing left to do.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in STEPS[version_of(connection) :]:
            for statement in step:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
