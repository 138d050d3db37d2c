"""Run the conformance kit from the command line: ``python -m gingerly.conformance module:factory``."""

from __future__ import annotations

import argparse
import importlib
import json
import sys
import traceback
from collections.abc import Sequence
from typing import Any

from gingerly.conformance.catalogue import TOPICS, Check
from gingerly.conformance.report import Report, Result, Verdict
from gingerly.conformance.run import all_checks, run_all
from gingerly.conformance.subject import Subject

CAUTION = """\
This moves a real machine, inside the free box of its subject and into the walls that it names.
  - Spindle off and locked out. Test lead and plate as the subject says, at extra-low voltage only.
  - Eyes protected, hands and loose things out of the machine, nobody else at its controls.
  - A hand at the machine's own stop until the last check is over: this software is no safeguard for people.
  - Follow the machine's manual and your local codes; ask a qualified person when unsure.
"""
INTERRUPTED = """\
Interrupted: the check under way was given up, the machine sent a stop, and the adapter closed. Whether the machine
stands was not confirmed: look at it, and use its own stop if it moves. Work offsets may hold the kit's values.
"""
MARKS = {Verdict.PASSED: ".", Verdict.FAILED: "F", Verdict.NOT_APPLICABLE: "n", Verdict.NOT_EXERCISED: "s"}


class BadInput(Exception):
    """What was asked for cannot be used; the text says why."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the kit and return the exit code: 0 nothing failed, 1 something did, 2 bad input, 3 not begun, 130 ended."""
    given = _parser().parse_args(arguments)
    try:
        checks = _chosen(given)
        if given.list:
            return _list(checks)
        subject = load(given.subject)
    except BadInput as error:
        print(f"gingerly.conformance: {error}", file=sys.stderr)
        return 2
    if not subject.simulated and not _hands_clear(given.subject):
        return 3
    report, interrupted = Report(given.subject), False

    def told(result: Result) -> None:
        report.add(result)
        if not given.json:
            _tell(result)

    try:
        run_all(subject, name=given.subject, checks=checks, told=told)
    except KeyboardInterrupt:
        interrupted = True
    print(_as_json(report) if given.json else f"\n{report.summary()}")
    if interrupted:
        print(INTERRUPTED, file=sys.stderr)
        return 130
    return 1 if report.of(Verdict.FAILED) else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m gingerly.conformance", description=__doc__)
    parser.add_argument("subject", nargs="?", help="module:factory, where factory() returns a Subject (or is one)")
    parser.add_argument(
        "--check", action="append", default=[], metavar="NAME", help="only this check; may be repeated"
    )
    parser.add_argument("--up-to", default=TOPICS[-1], metavar="TOPIC", help=f"stop after: {', '.join(TOPICS)}")
    parser.add_argument("--list", action="store_true", help="print every rule and why it matters; move nothing")
    parser.add_argument("--json", action="store_true", help="print the results as JSON")
    return parser


def _chosen(given: argparse.Namespace) -> tuple[Check, ...]:
    try:
        checks = all_checks(up_to=given.up_to)
    except ValueError as error:
        raise BadInput(str(error)) from error
    unknown = set(given.check) - {check.name for check in checks}
    if unknown:
        raise BadInput(f"no check is called {', '.join(sorted(unknown))}; --list prints them all")
    if not given.list and given.subject is None:
        raise BadInput("name the subject as module:factory")
    return tuple(check for check in checks if not given.check or check.name in given.check)


def load(name: str) -> Subject:
    """Return the subject that ``module:factory`` names; raises `BadInput` where there is none."""
    module_name, _, attribute = name.partition(":")
    if not module_name or not attribute:
        raise BadInput(f"name the subject as module:factory, not {name!r}")
    if "" not in sys.path:
        sys.path.insert(0, "")
    try:
        found: Any = getattr(importlib.import_module(module_name), attribute)
        subject = found() if callable(found) and not isinstance(found, Subject) else found
    except (ImportError, AttributeError) as error:
        raise BadInput(f"{name}: {error}") from error
    except Exception as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        raise BadInput(
            f"{name} raised {type(error).__name__}: {error} ({where.filename}, line {where.lineno})"
        ) from error
    if not isinstance(subject, Subject):
        raise BadInput(f"{name} gives a {type(subject).__name__}, not a gingerly.conformance.Subject")
    return subject


def _hands_clear(name: str) -> bool:
    print(CAUTION, file=sys.stderr)
    try:
        answer = input(f"Type 'hands clear' to let {name} move the machine: ")
    except EOFError:
        answer = ""
    if answer.strip().lower() == "hands clear":
        return True
    print("Nothing was moved.", file=sys.stderr)
    return False


def _list(checks: Sequence[Check]) -> int:
    for check in checks:
        print(f"{check.topic}: {check.name}\n  {check.rule}\n  Does: {check.does}\n  Why: {check.why}\n")
    return 0


def _tell(result: Result) -> None:
    if result.verdict is Verdict.FAILED:
        print(f"\n{result.reason}")
    else:
        print(MARKS[result.verdict], end="", flush=True)


def _as_json(report: Report) -> str:
    rows = [{"check": one.check, "verdict": one.verdict.value, "reason": one.reason} for one in report.results]
    return json.dumps({"name": report.name, "results": rows, "not_run": report.not_run}, indent=2)


if __name__ == "__main__":
    raise SystemExit(main())
