"""Transcripts, and a profile checked against one."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from gingerly_serial.__main__ import main
from gingerly_serial.check import replay, summary
from gingerly_serial.profile import load
from gingerly_serial.transcript import Entry, Transcript, obstacle, read
from support.practice import SHAPES, profile_of

STATE = (
    "just now: resting; at 1.0, 2.0, -3.0; tip and plate joined; spindle still; of its place sure;"
    " shifted 0, 0, 0; lengthened 0; turned 0; pace 50; in millimetres; start 1"
)

NOTHING = "there is nothing of this name"


def written(tmp_path: Path, *entries: tuple[str, bytes]) -> Path:
    """A transcript with these entries, as the adapter writes it."""
    path = tmp_path / "exchange.jsonl"
    transcript = Transcript(path)
    transcript.open()
    for way, data in entries:
        transcript.note(way, data)
    transcript.close()
    return path


def test_transcript_reads_back_byte_for_byte(tmp_path: Path) -> None:
    """Printable lines stand as text and everything else as numbers; nothing is lost."""
    entries = [("sent", b"N1 G90"), ("sent", b"\x05"), ("heard", b"\xff\x00noise"), ("heard", b"line 1 is taken")]
    found = list(read(written(tmp_path, *entries)))
    assert [(entry.way, entry.data) for entry in found] == entries
    assert all(later.at_s >= former.at_s for former, later in pairwise(found))


def test_check_says_line_by_line_what_was_understood(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A state becomes place, motion, circuit and oddities; a strange line is named, and the exit code says so."""
    path = written(tmp_path, ("sent", b"\x05"), ("heard", STATE.encode()), ("heard", b"gibberish"))
    code = main(["profile", "check", "practice", "--transcript", str(path)])
    out = capsys.readouterr().out
    assert code == 1
    assert "X1.000 Y2.000 Z-3.000 mm (machine), at rest, circuit closed, spindle still, no alarm, homed" in out
    assert "a feed override of 50%" in out
    assert "NOT UNDERSTOOD" in out
    assert "1 lines not understood" in out


def test_check_without_a_transcript_says_what_the_controller_cannot_tell(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What a profile leaves untold is said before anybody relies on it."""
    assert main(["profile", "check", profile_of("chatter")]) == 0
    out = capsys.readouterr().out
    assert "CANNOT tell its work offsets" in out
    assert "CANNOT tell restarts" in out


@pytest.mark.parametrize("shape", SHAPES)
def test_summary_of_every_shape_is_short(shape: str) -> None:
    """One line a thing, so that it is read."""
    assert len(list(summary(load(profile_of(shape))))) <= 20


def test_everything_that_a_profile_has_the_program_send_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """A request that moves the machine cannot be told from one that asks; a person has to look it up."""
    assert main(["profile", "check", "practice"]) == 0
    out = capsys.readouterr().out
    profile = load("practice")
    for sent in (profile.offsets.ask, profile.clear, profile.home):
        assert sent is not None
        assert f": {sent.line}\n" in out
    for real_time in (profile.state.ask, profile.stop):
        assert real_time is not None
        assert f": <{real_time.byte:02X}>\n" in out


def test_bad_files_are_named_without_a_traceback(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A missing profile, or a transcript that is none, is bad input: exit code 2 and one sentence."""
    broken = tmp_path / "broken.jsonl"
    broken.write_text('{"t": 0, "way": "sideways", "text": "x"}\n', "ascii")
    assert main(["profile", "check", str(tmp_path / "none.toml")]) == 2
    assert main(["profile", "check", "practice", "--transcript", str(broken)]) == 2
    err = capsys.readouterr().err
    assert "none.toml" in err
    assert "broken.jsonl, line 1" in err


@pytest.mark.parametrize("line", ["[]", "{}", '"x"', "{", json.dumps({"way": "sent", "hex": "zz"}), "9" * 5000])
def test_lines_that_are_no_entries_are_refused_by_number(tmp_path: Path, line: str) -> None:
    """Whatever stands in the file, the answer is its name and the line."""
    path = tmp_path / "bad.jsonl"
    path.write_text(f"\n{line}\n", "ascii")
    with pytest.raises(
        ValueError, match=r"bad\.jsonl, line 2: this is no entry of a transcript, a JSON object with t,"
    ):
        list(read(path))


def test_a_transcript_that_is_not_there_is_named_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, without the numbers of the operating system."""
    assert main(["profile", "check", "practice", "--transcript", str(tmp_path / "none")]) == 2
    err = capsys.readouterr().err
    assert err == f"gingerly profile check: the transcript '{tmp_path}/none' cannot be read: {NOTHING}\n"


def test_replay_keeps_what_was_sent_in_its_place(tmp_path: Path) -> None:
    """Sent and heard lines follow each other as they did on the wire."""
    path = written(tmp_path, ("sent", b"N1 G90"), ("heard", b"line 1 is taken"))
    told = [one.text for one in replay(load("practice"), path)]
    assert "sent" in told[0]
    assert "accepted" in told[1]
    assert Entry(0.0, "sent", b"x").data == b"x"


def test_a_name_that_no_disk_takes_is_told_and_no_traceback() -> None:
    assert obstacle(Path("/tmp") / ("x" * 300))
