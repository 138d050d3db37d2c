"""Adapters by name: each has one, nobody else's is taken in silence, and a slip is answered with what there is."""

from __future__ import annotations

from pathlib import Path

import pytest

from gingerly.driver.registry import installed, make
from support.packages import also_installed


@pytest.mark.parametrize("value", ["a_first:Machine", "z_last:Machine"])
def test_two_different_adapters_of_one_name_are_refused(
    value: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    also_installed(tmp_path, f"mock = {value}")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(ValueError, match="two adapters are called 'mock'") as refused:
        installed()
    assert value in str(refused.value)


def test_the_same_adapter_registered_twice_is_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    also_installed(tmp_path, f"mock = {installed()['mock'].value}")
    monkeypatch.syspath_prepend(tmp_path)
    assert installed()["mock"].name == "mock"


def test_an_unknown_name_is_answered_with_all_that_are_installed_and_the_nearest() -> None:
    with pytest.raises(ValueError, match="no adapter is called 'mokc'") as refused:
        make("mokc", {})
    names = ", ".join(sorted(installed()))
    assert str(refused.value).endswith(f"installed are: {names}; did you mean 'mock'?")
