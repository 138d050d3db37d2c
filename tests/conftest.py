"""Settings for the whole suite."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

# The same examples on every machine and in every run: a failure is always one that can be had again. For a longer
# look at the same properties: HYPOTHESIS_PROFILE=thorough.
settings.register_profile("gingerly", derandomize=True, deadline=None, max_examples=25)
settings.register_profile("thorough", derandomize=True, deadline=None, max_examples=400)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "gingerly"))


@pytest.fixture(scope="session", autouse=True)
def own_journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test writes into the journal of whoever runs it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GINGERLY_JOURNAL", str(tmp_path_factory.mktemp("journal") / "journal.db"))
        yield


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add what only tests of this project ask for."""
    parser.addoption(
        "--all-kills", action="store_true", help="kill the batch at every point of the kill test, not at a few only"
    )
