"""Files that a job names among its machine's options lie beside the job, as its journal does."""

from __future__ import annotations

from pathlib import Path

import pytest

from gingerly import job as jobs
from gingerly.batch import connect
from gingerly_serial.profile import load
from support.practice import MACHINE, PIN_AND_PLATE

PART = """
[[parts]]
name = "only"
routine = "outside corner"
place = { x = 100, y = 60, z = -50 }
offset = 1
"""


def job(folder: Path, *, profile: str = "practice", more: str = "") -> Path:
    """A job file in a folder that is not the current one."""
    table = MACHINE.format(port="socket://127.0.0.1:9", profile=profile, speed=1, answer_s=4)
    (folder / "job.toml").write_text(f"{PIN_AND_PLATE}{PART}{table}{more}", "utf-8")
    return folder / "job.toml"


def test_a_profile_is_looked_for_beside_the_job(tmp_path: Path) -> None:
    """From wherever the command is called."""
    shipped = Path(load.__code__.co_filename).parent / "profiles" / "practice.toml"
    mine = shipped.read_text("utf-8").replace('name = "practice"', 'name = "mine"')
    (tmp_path / "mine.toml").write_text(mine, "utf-8")
    assert connect(jobs.read(job(tmp_path, profile="mine.toml"))).facts.name == "mine"


def test_a_bare_word_is_the_profile_that_ships(tmp_path: Path) -> None:
    (tmp_path / "practice").write_text("no profile at all", "utf-8")
    assert connect(jobs.read(job(tmp_path))).facts.name == "practice"


def test_a_profile_that_is_not_there_is_named_with_its_folder(tmp_path: Path) -> None:
    with pytest.raises(jobs.JobError, match=str(tmp_path / "none.toml")):
        connect(jobs.read(job(tmp_path, profile="none.toml")))


def test_transcript_and_memory_lie_beside_the_job_and_whole_paths_stay(tmp_path: Path) -> None:
    more = f'transcript = "log/t.jsonl"\nmemory = "{tmp_path.parent}/m.json"\n'
    options = jobs.read(job(tmp_path, more=more)).machine.options
    assert options["transcript"] == str(tmp_path / "log" / "t.jsonl")
    assert options["memory"] == f"{tmp_path.parent}/m.json"


def test_a_transcript_that_cannot_be_kept_is_told_with_the_job(tmp_path: Path) -> None:
    """Bad input that names the option, before anything is opened."""
    with pytest.raises(jobs.JobError, match=r"job\.toml: machine\.options: the transcript '.*' cannot be kept"):
        connect(jobs.read(job(tmp_path, more='transcript = "none/t.jsonl"\n')))


@pytest.mark.parametrize("name", ["port", "name"])
def test_other_options_are_left_as_they_stand(tmp_path: Path, name: str) -> None:
    options = jobs.read(job(tmp_path, more='name = "a.b"\n')).machine.options
    assert options[name] == {"port": "socket://127.0.0.1:9", "name": "a.b"}[name]


def test_a_text_without_a_folder_is_read_as_it_stands(tmp_path: Path) -> None:
    """A script's own job has no file that anything could lie beside."""
    found = jobs.loads(job(tmp_path, profile="mine.toml").read_text("utf-8"))
    assert found.machine.options["profile"] == "mine.toml"
