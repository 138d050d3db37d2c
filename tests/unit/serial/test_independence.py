"""The practice controller and the adapter check each other, so neither may use the other's reading or writing."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import gingerly_serial

ROOT = Path(gingerly_serial.__file__).parent
SHARED_BY_NOBODY = {
    "grammar",
    "hearing",
    "report",
    "ledger",
    "link",
    "lines",
    "rs274",
    "profile",
    "port",
    "watching",
}


def imports(path: Path) -> set[str]:
    """The modules of this adapter that a file imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("gingerly_serial"):
            found.add((node.module or "").removeprefix("gingerly_serial").strip("."))
    return found


@pytest.mark.parametrize("path", sorted((ROOT / "practice").glob("*.py")), ids=lambda path: path.stem)
def test_practice_controller_uses_nothing_of_the_adapters_reading(path: Path) -> None:
    """A mistake in the adapter's parser or writer must not be repeated at the other end of the wire."""
    assert not imports(path) & SHARED_BY_NOBODY


@pytest.mark.parametrize("path", sorted(ROOT.glob("*.py")), ids=lambda path: path.stem)
def test_adapter_uses_nothing_of_the_practice_controller(path: Path) -> None:
    """Only the command that serves it knows the practice controller."""
    used = {name for name in imports(path) if name.startswith("practice")}
    assert not used or path.stem == "commands"
