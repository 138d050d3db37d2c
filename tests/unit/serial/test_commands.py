"""The adapter's own commands: their help, and bad input, each answered in a sentence and with its exit code."""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path

import pytest

from gingerly_serial.__main__ import READER_GONE, main
from gingerly_serial.practice.words import CLOSINGS, HELP

COLUMNS = 80


@pytest.mark.parametrize("words", [["practice"], ["profile"], ["profile", "check"]])
def test_help_says_what_a_command_does_and_what_its_exit_codes_mean(
    words: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In 80 columns, and whether anything moves."""
    monkeypatch.setenv("COLUMNS", str(COLUMNS))
    with pytest.raises(SystemExit, match="0"):
        main([*words, "--help"])
    out = capsys.readouterr().out
    assert "othing real\nmoves" in out or "Nothing moves" in out
    codes = out.partition("exit codes:\n")[2].splitlines()
    assert [line.split()[0] for line in codes][:1] == ["0"]
    assert "2 " in out.partition("exit codes:\n")[2]
    assert max(map(len, out.splitlines())) <= COLUMNS


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--tcp", "99999"], "--tcp must be a whole number from 0 to 65535, not 99999"),
        (["--tcp", "-1"], "--tcp must be a whole number from 0 to 65535, not -1"),
        (["--speed", "0"], "--speed must lie from 0.01 to 1000, not 0"),
        (["--speed", "nan"], "--speed must be a finite number"),
        (["--mischief", "{"], "--mischief '{' is not JSON"),
        (["--mischief", '{"what": "resett"}'], "no mischief is called 'resett'; did you mean 'reset'?"),
        (["--truth", "/none/truth.jsonl"], "the truth log '/none/truth.jsonl' cannot be written: there is nothing"),
        (["--scene", "/none/scene.toml"], "the scene '/none/scene.toml' cannot be read: there is nothing"),
        (["--profile", "/none/mine.toml"], "the profile '/none/mine.toml' cannot be read: there is nothing"),
        (["--tcp", "0", "--interface", "203.0.113.9"], "of 203.0.113.9: this computer has no such address"),
    ],
)
def test_bad_input_of_the_practice_controller_is_one_sentence(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2. The address is one kept for documents (RFC 5737)."""
    assert main(["practice", "--no-hands", *words]) == 2
    out, err = capsys.readouterr()
    assert err.startswith("gingerly practice: ")
    assert said in err
    assert (err.count("\n"), out) == (1, "")


def test_a_scene_file_with_an_unknown_table_is_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is not served as if nothing had been said."""
    (tmp_path / "scene.toml").write_text("[machin]\nposition = [1, 2, 3]\n", "ascii")
    assert main(["practice", "--tcp", "0", "--no-hands", "--scene", str(tmp_path / "scene.toml")]) == 2
    assert "and no 'machin'; the nearest is 'machine'" in capsys.readouterr().err


def test_whoever_stops_reading_a_check_is_no_bad_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As after ``| head``: nothing is said, and the exit code is that of a reader that has gone."""
    reader, writer = os.pipe()
    os.close(reader)
    with monkeypatch.context() as patch, io.TextIOWrapper(io.FileIO(writer, "w"), write_through=True) as gone:
        patch.setattr(sys, "stdout", gone)
        assert main(["profile", "check", "practice"]) == READER_GONE
    assert capsys.readouterr().err == ""


def test_the_words_that_hands_can_type_fit_the_screen_and_name_every_closing() -> None:
    assert max(map(len, HELP.splitlines())) <= COLUMNS
    for word in (*CLOSINGS, "open", "clear", "release", "lead on", "emergency stop", "set up", "plug in", "quit"):
        assert word in HELP
