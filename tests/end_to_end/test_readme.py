"""Everything that the README tells people to run, run."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from support.command import within

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
SCRIPTS = [body for language, body in BLOCKS if language == "python"]
COMMANDS = [body.strip() for language, body in BLOCKS if language == "sh"]
TABLES = [body for language, body in BLOCKS if language == "toml"]
NOT_COMMANDS = {"as", "does", "is"}
SETTING_UP = re.compile(r"^python3 -m venv \.venv && \.venv/bin/pip install --quiet (--editable )?\S+ && ")


def _run(
    arguments: list[str], cwd: Path = ROOT, env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        arguments, cwd=cwd, env=env, capture_output=True, text=True, timeout=120, check=False, encoding="utf-8"
    )


@pytest.mark.parametrize("number", range(len(SCRIPTS)))
def test_each_script_runs_as_it_stands(number):
    """A script copied from the README works."""
    done = _run([sys.executable, "-W", "error", "-c", SCRIPTS[number]])
    assert done.returncode == 0, done.stderr
    assert done.stdout


def test_the_scripts_print_what_they_promise():
    """The first sets a corner near the truth, the second tells a fault as a story."""
    first, second = (_run([sys.executable, "-c", script]).stdout for script in SCRIPTS)
    assert re.fullmatch(r"set to X\S+ Y\S+ Z\S+ - true is X\S+ Y\S+ Z\S+\n", first)
    assert second.startswith("NoContact: ")
    assert "check first: " in second


def test_each_script_is_short():
    """An embedding that takes more than about fifteen lines is not one."""
    for script in SCRIPTS:
        assert len([line for line in script.splitlines() if line.strip()]) <= 16


def test_there_are_two_commands_and_each_sets_itself_up():
    """One runs the main job, one the tests, and both begin on a machine that has only Python."""
    demo, tests = COMMANDS
    assert SETTING_UP.match(demo)
    assert SETTING_UP.match(tests)
    assert demo.endswith("gingerly demo")
    assert tests.endswith("pytest")


@pytest.mark.thorough
def test_the_job_in_the_readme_is_checked_and_run(tmp_path):
    """The job that people copy first can be checked, and runs to the end on the virtual machine."""
    job = tmp_path / "coasters.toml"
    job.write_text(TABLES[0], encoding="utf-8")
    checked = _run([sys.executable, "-m", "gingerly", "check", str(job)], cwd=tmp_path)
    assert checked.returncode == 0, checked.stderr
    words = [sys.executable, "-m", "gingerly", "run", str(job), "--journal", str(tmp_path / "journal.db")]
    done = _run(words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("coaster ") >= 6


@pytest.mark.thorough
def test_what_the_readme_says_of_the_journal_is_done(tmp_path):
    """Each command of its block, in order, on the job of the README, the first one cut off by a lead that is off."""
    job = tmp_path / "coasters.toml"
    job.write_text(TABLES[0], encoding="utf-8")
    (block,) = [body for language, body in BLOCKS if language == "console" and "--resume" in body]
    first, *others = [line.removeprefix("$ ").partition("  #")[0].split(">")[0] for line in block.splitlines()]
    off = 'faults = [{ what = "lead off", call = "sense", nth = 25 }]\nmemory'
    job.write_text(TABLES[0].replace("memory", off, 1), encoding="utf-8")
    environment = {**os.environ, "GINGERLY_JOURNAL": str(tmp_path / "journal.db")}
    done = [_run([sys.executable, "-m", *shlex.split(first)], cwd=tmp_path, env=environment)]
    job.write_text(TABLES[0], encoding="utf-8")
    done += [_run([sys.executable, "-m", *shlex.split(each)], cwd=tmp_path, env=environment) for each in others]
    assert [one.returncode for one in done] == [1, 0, 0, 0, 0, 0, 0], [one.stderr for one in done]
    assert done[1].stdout.count("set before") == 2
    assert all("coaster 1-2" in one.stdout for one in done[3:])


@pytest.mark.thorough
def test_what_the_readme_says_of_how_sure_it_is_is_done(tmp_path):
    """Each command of its block, on the job of the README with its doubts and its wish: the wish shows in the plan."""
    wished = TABLES[0].replace("within = 1 ", "wishes = { uncertainty = 0.002 }\nwithin = 1 ", 1)
    (tmp_path / "coasters.toml").write_text(wished + TABLES[1], encoding="utf-8")
    (block,) = [body for language, body in BLOCKS if language == "console" and "gingerly rehearse" in body]
    commands = [shlex.split(line.removeprefix("$ ").partition("  #")[0]) for line in block.splitlines()]
    done = [_run([sys.executable, "-m", *words], cwd=tmp_path) for words in commands]
    assert [one.returncode for one in done] == [0, 0, 0, 1], [one.stderr for one in done]
    assert "the fastest that keeps 2.00 µm" in done[0].stdout
    assert "inside" in done[1].stdout
    assert "NoContact" in done[3].stdout


def test_every_other_table_in_the_readme_is_sound():
    """The machine table makes a serial adapter, and the reply of a profile is one that the profile reader takes."""
    from gingerly.driver.registry import make

    machine = tomllib.loads(TABLES[2])["machine"]
    assert make(machine["adapter"], machine["options"]) is not None
    (reply,) = tomllib.loads(TABLES[3])["reply"]
    assert set(reply) == {"means", "text"}


def test_the_stop_test_in_the_readme_is_run_and_tells_what_it_promises(tmp_path):
    """On the virtual machine, whose operator touches and presses; its tool stands low enough."""
    job = tmp_path / "first_day.toml"
    machine = '[machine]\nadapter = "mock"\nname = "mill"\n[machine.options]\nposition = [150, 100, -60]\n'
    job.write_text(TABLES[4] + machine, encoding="utf-8")
    done = _run([sys.executable, "-m", "gingerly", "run", str(job), "--journal", str(tmp_path / "journal.db")])
    assert done.returncode == 0, done.stderr
    (promised,) = [body for language, body in BLOCKS if language == "console" and "first_day" in body]
    for line in promised.splitlines()[1:]:
        assert re.sub(r"[\d.]+ mm", "N mm", line) in re.sub(r"[\d.]+ mm", "N mm", done.stdout)


def test_every_command_in_the_readme_exists():
    """Each `gingerly WORD` that is named anywhere has a help text."""
    named = set(re.findall(r"`?\$? ?gingerly ((?:profile check|job schema|[a-z][a-z-]+))", README))
    for command in sorted(named - NOT_COMMANDS):
        assert within(*command.split(), "--help").returncode == 0, command


def test_the_demo_command_does_what_it_says():
    """The main job, as the README runs it, ends well."""
    words = shlex.split(SETTING_UP.sub("", COMMANDS[0]))
    done = _run([sys.executable, "-m", "gingerly", *words[1:]])
    assert done.returncode == 0, done.stderr


def test_the_check_of_a_change_calls_exactly_the_test_command():
    """What must be green before a change lands is what the README says."""
    check = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert COMMANDS[1] in check.splitlines()


def test_every_file_that_is_linked_exists():
    """Links and paths in the README lead somewhere."""
    linked = re.findall(r"\]\(([^)#]+)\)", README) + re.findall(
        r"`((?:lib|tests|examples|adapters)/[^`*]+)`", README
    )
    assert linked
    for path in linked:
        assert (ROOT / path.split()[0]).exists(), path
