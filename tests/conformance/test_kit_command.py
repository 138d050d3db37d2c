"""The kit from the command line: exit codes, what is printed, and the question before a machine moves."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace

import pytest

from conformance.mock_subjects import mock_subject
from gingerly.conformance import Subject, all_checks
from gingerly.conformance.__main__ import main

HERE = "conformance.test_kit_command"


def good() -> Subject:
    return mock_subject()


def chipped() -> Subject:
    return mock_subject(faults=[{"what": "chip"}])


def real() -> Subject:
    return replace(mock_subject(), simulated=False)


def broken() -> Subject:
    raise ValueError("no such port")


def interrupted() -> Subject:
    def press(*given):
        raise KeyboardInterrupt

    return replace(mock_subject(), alarm=press)


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch):
    """Let standard input hold what a person types."""
    return lambda text: monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_an_adapter_in_order_ends_with_zero(capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing failed: exit code 0, and a summary."""
    assert main([f"{HERE}:good"]) == 0
    assert "rules that concern it hold" in capsys.readouterr().out


def test_a_failure_ends_with_one_and_its_advice(capsys: pytest.CaptureFixture[str]) -> None:
    """Something failed: exit code 1, and what to mend."""
    assert main([f"{HERE}:chipped", "--check", "circuit_is_open_in_free_air"]) == 1
    assert "the contract: In free air the circuit is open." in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["nowhere"],
        ["nowhere:subject"],
        [f"{HERE}:nothing"],
        [f"{HERE}:HERE"],
        [f"{HERE}:broken"],
        [f"{HERE}:good", "--check", "no_such_check"],
        [f"{HERE}:good", "--up-to", "everything"],
    ],
    ids=" ".join,
)
def test_what_cannot_be_used_ends_with_two(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Bad input: exit code 2, one line on stderr, nothing on stdout."""
    assert main(words) == 2
    shown = capsys.readouterr()
    assert shown.err.startswith("gingerly.conformance: ")
    assert shown.out == ""


def test_a_subject_that_raises_is_told_with_its_line(capsys: pytest.CaptureFixture[str]) -> None:
    """An author finds the line without a traceback."""
    main([f"{HERE}:broken"])
    assert re.search(r"ValueError: no such port \(.*test_kit_command\.py, line \d+\)", capsys.readouterr().err)


def test_an_interrupt_ends_with_what_is_known_and_what_is_not(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 130; what was checked so far, and that standstill is not confirmed."""
    checks = ["--check", "facts_name_the_machine", "--check", "an_alarm_is_reported"]
    assert main([f"{HERE}:interrupted", *checks]) == 130
    shown = capsys.readouterr()
    assert f"1 of {len(all_checks())} rules" in shown.out
    assert "stands was not confirmed" in shown.err


def test_a_real_machine_is_not_moved_before_hands_are_clear(answers, capsys: pytest.CaptureFixture[str]) -> None:
    """Without the typed words: exit code 3, the cautions, and nothing run."""
    answers("yes\n")
    assert main([f"{HERE}:real"]) == 3
    shown = capsys.readouterr()
    assert "Spindle off and locked out" in shown.err
    assert "Nothing was moved." in shown.err
    assert "rules" not in shown.out


def test_nobody_there_counts_as_no(answers) -> None:
    """An empty standard input moves nothing."""
    answers("")
    assert main([f"{HERE}:real"]) == 3


def test_hands_clear_lets_it_begin(answers, capsys: pytest.CaptureFixture[str]) -> None:
    """With the typed words the checks run."""
    answers("hands clear\n")
    assert main([f"{HERE}:real", "--up-to", "facts"]) == 0
    assert "rules that concern it hold" in capsys.readouterr().out


def test_results_come_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    """One document with every result and what was not run."""
    assert main([f"{HERE}:good", "--up-to", "door", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {row["verdict"] for row in found["results"]} == {"passed"}
    assert len(found["results"]) + len(found["not_run"]) == len(all_checks())


def test_the_rules_can_be_read_without_an_adapter(capsys: pytest.CaptureFixture[str]) -> None:
    """`--list` prints every rule with its reason."""
    assert main(["--list"]) == 0
    assert capsys.readouterr().out.count("  Why: ") == len(all_checks())
