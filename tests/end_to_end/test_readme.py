"""Everything that the README tells people to run, run."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
SCRIPTS = [body for language, body in BLOCKS if language == "python"]
COMMANDS = [body.strip() for language, body in BLOCKS if language == "sh"]
TABLES = [body for language, body in BLOCKS if language == "toml"]
NOT_COMMANDS = {"as", "does", "is"}
SETTING_UP = re.compile(r"^python3 -m venv \.venv && \.venv/bin/pip install --quiet (--editable )?\S+ && ")


def _run(arguments: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(arguments, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)


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


def test_the_job_in_the_readme_is_checked_and_run(tmp_path):
    """The job that people copy first can be checked, and runs to the end on the virtual machine."""
    job = tmp_path / "coasters.toml"
    job.write_text(TABLES[0], encoding="utf-8")
    checked = _run([sys.executable, "-m", "gingerly", "check", str(job)])
    assert checked.returncode == 0, checked.stderr
    done = _run([sys.executable, "-m", "gingerly", "run", str(job), "--journal", str(tmp_path / "journal.db")])
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("coaster ") >= 6


def test_every_other_table_in_the_readme_is_sound():
    """The machine table makes a serial adapter, and the reply of a profile is one that the profile reader takes."""
    from gingerly.driver.registry import make

    machine = tomllib.loads(TABLES[1])["machine"]
    assert make(machine["adapter"], machine["options"]) is not None
    (reply,) = tomllib.loads(TABLES[2])["reply"]
    assert set(reply) == {"means", "text"}


def test_every_command_in_the_readme_exists():
    """Each `gingerly WORD` that is named anywhere has a help text."""
    named = set(re.findall(r"`?\$? ?gingerly ((?:profile check|job schema|[a-z][a-z-]+))", README))
    for command in sorted(named - NOT_COMMANDS):
        done = _run([sys.executable, "-m", "gingerly", *command.split(), "--help"])
        assert done.returncode == 0, command


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
