"""The worked example is what it says: short, right, and held to the contract over a real TCP link."""

from __future__ import annotations

from pathlib import Path

import tcp_adapter.adapter
from gingerly.conformance import Verdict, all_checks, run_all
from tcp_adapter.test_conformance import subject

OVER_TCP = ("a_traverse_returns_after_standstill", "a_stop_ends_a_sense", "the_circuit_opens_after_the_back_off")


def test_the_example_adapter_is_shorter_than_a_hundred_lines() -> None:
    """An adapter fits on two screens."""
    assert len(Path(tcp_adapter.adapter.__file__).read_text(encoding="utf-8").splitlines()) < 100


def test_the_example_adapter_conforms_over_tcp() -> None:
    """Doors, a move, a stop and a touch over a socket; the whole kit is run in memory, elsewhere."""
    checks = [*all_checks(up_to="door"), *(check for check in all_checks() if check.name in OVER_TCP)]
    report = run_all(subject(), checks=checks)
    assert not report.of(Verdict.FAILED), report.summary()
    assert len(report.of(Verdict.PASSED)) == len(checks)
