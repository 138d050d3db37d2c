"""Practice controllers for a whole test run: starting one takes longer than most tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from support.practice import Shelf

HERE = Path(__file__).parent
OTHERS = frozenset({"terse", "objects", "chatter"})


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shelf]:
    kept = Shelf(tmp_path_factory.mktemp("practice"))
    yield kept
    kept.close()


SLOW = ("test_conformance.py", "test_misbehaviour.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Our own shape of wire is tried each time; the others, whose tests mostly wait, in the thorough run."""
    for item in items:
        if item.path.parent != HERE or item.path.name not in SLOW:
            continue
        shape = getattr(item, "callspec", None)
        if shape is not None and OTHERS.intersection(map(str, shape.params.values())):
            item.add_marker(pytest.mark.thorough)
