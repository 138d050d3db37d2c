"""The further routines, explored: no single deviation at any step breaks an invariant."""

from __future__ import annotations

import pytest

from gingerly.explore.explorer import Explorer
from gingerly.explore.features import feature_scenarios

SCENARIOS = {scenario.name: scenario for scenario in feature_scenarios()}
SHORT = ("single edge", "verify, moved", "repeatability", "inside corner", "pocket middle", "surface grid")
"""Each has a way or an end of its own; all of them are explored on demand."""


@pytest.mark.parametrize("name", SHORT)
def test_no_single_fault_breaks_an_invariant(name):
    """Every deviation at every step ends soundly."""
    findings = Explorer(SCENARIOS[name], faults=1).explore()
    assert findings.counterexample is None, findings.counterexample.story()
    assert findings.runs > 200


def test_every_routine_runs_through_on_paper():
    """Without a deviation each ends well, but for the part that has moved."""
    for scenario in SCENARIOS.values():
        findings = Explorer(scenario, faults=0).explore()
        assert findings.counterexample is None
        assert findings.runs == 1
