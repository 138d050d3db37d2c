"""What came out: one result a check, and a summary that says how much of the contract was exercised."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from gingerly.conformance.catalogue import CATALOGUE, TOPICS

FEW = 3
"""So many checks of a topic are named one by one where they were not run. Our own choice."""


class Verdict(Enum):
    """How a check ended."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_APPLICABLE = "not applicable"
    NOT_EXERCISED = "not exercised"


@dataclass(frozen=True, slots=True)
class Result:
    """One check's verdict, with the reason where it did not pass; for a failure the whole advice."""

    check: str
    verdict: Verdict
    reason: str = ""


@dataclass(slots=True)
class Report:
    """All results for one subject, in order."""

    name: str
    results: list[Result] = field(default_factory=list)

    def add(self, result: Result) -> None:
        """Take one more result in; a repeated check replaces its earlier one."""
        self.results = [one for one in self.results if one.check != result.check]
        self.results.append(result)

    def of(self, verdict: Verdict) -> list[Result]:
        """Return all results with this verdict."""
        return [one for one in self.results if one.verdict is verdict]

    @property
    def not_run(self) -> list[str]:
        """The names of all checks that were not run at all."""
        ran = {one.check for one in self.results}
        missing = [check for check in CATALOGUE.values() if check.name not in ran]
        return [check.name for check in sorted(missing, key=lambda check: TOPICS.index(check.topic))]

    @property
    def conforms(self) -> bool:
        """Whether everything was run and nothing failed."""
        return not self.of(Verdict.FAILED) and not self.not_run

    def summary(self) -> str:
        """Return how much of the contract was exercised, and why the rest was not, as lines of text."""
        counts = {verdict: len(self.of(verdict)) for verdict in Verdict}
        due = len(CATALOGUE) - counts[Verdict.NOT_APPLICABLE]
        lines = [
            f"{self.name}: {counts[Verdict.PASSED]} of {due} rules that concern it hold"
            f" ({', '.join(f'{count} {verdict.value}' for verdict, count in counts.items())},"
            f" {len(self.not_run)} not run)"
        ]
        for verdict in (Verdict.NOT_APPLICABLE, Verdict.NOT_EXERCISED):
            lines += [f"  {verdict.value}: {reason} [{names}]" for reason, names in _by_reason(self.of(verdict))]
        if self.not_run:
            lines.append(f"  not run: {', '.join(_by_topic(self.not_run))}")
        lines += [f"  failed: {one.check}" for one in self.of(Verdict.FAILED)]
        return "\n".join(lines)


def _by_topic(names: list[str]) -> list[str]:
    """Return the names, but one entry for a topic of which more than a few are among them."""
    topics: dict[str, list[str]] = {}
    for name in names:
        topics.setdefault(CATALOGUE[name].topic, []).append(name)
    shown = []
    for topic, missing in topics.items():
        every = sum(check.topic == topic for check in CATALOGUE.values())
        count = "all" if len(missing) == every else f"{len(missing)} of"
        shown += missing if len(missing) <= FEW else [f"{topic} ({count} {every})"]
    return shown


def _by_reason(results: list[Result]) -> list[tuple[str, str]]:
    reasons: dict[str, list[str]] = {}
    for one in results:
        reasons.setdefault(one.reason, []).append(one.check)
    return [(reason, ", ".join(names)) for reason, names in reasons.items()]
