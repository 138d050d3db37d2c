"""Sweeps over what the library shows to the outside: layout, names, docstrings, imports."""

from __future__ import annotations

import ast
import importlib
import inspect
import re
import subprocess
import sys
from importlib.metadata import distribution
from pathlib import Path

import pytest

import gingerly

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "lib").rglob("*.py")) + sorted((ROOT / "adapters").rglob("*.py"))
LAYOUT = {"README.md", "DEVELOPERS.md", "pyproject.toml", "lib", "adapters", "tests", "examples"}
HEAVY = ("numpy", "rich", "serial", "msgspec", "asyncio", "transitions", "sqlite3")


def test_the_visible_top_level_names_are_the_agreed_ones():
    """Nothing else lies at the top of the repository."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert {line.split("/")[0] for line in listed.splitlines() if not line.startswith(".")} <= LAYOUT


def test_importing_the_library_pulls_in_nothing_heavy():
    """``import gingerly`` loads neither numbers, nor drawing, nor ports, nor an event loop."""
    script = f"import sys, gingerly; print([name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", gingerly.__all__)
def test_every_public_name_exists_and_is_documented(name):
    """Each name that the library promises can be had, and says what it is."""
    thing = getattr(gingerly, name)
    if inspect.isclass(thing) or inspect.isfunction(thing):
        assert inspect.getdoc(thing), name


def test_an_unknown_public_name_is_an_attribute_error():
    """A slip of the pen is told as such."""
    with pytest.raises(AttributeError, match="no public name 'Plaet'"):
        gingerly.Plaet  # noqa: B018


def test_the_public_names_are_listed_once_and_in_order():
    """The list can be read."""
    assert gingerly.__all__ == sorted(set(gingerly.__all__))


def test_the_distribution_declares_command_and_adapters():
    """The command and the group of adapters are entry points."""
    points = {(point.group, point.name) for point in distribution("gingerly").entry_points}
    assert ("console_scripts", "gingerly") in points
    assert ("gingerly.adapters", "mock") in points


def test_types_are_shipped():
    """Users' type checkers see the library's types."""
    for package in ("gingerly", "gingerly_mock"):
        assert (Path(importlib.import_module(package).__file__).parent / "py.typed").exists()


def _public_functions():
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not node.name.startswith("_"):
                yield path, node


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_modules_say_what_they_are_and_stay_small(path):
    """Each module opens with what it knows, and knows one thing."""
    text = path.read_text(encoding="utf-8")
    if text.strip():
        assert ast.get_docstring(ast.parse(text))
    assert text.count("\n") <= 450, "does it still know only one thing?"


def test_no_function_is_longer_than_fifty_lines():
    """A function that does not fit half a screen does two things."""
    long = []
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                length = (node.end_lineno - body[0].lineno + 1) if body else 0
                if length > 50:
                    long.append(f"{path.name}:{node.lineno} {node.name} ({length})")
    assert long == []


def test_no_source_names_a_place_on_a_disk_or_a_host():
    """Code speaks of the project alone."""
    suspicious = re.compile(r"(?<![\w.])/(?:home|root|work|tmp|Users)/|https?://")
    found = [str(path) for path in SOURCES if suspicious.search(path.read_text(encoding="utf-8"))]
    assert found == []
