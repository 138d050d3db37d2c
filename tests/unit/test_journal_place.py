"""Where the journal lies on each platform, which disks count as local, and what its opening refuses besides damage.

Folders as each platform's own guidelines name them: the Known Folders of Windows, Apple's File System Programming
Guide, the XDG Base Directory Specification (all from memory).
"""

from __future__ import annotations

import asyncio
import shutil
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import pytest

from gingerly import NotRecorded
from gingerly.journal import Entry, Kind, default_path, open_journal
from gingerly.journal.place import LEAST_ROOM, data_folder, is_local, sync_folder
from gingerly.journal.schema import STEPS, bring_up_to_date, version_of
from gingerly.journal.store import BUSY_S, TURNS, Journal


@pytest.fixture
def home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A home of its own, without any variable that says otherwise."""
    for name in ("GINGERLY_JOURNAL", "XDG_DATA_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    return tmp_path


@pytest.mark.parametrize(
    ("platform", "folder"),
    [("win32", "AppData/Local"), ("darwin", "Library/Application Support"), ("linux", ".local/share")],
)
def test_each_platform_has_a_folder_for_a_users_data(
    monkeypatch: pytest.MonkeyPatch, home: Path, platform: str, folder: str
) -> None:
    monkeypatch.setattr(sys, "platform", platform)
    assert data_folder() == home / folder
    assert default_path() == home / folder / "gingerly" / "journal.db"


def test_the_folder_of_the_users_own_journal_is_made(home: Path) -> None:
    open_journal().close()
    assert (data_folder() / "gingerly" / "journal.db").is_file()


def test_any_other_folder_has_to_be_there_since_its_name_may_be_mistyped(home: Path) -> None:
    """Made in silence, it would hold an empty journal, and what was set before would be forgotten."""
    with pytest.raises(NotRecorded, match="no such folder") as caught:
        open_journal(home / "jurnals" / "journal.db")
    assert "Is its name right?" in caught.value.advice
    assert not (home / "jurnals").exists()


@pytest.mark.parametrize(("platform", "variable"), [("win32", "LOCALAPPDATA"), ("linux", "XDG_DATA_HOME")])
def test_a_user_may_have_moved_that_folder(
    monkeypatch: pytest.MonkeyPatch, home: Path, platform: str, variable: str
) -> None:
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setenv(variable, str(home / "elsewhere"))
    assert data_folder() == home / "elsewhere"


def test_the_nearest_mounted_folder_says_what_kind_of_disk_it_is(tmp_path: Path) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"server:/a {tmp_path} nfs4 rw 0 0\n/dev/b {tmp_path / 'own'} ext4 rw 0 0\n")
    assert not is_local(tmp_path / "shared", mounts)
    assert is_local(tmp_path / "own" / "folder", mounts)


def test_where_nothing_tells_the_kind_of_a_disk_it_counts_as_local(tmp_path: Path) -> None:
    (tmp_path / "mounts").write_text("odd\n/dev/sdb /nowhere/near nfs rw 0 0\n")
    assert is_local(tmp_path, tmp_path / "mounts")
    assert is_local(tmp_path, tmp_path / "no such list")


def test_on_windows_only_a_network_path_is_not_local(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Its list of mounts is not asked: there is none."""
    mounts = tmp_path / "mounts"
    mounts.write_text(f"server:/a {tmp_path} nfs4 rw 0 0\n")
    monkeypatch.setattr(sys, "platform", "win32")
    assert is_local(tmp_path, mounts)


def test_a_folder_is_brought_to_the_disk_only_where_the_platform_can(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Windows opens no folder as a file; elsewhere one that is missing is told."""
    with pytest.raises(FileNotFoundError):
        sync_folder(tmp_path / "missing")
    monkeypatch.setattr(sys, "platform", "win32")
    sync_folder(tmp_path / "missing")


def test_on_a_mac_the_disk_itself_is_asked_to_keep_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """SQLite's documentation: plain fsync does not empty the disk's own buffer there; the full one does."""
    monkeypatch.setattr(sys, "platform", "darwin")
    with open_journal(tmp_path / "journal.db") as journal:
        assert journal.query("PRAGMA fullfsync") == [(1,)]
        assert journal.query("PRAGMA checkpoint_fullfsync") == [(1,)]


def test_a_disk_with_too_little_room_is_refused_before_a_file_is_made(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The operating system's answer alone is another one here."""
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: SimpleNamespace(free=LEAST_ROOM - 1))
    with pytest.raises(NotRecorded, match="MiB are free on its disk"):
        open_journal(tmp_path / "journal.db")
    assert list(tmp_path.iterdir()) == []


def test_reading_an_older_journal_changes_nothing_and_says_who_will(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with closing(sqlite3.connect(path)) as old:
        for statement in STEPS[0]:
            old.execute(statement)
        old.execute("PRAGMA user_version = 1")
        old.execute("PRAGMA application_id = 0x67696E67")
        old.commit()
    before = path.read_bytes()
    with pytest.raises(NotRecorded, match="older version; the next run brings it up to date"):
        open_journal(path, only_read=True)
    assert path.read_bytes() == before


def test_steps_that_cannot_be_taken_are_not_taken_by_half() -> None:
    """A file that has a table of the same name already stays as it is, and may be written to again."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        connection.execute("CREATE TABLE entries (note)")
        with pytest.raises(sqlite3.Error, match="already exists"):
            bring_up_to_date(connection)
        assert not connection.in_transaction
        assert version_of(connection) == 0


@pytest.fixture
def held(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A journal without a write-ahead log, which somebody else writes to just now, so that it cannot be given one."""
    open_journal(tmp_path / "journal.db", rollback=True).close()
    with closing(sqlite3.connect(tmp_path / "journal.db", isolation_level=None)) as writer:
        writer.execute("BEGIN IMMEDIATE")
        yield writer


def test_a_journal_that_is_held_for_a_moment_is_waited_for(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, held: sqlite3.Connection
) -> None:
    """Whoever holds it lets go of it during the first wait."""
    monkeypatch.setattr(time, "sleep", lambda seconds: held.execute("COMMIT"))
    with open_journal(tmp_path / "journal.db", rollback=False) as journal:
        assert journal.query("PRAGMA journal_mode") == [("wal",)]


def test_a_journal_that_is_held_for_good_is_refused_after_as_many_waits_as_were_meant(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, held: sqlite3.Connection
) -> None:
    waits: list[float] = []
    monkeypatch.setattr(time, "sleep", waits.append)
    with pytest.raises(NotRecorded, match="another program keeps it to itself"):
        open_journal(tmp_path / "journal.db", rollback=False)
    assert sum(waits) == pytest.approx(BUSY_S, rel=2 / TURNS)


def test_of_entries_that_belong_together_none_is_kept_where_one_cannot_be(tmp_path: Path) -> None:
    """And the file is free again for others at once."""
    with open_journal(tmp_path / "journal.db") as journal:
        odd = Entry(kind=Kind.ASKED, machine="bench mill", part=object())  # type: ignore[arg-type]
        with pytest.raises(NotRecorded):
            journal.add(odd, after=[Entry(kind=Kind.ASKED, machine="bench mill")])
        assert journal.entries() == []
        with open_journal(journal.path) as other:
            assert other.add(Entry(kind=Kind.ASKED, machine="attic mill")).number == 1


def test_a_journal_closed_in_the_middle_keeps_nothing_more_and_says_so(tmp_path: Path) -> None:
    journal: Journal = open_journal(tmp_path / "journal.db")
    asyncio.run(journal.record(Entry(kind=Kind.ASKED, machine="bench mill")))
    journal.close()
    with pytest.raises(NotRecorded, match="closed"):
        journal.add(Entry(kind=Kind.ASKED, machine="bench mill"))
    with pytest.raises(NotRecorded, match="cannot be read"):
        journal.entries()
