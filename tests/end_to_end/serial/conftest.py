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


QUICK = ("test_corner.py", "test_job.py", "test_interrupt.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A corner, a job and Ctrl-C on our own shape of wire each time; all else here mostly waits: the thorough run."""
    for item in items:
        if item.path.parent != HERE:
            continue
        shape = getattr(item, "callspec", None)
        other = shape is not None and OTHERS.intersection("-".join(map(str, shape.params.values())).split("-"))
        if item.path.name not in QUICK or other:
            item.add_marker(pytest.mark.thorough)
