"""The examples of the journal run as they stand."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"


def printed(name: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-W", "error", str(EXAMPLES / name)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_a_batch_that_was_cut_off_is_resumed() -> None:
    cut_off, resumed, off = printed("resume_after_interruption.py")
    assert "knight: failed; cutter in: not begun" in cut_off
    assert resumed.startswith(
        "resumed: rook, reference: set before; rook: set before; knight: done; cutter in: done"
    )
    assert off == "lead and plate are off"


def test_two_machines_are_set_up_at_once() -> None:
    lines = printed("two_machines.py")
    assert sorted(lines[:2]) == ["attic mill: lid is done", "cellar mill: lid is done"]
    assert all("released: True" in line for line in lines[2:])


def test_the_journal_is_read_as_in_a_notebook() -> None:
    lines = printed("reading_the_journal.py")
    assert any("rook: offset 1" in line and "released" in line for line in lines)
    assert any("µm over" in line for line in lines)
    assert any(line.startswith("number,at,machine") for line in lines)
