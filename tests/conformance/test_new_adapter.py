"""What ``gingerly new-adapter`` writes can be installed, is known by its name, and passes the kit's door."""

from __future__ import annotations

import argparse
import importlib
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from gingerly.conformance import Subject, Verdict, all_checks, run_all
from gingerly.driver.registry import installed, make
from gingerly.newadapter import write_package
from gingerly.newadapter.command import add_commands

pytest_plugins = ("pytester",)


def run_command(*words: str) -> int:
    parser = argparse.ArgumentParser()
    add_commands(parser.add_subparsers(required=True))
    arguments = parser.parse_args(["new-adapter", *words])
    code: int = arguments.run(arguments)
    return code


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A freshly written package on the import path, with the metadata that installing it would leave."""
    write_package("plain-mill", tmp_path)
    home = tmp_path / "plain-mill"
    project = tomllib.loads((home / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    metadata = home / "gingerly_plain_mill-0.1.0.dist-info"
    metadata.mkdir()
    (metadata / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {project['name']}\nVersion: 0.1.0\n")
    points = project["entry-points"]["gingerly.adapters"]
    lines = "\n".join(f"{name} = {value}" for name, value in points.items())
    (metadata / "entry_points.txt").write_text(f"[gingerly.adapters]\n{lines}\n")
    monkeypatch.syspath_prepend(home)
    yield home
    for name in [name for name in sys.modules if name.split(".")[0] == "plain_mill"]:
        del sys.modules[name]


def test_the_package_has_all_that_a_package_needs(tmp_path: Path) -> None:
    """Entry point, adapter, subject, conformance test and README."""
    written = write_package("plain-mill", tmp_path)
    names = sorted(path.relative_to(tmp_path).as_posix() for path in written)
    assert names == [
        "plain-mill/README.md",
        "plain-mill/plain_mill/__init__.py",
        "plain-mill/plain_mill/adapter.py",
        "plain-mill/plain_mill/conformance.py",
        "plain-mill/pyproject.toml",
        "plain-mill/tests/test_conformance.py",
    ]


def test_the_new_adapter_is_known_by_its_name(home: Path) -> None:
    """Once installed, it comes in by the same door as the built-in ones."""
    assert installed()["plain-mill"].value == "plain_mill:PlainMill"
    assert type(make("plain-mill", {})).__name__ == "PlainMill"


def test_the_new_adapter_passes_the_first_topics(home: Path) -> None:
    """Facts and door hold at once; nothing is claimed beyond them."""
    subject: Subject = importlib.import_module("plain_mill.conformance").subject()
    report = run_all(subject, checks=all_checks(up_to="door"))
    assert {result.verdict for result in report.results} == {Verdict.PASSED}, report.summary()
    assert not report.conforms


def test_what_is_not_written_yet_fails_and_is_not_skipped(home: Path) -> None:
    """A method that is still to do is a failure of the first check that needs it."""
    subject: Subject = importlib.import_module("plain_mill.conformance").subject()
    checks = [check for check in all_checks(up_to="look") if check.name == "looking_changes_nothing"]
    (result,) = run_all(subject, checks=checks).results
    assert "NotImplementedError: ask the controller for position and state" in result.reason


def test_its_own_tests_pass_at_once(home: Path, pytester: pytest.Pytester) -> None:
    """`pytest` in the new folder is green, and the summary says what was not run."""
    result = pytester.runpytest_inprocess(
        "-c", str(home / "pyproject.toml"), "--rootdir", str(home), str(home / "tests")
    )
    outcomes = result.parseoutcomes()
    assert outcomes["passed"] == len(all_checks(up_to="door"))
    assert "failed" not in outcomes
    result.stdout.fnmatch_lines(["*not run: look (all *"])


@pytest.mark.parametrize(
    "name",
    ["", "Mill", "3axis", "a b", "../mill", "mill-", "a--b", "class", "json", "gingerly-x", "mock", "pytest"],
)
def test_a_name_that_cannot_be_used_is_refused(name: str, tmp_path: Path) -> None:
    """Nothing is written under such a name."""
    with pytest.raises(ValueError, match="cannot be called"):
        write_package(name, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_nothing_that_exists_is_overwritten(tmp_path: Path) -> None:
    """A folder that is there already stays as it is."""
    (tmp_path / "mill").mkdir()
    with pytest.raises(FileExistsError, match="nothing was written"):
        write_package("mill", tmp_path)
    assert list((tmp_path / "mill").iterdir()) == []


def test_the_command_says_what_comes_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 0, the files, and the three commands that follow."""
    assert run_command("mill", "--into", str(tmp_path)) == 0
    shown = capsys.readouterr().out
    assert str(tmp_path / "mill" / "mill" / "adapter.py") in shown
    assert "pip install -e" in shown


def test_the_command_ends_with_two_where_it_cannot(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bad input gives one line on stderr, and no traceback."""
    assert run_command("My Mill", "--into", str(tmp_path)) == 2
    assert capsys.readouterr().err.startswith("new-adapter: an adapter cannot be called 'My Mill'")
