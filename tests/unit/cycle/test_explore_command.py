"""`python -m gingerly.explore`: what it prints, and what it answers to a slip."""

from __future__ import annotations

import pytest

from gingerly.cycle import Cycle, State
from gingerly.cycle.table import expanded
from gingerly.explore.__main__ import main
from gingerly.explore.alphabet import deviations
from gingerly.explore.explorer import Counterexample, Explorer, Findings
from gingerly.explore.features import every_scenario
from gingerly.explore.invariants import Violation
from gingerly.messages.commands import Finish
from gingerly.messages.replies import Disconnected

SCENARIOS = {scenario.name: scenario for scenario in every_scenario()}


def _said(capsys, *arguments):
    code = main(arguments)
    return code, capsys.readouterr().out.splitlines()


@pytest.mark.parametrize("workers", ["1", "2"])
def test_a_run_of_the_command_says_what_it_covered_and_that_nothing_was_broken(capsys, workers):
    """Runs, replies and states a scenario; all of them together, distinct situations, time and rate at the end."""
    code, said = _said(capsys, "--faults", "1", "--only", "self check", "--workers", workers)
    whole = Explorer(SCENARIOS["self check"], faults=1).explore()
    untold = Explorer(SCENARIOS["self check, circuit untold"], faults=1).explore()
    assert code == 0
    assert said[0] == f"self check: {whole.runs} runs, {whole.steps:,} replies, {len(whole.states)} states"
    assert said[2].startswith(f"together: {whole.runs + untold.runs} complete runs (up to 1 deviations), ")
    assert "distinct situations, in " in said[2]
    assert said[2].endswith(" runs a minute)")
    assert said[3] == "no violation"


def test_two_deviations_are_shared_among_the_workers_and_counted_once(capsys):
    """The ideal run, which each of them makes, counts once."""
    whole = Explorer(SCENARIOS["straight up"], faults=2).explore().runs
    _, said = _said(capsys, "--faults", "2", "--only", "straight up", "--workers", "2")
    assert f"straight up: {whole:,} runs" in said[0]


def test_every_sequence_of_so_many_replies_can_be_asked_for(capsys):
    code, said = _said(capsys, "--depth", "1", "--only", "straight up", "--workers", "1")
    assert code == 0
    assert "complete runs (every sequence of 1 replies, then ideal ones)" in said[1]


def test_the_alphabet_is_printed_a_line_a_command(capsys):
    """Everything that a run may be answered with stands there by name."""
    code, said = _said(capsys, "--alphabet")
    assert code == 0
    assert [line.split(":")[0] for line in said] == [
        "Look",
        "Traverse",
        "Sense",
        "Stop",
        "Ask",
        "ReadOffset",
        "WriteOffset",
    ]
    assert all(": the ideal reply; " in line for line in said)
    assert "no contact" in said[2]


def test_a_scenario_that_does_not_exist_is_refused_by_name(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--only", "nowhere"])
    assert ended.value.code == 2
    assert "no scenario is called 'nowhere'" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [["--depth", "0"], ["--depth", "-1"], ["--depth", "2.5"], ["--workers", "0"], ["--faults", "3"]],
    ids=" ".join,
)
def test_a_number_that_means_nothing_is_refused(capsys, words):
    """A depth below one would be a proof of nothing, and is not called one."""
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2
    assert f"argument {words[0]}" in capsys.readouterr().err


def test_depth_and_faults_are_two_questions(capsys):
    """Whoever asks both is told so, instead of getting an answer to one."""
    with pytest.raises(SystemExit) as ended:
        main(["--faults", "2", "--depth", "2"])
    assert ended.value.code == 2
    assert "not allowed with argument --faults" in capsys.readouterr().err


def test_a_depth_is_checked_as_well_as_deviations_are():
    """A table that is wrong is found by sequences of replies too, and told as shortly."""
    rows = [row for row in expanded() if (row.state, row.reply) != (State.CHECKING, Disconnected)]
    found = Explorer(SCENARIOS["surface"], faults=0, depth=2, table=Cycle(rows)).explore().counterexample
    assert found.violation.invariant == "completeness"
    assert len(found.chapters()) == 1


def test_the_end_of_a_run_has_no_reply():
    assert deviations(Finish()) == ()


def test_of_two_counterexamples_the_shorter_is_kept():
    """A story of four steps is read sooner than one of forty."""
    findings, scenario = Findings(), Explorer(SCENARIOS["straight up"], faults=0)
    fork = scenario._begin()
    for _ in range(2):
        scenario._step(fork, fork.paper.answer(fork.command), None)
    long = Counterexample(Violation("I1", "long"), fork.story)
    short = Counterexample(Violation("I1", "short"), fork.story.before)
    for counterexample in (long, short, long):
        findings.merge(Findings(counterexample=counterexample))
    assert findings.counterexample is short
