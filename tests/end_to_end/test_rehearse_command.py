"""`gingerly rehearse` from the command line: the account, one run again, and what is refused."""

from __future__ import annotations

import json

import pytest

from gingerly.cli import main
from support.jobs import SOUND
from support.terminal import Terminal

pytestmark = pytest.mark.thorough


@pytest.fixture
def job(tmp_path):
    """The sound job, in a file."""
    path = tmp_path / "lids.toml"
    path.write_text(SOUND, encoding="utf-8")
    return str(path)


def test_the_account_fits_80_columns_and_tells_every_axis(job, capsys):
    assert main(["rehearse", job, "--runs", "20", "--workers", "1"]) == 0
    out = capsys.readouterr().out
    assert max(len(line) for line in out.splitlines() if "gingerly rehearse" not in line) <= 80
    assert "20 of 20, 100.0 %" in out
    assert [line.split()[2] for line in out.splitlines() if line.startswith("lid 1")] == ["X", "Y", "Z"]
    assert f"gingerly rehearse {job} --seed 1 --run " in out


def test_json_is_one_document_the_same_for_any_number_of_workers(job, capsys):
    told = []
    for workers in ("1", "2"):
        assert main(["rehearse", job, "--runs", "60", "--workers", workers, "--json"]) == 0
        told.append(json.loads(capsys.readouterr().out))
    assert told[0] == told[1]
    assert told[0]["success"]["count"] == 60


def test_one_run_is_shown_as_a_run_would_be(job, capsys):
    assert main(["rehearse", job, "--seed", "2", "--run", "7"]) == 0
    out = capsys.readouterr().out
    assert "run 7 of seed 2" in out
    assert "truth" in out


def test_runs_that_end_in_a_fault_are_counted_and_end_with_code_1(job, capsys):
    assert main(["rehearse", job, "--runs", "10", "--workers", "1", "--fault", "lead off=1"]) == 1
    assert "NoContact" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("option", "said"),
    [
        (["--fault", "lead of=0.5"], "no fault is called 'lead of'; the nearest is 'lead off'"),
        (["--fault", "lead off"], 'must be such as "lead off=0.01"'),
        (["--fault", "lead off=2"], "must lie from 0 to 1"),
    ],
)
def test_a_fault_that_cannot_be_is_bad_input_in_words(job, capsys, option, said):
    assert main(["rehearse", job, "--runs", "2", *option]) == 2
    assert said in capsys.readouterr().err


def test_a_job_for_another_machine_is_rehearsed_on_the_virtual_one_and_that_is_said(tmp_path, capsys):
    path = tmp_path / "real.toml"
    begin, rest = SOUND.split("[machine.options]")[0], SOUND.split("tool_length_range = 0.5")[1]
    path.write_text(begin.replace('adapter = "mock"', 'adapter = "serial"') + rest, encoding="utf-8")
    main(["rehearse", str(path), "--runs", "2", "--workers", "1"])
    assert "it is rehearsed on the virtual machine's own" in " ".join(capsys.readouterr().err.split())


def test_ctrl_c_in_mid_rehearsal_is_told_in_one_word(job):
    """Nothing real was moved, so nothing is said of a machine; the workers are torn as well, and say nothing."""
    with Terminal("rehearse", job, "--runs", "3000", "--workers", "2") as terminal:
        terminal.until("rehearsed 50 of 3000")
        terminal.type("\x03")
        screen, code = terminal.end()
    assert code == 130
    assert screen.split()[-1].removeprefix("^C") == "interrupted"
    assert "Traceback" not in screen
