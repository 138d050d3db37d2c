"""The journal keeps what it is given, whatever happens, or says before anything moves that it cannot."""

from __future__ import annotations

import csv
import io
import json
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from gingerly import NotRecorded, Position, Standstill, batch
from gingerly.batch import Batch, Books, PartStarted
from gingerly.journal import Entry, Journal, Kind, as_csv, as_json_lines, default_path, open_journal, what_was_set
from gingerly.journal.place import is_local
from gingerly.journal.schema import STEPS, VERSION
from gingerly.journal.whereabouts import LastKnown, Whereabouts, doubt
from gingerly.messages.facts import Home
from gingerly.messages.snapshot import Snapshot
from gingerly_mock.options import DEFAULT_FACTS as FACTS
from support.jobs import sound

HERE = Position(10.0, 20.0, -5.0)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with open_journal(tmp_path / "journal.db") as opened:
        yield opened


def some(kind: Kind = Kind.ASKED, **changes: object) -> Entry:
    plain: dict[str, object] = {"kind": kind, "machine": "bench mill", "job": "lids", "part": "lid 1"}
    return Entry(**{**plain, **changes})  # type: ignore[arg-type]


def an_outcome(number: int = 1, *, read: float = 1.0, **changes: object) -> Entry:
    spot = {"x": 1.0, "y": 1.0, "z": read}
    old, new = {"x": 0.0, "y": 0.0, "z": 0.0}, {"x": 1.0, "y": 1.0, "z": 1.0}
    data = {"number": number, "old": old, "new": new, "read": spot, "how": "read back"}
    return some(Kind.OUTCOME, data=data, **changes)


# ---- adding ---------------------------------------------------------------------------------------------------


def test_an_entry_comes_back_as_it_was_added(tmp_path: Path) -> None:
    with open_journal(tmp_path / "journal.db", now=lambda: 1.7e9) as journal:
        added = journal.add(some(data={"question": "open", "answer": "waive"}))
        assert journal.entries() == [added]
    assert (added.number, added.when) == (1, "2023-11-14T22:13:20Z")  # POSIX time 1.7e9, from memory


def test_a_batch_is_numbered_after_its_own_entry(journal: Journal) -> None:
    journal.add(some())
    begun = journal.add(some(Kind.BATCH_BEGUN))
    assert (begun.number, begun.batch, begun.series, begun.life) == (2, 2, 2, 2)


@pytest.mark.parametrize("statement", ["UPDATE entries SET part = 'x'", "DELETE FROM entries"])
def test_what_stands_in_the_journal_cannot_be_changed(journal: Journal, statement: str) -> None:
    journal.add(some())
    with closing(sqlite3.connect(journal.path)) as other, pytest.raises(sqlite3.IntegrityError, match="only added"):
        other.execute(statement)


def test_entries_are_on_the_disk_before_adding_returns(tmp_path: Path) -> None:
    statements: list[str] = []
    with open_journal(tmp_path / "journal.db", trace=statements.append) as journal:
        journal.add(some())
        with closing(sqlite3.connect(journal.path)) as other:
            assert other.execute("SELECT count(*) FROM entries").fetchone() == (1,)
        assert journal.query("PRAGMA synchronous") == [(2,)]  # FULL, as SQLite's documentation numbers it
        assert journal.query("PRAGMA journal_mode") == [("wal",)]
    assert [one.split()[0] for one in statements[:4]] == ["BEGIN", "SELECT", "INSERT", "COMMIT"]


WRITER = """
import sys
from gingerly.journal import Entry, Kind, open_journal
with open_journal(sys.argv[1]) as journal:
    for turn in range(60):
        journal.add(Entry(kind=Kind.ASKED, machine=sys.argv[2], data={"turn": turn}))
"""


def test_two_processes_write_to_one_journal(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    writers = [subprocess.Popen([sys.executable, "-c", WRITER, str(path), name]) for name in ("one", "two")]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    with open_journal(path) as journal:
        entries = journal.entries()
        assert [entry.number for entry in entries] == list(range(1, 121))
        for name in ("one", "two"):
            assert [entry.data["turn"] for entry in entries if entry.machine == name] == list(range(60))


# ---- opening --------------------------------------------------------------------------------------------------


def refusal(path: Path) -> NotRecorded:
    with pytest.raises(NotRecorded) as caught:
        open_journal(path)
    assert caught.value.standstill is Standstill.UNMOVED
    assert str(path) in caught.value.detail
    return caught.value


def test_a_journal_of_a_newer_program_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    open_journal(path).close()
    with closing(sqlite3.connect(path)) as other:
        other.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = path.read_bytes()
    assert "newer gingerly" in refusal(path).detail
    assert path.read_bytes() == before


def test_a_journal_of_an_older_program_is_brought_up_to_date_and_a_copy_kept(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with closing(sqlite3.connect(path)) as old:
        for statement in STEPS[0]:
            old.execute(statement)
        old.execute("INSERT INTO entries VALUES (1, 0.0, 'asked', 'bench mill', '', '', 1, 1, 1, '{}')")
        old.execute("PRAGMA user_version = 1")
        old.execute("PRAGMA application_id = 0x67696E67")
        old.commit()
    with open_journal(path) as journal:
        assert [entry.machine for entry in journal.entries()] == ["bench mill"]
        assert journal.query("PRAGMA user_version") == [(VERSION,)]
    with closing(sqlite3.connect(tmp_path / "journal.db.version-1")) as kept:
        assert kept.execute("PRAGMA user_version").fetchone() == (1,)
        assert kept.execute("SELECT count(*) FROM entries").fetchone() == (1,)


def test_some_other_database_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "cakes.db"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE cakes (name)")
    assert "some other database" in refusal(path).detail


def test_a_file_that_is_no_database_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    path.write_text("a letter to the machine\n" * 200)
    assert "no journal, or it is damaged" in refusal(path).detail
    assert "Is its name right?" in refusal(path).advice


def test_a_damaged_file_is_found_before_anything_is_added(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with open_journal(path) as journal:
        for _ in range(200):
            journal.add(some(data={"filler": "x" * 200}))
    data = bytearray(path.read_bytes())
    for page in range(3, len(data) // 4096):
        data[page * 4096 : page * 4096 + 64] = b"\xa5" * 64
    path.write_bytes(data)
    assert "damaged" in refusal(path).detail
    assert "restore a copy" in refusal(path).advice, "room and permission have nothing to do with it"


def test_a_torn_tail_costs_only_what_was_never_whole(tmp_path: Path) -> None:
    """A write-ahead log cut off in the middle of its last transaction loses that one alone."""
    with open_journal(tmp_path / "journal.db") as journal:
        for _ in range(20):
            journal.add(some())
        for suffix in ("", "-wal"):
            shutil.copy(f"{journal.path}{suffix}", f"{tmp_path / 'copy.db'}{suffix}")
    log = tmp_path / "copy.db-wal"
    log.write_bytes(log.read_bytes()[:-100])
    with open_journal(tmp_path / "copy.db") as copy:
        assert [entry.number for entry in copy.entries()] == list(range(1, 20))
        assert copy.add(some()).number == 20


def test_a_place_that_is_no_folder_is_told_before_anything_moves(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    refusal(tmp_path / "file" / "journal.db")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is forbidden to this user")
def test_a_folder_that_may_not_be_written_to_is_told_before_anything_moves(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    refusal(tmp_path / "journal.db")


def test_reading_makes_no_journal(tmp_path: Path) -> None:
    with pytest.raises(NotRecorded, match="no journal yet"):
        open_journal(tmp_path / "journal.db", only_read=True)
    assert list(tmp_path.iterdir()) == []


def test_on_a_remote_disk_there_is_no_write_ahead_log(tmp_path: Path) -> None:
    """Its index is shared memory, which two computers do not share."""
    with open_journal(tmp_path / "journal.db", rollback=True) as journal:
        journal.add(some())
        assert journal.query("PRAGMA journal_mode") == [("delete",)]
        assert journal.query("PRAGMA synchronous") == [(2,)]


def test_remote_disks_are_known_by_their_kind(tmp_path: Path) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/a / ext4 rw 0 0\nshop:/x {tmp_path} nfs4 rw 0 0\n")
    assert not is_local(tmp_path / "journals", mounts)
    assert is_local(tmp_path.parent, mounts)


def test_the_journal_lies_where_the_environment_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("GINGERLY_JOURNAL", str(tmp_path / "mine.db"))
    assert default_path() == tmp_path / "mine.db"


# ---- when it cannot be kept -----------------------------------------------------------------------------------


@contextmanager
def no_file_larger_than(size: int) -> Iterator[None]:
    """The operating system refuses to let any file grow, as a full disk does."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_after_an_entry_that_could_not_be_kept_nothing_more_is_added(journal: Journal) -> None:
    """What the system still held in memory may be lost, and trying again would hide that."""
    journal.add(some())
    with no_file_larger_than(8192), pytest.raises(NotRecorded):
        journal.add(some(data={"filler": "x" * 50_000}))
    with pytest.raises(NotRecorded, match="an earlier entry could not be kept"):
        journal.add(some())
    with open_journal(journal.path) as again:
        assert len(again.entries()) == 1


def test_a_disk_that_fills_up_midway_stops_the_batch_and_writes_nothing_unrecorded(tmp_path: Path) -> None:
    limits: list[object] = []

    def fill(event: object) -> None:
        if isinstance(event, PartStarted) and event.part.name == "lid 2":
            limits.append(no_file_larger_than(4096))
            limits[0].__enter__()  # type: ignore[attr-defined]

    try:
        with open_journal(tmp_path / "journal.db") as journal:
            summary = batch.run_blocking(sound(), journal=journal, observer=fill)
    finally:
        limits[0].__exit__(None, None, None)  # type: ignore[attr-defined]
    assert [entry.status.value for entry in summary.parts] == ["done", "done", "failed", "not begun"]
    assert [fault.name for fault in summary.faults] == ["NotRecorded"]
    assert "the journal is not complete" in summary.notes[-1]


def test_a_batch_whose_journal_is_full_moves_nothing(tmp_path: Path) -> None:
    with open_journal(tmp_path / "journal.db") as journal, no_file_larger_than(4096):
        summary = batch.run_blocking(sound(), journal=journal)
    assert [fault.name for fault in summary.faults] == ["NotRecorded"]
    assert not summary.moved


# ---- what a batch keeps ---------------------------------------------------------------------------------------


def kept(tmp_path: Path) -> list[Entry]:
    with open_journal(tmp_path / "journal.db") as journal:
        batch.run_blocking(sound(), journal=journal)
        return journal.entries()


def test_each_write_has_its_intent_before_and_its_outcome_after_it(tmp_path: Path) -> None:
    entries = kept(tmp_path)
    steps = [
        (entry.kind.value, entry.data["number"]) for entry in entries if entry.kind.value in ("intent", "outcome")
    ]
    assert steps == [(kind, number) for number in (1, 2, 1, 2) for kind in ("intent", "outcome")]
    intent = next(entry for entry in entries if entry.kind is Kind.INTENT)
    assert intent.data["old"] == {"x": 0.0, "y": 0.0, "z": 0.0}
    assert [len(face["contacts"]) for face in intent.data["faces"]] == [3, 3, 1, 3]  # the third assures the lead


def test_a_batch_keeps_who_it_was_and_every_answer(tmp_path: Path) -> None:
    """Answers between the runs are kept like those inside them."""
    entries = kept(tmp_path)
    begun = entries[0].data
    assert (begun["adapter"], begun["simulated"], begun["facts"]["resolution"]) == ("mock", True, 0.0025)
    assert set(begun["versions"]) == {"gingerly", "python"}
    asked = [entry.data["question"] for entry in entries if entry.kind is Kind.ASKED]
    assert asked.count("next part") == 3
    assert asked[-1] == "release"
    assert [entry.kind for entry in entries[-2:]] == [Kind.RELEASED, Kind.BATCH_ENDED]


def test_a_waiver_is_on_record(tmp_path: Path) -> None:
    job = sound().with_options(operator={"answers": {"close at tip": "waive"}})
    with open_journal(tmp_path / "journal.db") as journal:
        batch.run_blocking(job, journal=journal)
        assert [one.waived for one in what_was_set(journal, part="lid 1")] == [True]
        assert "waive" in [entry.data["answer"] for entry in journal.entries(kind=Kind.ASKED)]


@pytest.mark.asyncio
async def test_an_interrupted_batch_keeps_that_too(tmp_path: Path) -> None:
    import asyncio

    job = sound().with_options(faults=[{"what": "pause", "call": "sense", "nth": 5, "after_mm": 0.2}])
    with open_journal(tmp_path / "journal.db") as journal:
        async with batch.connect(job) as machine:
            task = asyncio.ensure_future(Batch(job, machine, books=Books(journal, job, machine)).run())
            while not machine.adapter.paused:  # type: ignore[attr-defined]  # noqa: ASYNC110
                await asyncio.sleep(0)
            task.cancel()
            await asyncio.wait({task})
        ended = [entry.data["fault"] for entry in journal.entries(kind=Kind.ENDED)]
        assert [fault and fault["name"] for fault in ended] == [None, "Interrupted"]
        assert journal.entries()[-1].data["interrupted"] is True


# ---- history --------------------------------------------------------------------------------------------------


def test_what_was_set_can_be_filtered_and_the_unreleased_come_last(tmp_path: Path) -> None:
    days = iter((0.0, 86400.0, 90000.0, 2 * 86400.0))
    with open_journal(tmp_path / "journal.db", now=lambda: next(days)) as journal:
        journal.add(an_outcome(part="early", machine="attic mill"))
        journal.add(an_outcome(part="lid 1"))
        journal.add(some(Kind.RELEASED, part=""))
        journal.add(an_outcome(2, part="lid 2", machine="attic mill"))
        found = what_was_set(journal)
        assert [(one.part, one.released) for one in found] == [("lid 1", True), ("early", False), ("lid 2", False)]
        assert [one.part for one in what_was_set(journal, machine="attic mill", since_s=1.0)] == ["lid 2"]
        assert [one.part for one in what_was_set(journal, until_s=86400.0)] == ["early"]
        assert [one.part for one in what_was_set(journal, part="lid 1", job="lids")] == ["lid 1"]
        assert [one.part for one in what_was_set(journal, last=1)] == ["lid 2"]


def test_an_offset_that_does_not_read_as_meant_was_not_set(journal: Journal) -> None:
    journal.add(an_outcome(read=1.5))
    assert what_was_set(journal) == []


def test_exports_hold_what_the_journal_holds(journal: Journal) -> None:
    journal.add(an_outcome(part="=lid, 1"))
    lines, table = io.StringIO(), io.StringIO(newline="")
    as_json_lines(journal.entries(), lines)
    as_csv(what_was_set(journal), table)
    assert json.loads(lines.getvalue())["data"]["new"] == {"x": 1.0, "y": 1.0, "z": 1.0}
    row = next(iter(csv.DictReader(io.StringIO(table.getvalue()))))
    assert (row["part"], row["offset"], row["new_z"], row["released"]) == ("'=lid, 1", "1", "1.0", "no")


# ---- where the machine stands ---------------------------------------------------------------------------------


def test_the_last_whereabouts_survive_and_damage_is_noticed(tmp_path: Path) -> None:
    places = Whereabouts(tmp_path / "journal.db", "bench mill")
    assert places.last() is None
    places.note(HERE, Position(11.0, 20.0, -5.0), 3, cut_off=True)
    places.close()
    again = Whereabouts(tmp_path / "journal.db", "bench mill")
    assert again.last() == LastKnown(HERE, Position(11.0, 20.0, -5.0), 3, True)
    data = bytearray(again.path.read_bytes())
    data[20] ^= 1
    again.path.write_bytes(data)
    assert again.last() is None


@pytest.mark.parametrize(("what", "goes_on"), [("link lost", True), ("noise", False)])
def test_a_way_whose_end_nobody_saw_stays_on_record(tmp_path: Path, what: str, *, goes_on: bool) -> None:
    """Where the link broke the machine goes on to its target; where it was seen to stand, that place is kept."""
    job = sound().with_options(faults=[{"what": what, "call": "sense", "nth": 1, "after_mm": 2.0, "amount": 9.0}])
    with open_journal(tmp_path / "journal.db") as journal:
        batch.run_blocking(job, journal=journal)
        last = journal.whereabouts(f"{job.machine.name} (virtual)").last()
    assert last is not None
    assert last.cut_off is goes_on
    assert (last.start.z - last.end.z > 5.0) is goes_on


LAST = LastKnown(HERE, Position(20.0, 20.0, -5.0), 3, True)


@pytest.mark.parametrize(
    ("snapshot", "said"),
    [
        (Snapshot(Position(15.0, 20.0, -5.0), idle=True, restarts=3), ""),
        (Snapshot(HERE, idle=True, restarts=3), ""),
        (Snapshot(HERE, idle=True, restarts=4), "restarted"),
        (Snapshot(HERE, idle=True, restarts=3, homed=False), "lost its home"),
        (Snapshot(HERE, idle=True, restarts=3, alarm=True), "an alarm stands"),
        (Snapshot(Position(15.0, 20.1, -5.0), idle=True, restarts=3), "something else has moved it"),
        (Snapshot(Position(20.1, 20.0, -5.0), idle=True, restarts=3), "something else has moved it"),
    ],
)
def test_trust_ends_with_restarts_lost_homes_and_places_nobody_sent_the_machine_to(
    snapshot: Snapshot, said: str
) -> None:
    found = doubt(LAST, snapshot, FACTS)
    assert (said in found) if said else found == ""


def test_without_home_switches_the_same_numbers_are_not_trusted_again() -> None:
    """After power-off such a machine calls any place by the numbers of another one."""
    homeless = replace(FACTS, home=Home.NONE)
    assert "no home switches" in doubt(LAST, Snapshot(HERE, idle=True, restarts=3), homeless)


def test_a_machine_of_which_nothing_is_on_record_is_not_trusted() -> None:
    assert doubt(None, Snapshot(HERE, idle=True), FACTS)
