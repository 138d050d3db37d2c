"""Bad input ends with exit code 2, names the file and the key, and never shows a traceback."""

from __future__ import annotations

import logging
import os
import subprocess
from pathlib import Path

import pytest

from support.command import COMMAND, LIMIT_S, gingerly, within, write
from support.jobs import SOUND, spoiled

HOSTILE = {
    "empty": ("", "machine: is missing"),
    "not toml": ("title = \n", "line 1, column 9"),
    "unknown key": (spoiled("offset = 1", "ofset = 1"), "parts[1].ofset"),
    "wrong type": (spoiled("offset = 1", "offset = [1]"), "parts[1].offset"),
    "negative size": (spoiled("free_length = 15", "free_length = -15"), "tools.cutter.free_length"),
    "not a number": (spoiled("x = 170", "x = nan"), "parts[2].place.x"),
    "beyond all numbers": (spoiled("x = 170", "x = 1e400"), "parts[2].place.x"),
    "control characters": (spoiled('name = "pad"', 'name = "\\u001b]0;gone\\u0007"'), "parts[0].name"),
    "deep nesting": ("a = " + "[" * 10_000, "nested too deeply"),
    "huge number": ("a = " + "1" * 10_000, "thousands of digits"),
    "long key": (SOUND + f"\n{'k' * 5000} = 1\n", "parts[3].kkk"),
    "unknown adapter": (spoiled('"mock"', '"mokc"'), "machine.adapter: no adapter is called 'mokc'"),
    "unknown option": (spoiled("seed = 11", "sede = 11"), "machine.options"),
    "option of a wrong kind": (spoiled("seed = 11", 'envelope = "big"'), "machine.options"),
    "option deep inside": (spoiled("seed = 11", "faults = [{ what = 3, contact = 1 }]"), "machine.options"),
}


@pytest.mark.parametrize("command", [("run",), ("demo", "--job")], ids=["run", "demo"])
@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_job_file_is_refused_in_words(kind: str, command: tuple[str, ...], tmp_path: Path) -> None:
    text, told = HOSTILE[kind]
    path = write(tmp_path, text)
    ended = within(*command, path)
    assert ended.returncode == 2, ended.stderr
    assert ended.stdout == ""
    assert told in ended.stderr
    assert path in ended.stderr
    assert "Traceback" not in ended.stderr
    assert all(line.isprintable() for line in ended.stderr.splitlines())


def test_as_a_process_of_its_own_it_is_refused_just_so(tmp_path: Path) -> None:
    path = write(tmp_path, spoiled("x = 170", "x = nan"))
    ended = gingerly("run", path)
    assert ended.returncode == 2
    assert (
        ended.stderr
        == f'{path}: parts[2].place.x: x must be a finite number such as 6, "6 mm" or "1/4 in", not nan\n'
    )


@pytest.mark.parametrize("kind", ["missing", "folder", "device", "not text", "too large", "odd name"])
def test_a_file_that_cannot_be_read_is_refused_in_words(kind: str, tmp_path: Path) -> None:
    path = tmp_path / ("job\x1b[31m.toml" if kind == "odd name" else "job.toml")
    if kind == "folder":
        path.mkdir()
    elif kind == "device":
        path = Path(os.devnull)
    elif kind == "not text":
        path.write_bytes(b"\xff\xfe\x00")
    elif kind == "too large":
        path.write_bytes(b"#" * (5 * 2**20))
    ended = within("run", str(path))
    assert ended.returncode == 2
    assert "Traceback" not in ended.stderr
    assert len(ended.stderr.splitlines()) == 1
    assert ended.stderr.strip().isprintable()


@pytest.mark.parametrize("arguments", [("",), ("rnu",), ("run",), ("demo", "--seed", "x"), ("demo", "--jsn")])
def test_a_slip_on_the_command_line_ends_with_2(arguments: tuple[str, ...]) -> None:
    ended = within(*arguments)
    assert ended.returncode == 2
    assert ended.stderr.startswith("usage: gingerly")


def test_a_link_that_cannot_be_opened_is_a_fault_and_not_a_traceback(tmp_path: Path) -> None:
    ended = within("run", write(tmp_path, spoiled("seed = 11", 'faults = [{ what = "link lost", call = "open" }]')))
    assert ended.returncode == 1
    assert "LinkLost" in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.thorough
@pytest.mark.skipif(os.name != "posix", reason="closes streams as a shell does")
@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_stream_that_is_closed_is_nobody_there_and_no_traceback(closed: str, tmp_path: Path) -> None:
    """Without an input nobody can answer, and what cannot be shown is not shown."""
    words = [*COMMAND, "run", "--prompts", "--journal", str(tmp_path / "journal.db"), write(tmp_path, SOUND)]
    ended = subprocess.run(
        ["sh", "-c", f'exec "$@" {closed}', "sh", *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=LIMIT_S,
        check=False,
    )
    assert ended.returncode == 3
    assert "Traceback" not in ended.stdout + ended.stderr


def test_what_goes_wrong_aside_is_told_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An observer that fails, a record that could not be closed: nobody at a machine is helped by a traceback."""
    within("adapters")
    try:
        raise OSError(28, "No space left")
    except OSError:
        logging.getLogger("gingerly").exception("the end of the run could not be recorded")
    assert capsys.readouterr().err == "note: the end of the run could not be recorded: OSError\n"
