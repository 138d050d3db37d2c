"""The kit is held to its own purpose: an adapter with one bug is caught, by the check that is meant for the bug."""

from __future__ import annotations

import re

import pytest

from conformance.mutants import MUTANTS, Mutant
from conformance.mutants.facts_and_door import StumblesWhenClosed
from conformance.other_makes import OTHER_MAKES
from conformance.plain_subjects import MemoryAdapter, memory_subject
from conformance.virtual import VirtualLoop
from gingerly.conformance import Report, Verdict, all_checks, run_all

CHECKS = {check.name: check for check in all_checks()}
SLIPS = re.compile(r"\b(TypeError|AttributeError|NameError|UnboundLocalError|IndexError)\b")
"""What a wrong adapter raises by a slip of the test, unless its bug is to stumble."""


def whole_kit(kind: type[MemoryAdapter]) -> Report:
    return run_all(memory_subject(kind), name=kind.__name__, loop_factory=VirtualLoop)


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.label)
def test_a_wrong_adapter_is_caught_by_the_check_meant_for_its_bug(mutant: Mutant) -> None:
    """One bug, one check: it fails for that bug, and says what the adapter did."""
    report = run_all(memory_subject(mutant.kind), checks=[CHECKS[mutant.caught_by]], loop_factory=VirtualLoop)
    (result,) = report.results
    assert result.verdict is Verdict.FAILED, result
    assert result.reason.startswith(f"{mutant.caught_by}\n  the adapter:  ")
    assert bool(SLIPS.search(result.reason)) is (mutant.kind is StumblesWhenClosed), result.reason


def test_every_check_is_needed() -> None:
    """There is no check in the catalogue that catches none of the wrong adapters."""
    assert set(CHECKS) == {mutant.caught_by for mutant in MUTANTS}


def test_the_adapter_that_all_mutants_come_from_passes_untouched() -> None:
    """The example adapter keeps every rule that concerns it."""
    report = whole_kit(MemoryAdapter)
    assert report.conforms, report.summary()
    assert len(report.of(Verdict.PASSED)) >= 137


@pytest.mark.parametrize("kind", OTHER_MAKES, ids=lambda kind: kind.__name__)
def test_an_adapter_that_keeps_the_contract_in_another_way_is_not_blamed(kind: type[MemoryAdapter]) -> None:
    """Polling, queueing, refusing a second call, telling a restart by a count: all of that is allowed."""
    report = whole_kit(kind)
    assert report.conforms, report.summary()


def test_a_run_is_the_same_each_time() -> None:
    """In virtual time two runs of the kit give the same results, down to the text."""
    runs = [run_all(memory_subject(MUTANTS[0].kind), loop_factory=VirtualLoop).results for _ in range(2)]
    assert runs[0] == runs[1]
