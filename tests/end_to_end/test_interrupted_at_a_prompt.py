"""Ctrl-C at any prompt ends a run in words, and `--resume` goes on where it was, as the README shows it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from support.command import within
from support.terminal import Terminal

pytestmark = pytest.mark.thorough

JOB = """
title = "owl boxes"
journal = "owls.db"

[machine]
adapter = "mock"
name = "garden mill"

[machine.options]
memory = "{memory}"

[tools.pin]
diameter = "1/8 in"
free_length = 22

[plates.brass]
size_a = 48
size_b = 44
height = 13
recess_a = 36
recess_b = 33
recess_depth = 5

[defaults]
tool = "pin"
plate = "brass"
stock = {{ size_x = 70, size_y = 60, thickness = 15 }}

[[parts]]
name = "owl"
routine = "outside corner"
place = {{ x = 20, y = 20, z = -45 }}
offset = 1
grid = {{ rows = 1, columns = 2, pitch_x = 95 }}
"""

WORD = re.compile(r"Type {2}(\S+) {2}when that is done")
"""Each question shows the word that answers it."""

PROMPTS = 10
"""So many questions the whole run asks."""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "owls.toml"
    path.write_text(JOB.format(memory=(tmp_path / "garden mill.json").as_posix()), encoding="utf-8")
    return path


def interrupted(job: Path, at: int) -> tuple[str, int]:
    """Answer each prompt, and press Ctrl-C at the one of this number."""
    with Terminal("run", str(job), "--prompts") as terminal:
        for _ in range(at - 1):
            terminal.type(f"{WORD.findall(terminal.until('  > '))[-1]}\n")
        terminal.until("  > ")
        terminal.type("\x03")
        return terminal.end()


@pytest.mark.parametrize("at", range(1, PROMPTS + 1))
def test_ctrl_c_at_a_prompt_is_told_in_words_and_resumed(job: Path, at: int) -> None:
    screen, code = interrupted(job, at)
    assert code == 130, screen
    assert "Traceback" not in screen
    assert "interrupted" in screen
    again = within("run", str(job), "--resume", "--json")
    document = json.loads(again.stdout)
    assert (again.returncode, document["complete"], document["released"]) == (0, True, True), again.stderr
    set_before = [part["name"] for part in document["parts"] if part["status"] == "set before"]
    assert set_before == (["owl 1-1", "owl 1-2"] if at == PROMPTS else ["owl 1-1"] if at > 4 else [])


def test_what_the_controller_lost_meanwhile_is_a_conflict_that_can_be_accepted(job: Path) -> None:
    """Somebody types another origin at the machine; the person at the terminal says that it is right."""
    assert within("run", str(job)).returncode == 0
    memory = job.with_name("garden mill.json")
    kept = json.loads(memory.read_text("utf-8"))
    kept["offsets"]["2"] = [100.0, 20.0, -45.0]
    memory.write_text(json.dumps(kept), "utf-8")
    refused = within("run", str(job), "--resume")
    assert "say so by part: 'owl 1-2' (--accept)" in " ".join(refused.stdout.split())
    accepted = within("run", str(job), "--resume", "--accept", "owl 1-2", "--json")
    assert accepted.returncode == 0, accepted.stderr
    assert [part["status"] for part in json.loads(accepted.stdout)["parts"]] == ["set before"] * 2
    shown = within("history", "--journal", str(job.with_name("owls.db")))
    assert "accepted as it stood, not touched" in shown.stdout
