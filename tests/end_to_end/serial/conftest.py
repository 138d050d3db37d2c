"""Practice controllers for a whole test run: starting one takes longer than most tests."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from support.practice import Shelf


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shelf]:
    kept = Shelf(tmp_path_factory.mktemp("practice"))
    yield kept
    kept.close()
