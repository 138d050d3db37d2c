"""Go through every run with at most so many deviations, and check the invariants on each.

A complete run is a distinct sequence of replies from ready to done or faulted. Runs with a common beginning are
forked where they part, so that beginning is computed once.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field

from gingerly.cycle import Cycle, Session, State, Unhandled
from gingerly.explore.alphabet import deviations
from gingerly.explore.invariants import Monitor, Violation
from gingerly.explore.paper import Paper
from gingerly.explore.scenarios import Scenario
from gingerly.explore.telling import short
from gingerly.messages.commands import Command, Finish
from gingerly.messages.replies import Reply


@dataclass(frozen=True, slots=True)
class Chapter:
    """One step of a story: in which state what was ordered, what came back, and whether that was a deviation."""

    state: State
    command: Command
    reply: Reply
    deviation: str | None
    before: Chapter | None


@dataclass(frozen=True, slots=True)
class Counterexample:
    """A run that broke an invariant, or found no rule."""

    violation: Violation
    last: Chapter | None

    def chapters(self) -> tuple[Chapter, ...]:
        """Return the run's steps in order."""
        found: list[Chapter] = []
        chapter = self.last
        while chapter is not None:
            found.append(chapter)
            chapter = chapter.before
        return tuple(reversed(found))

    def story(self) -> str:
        """Return the run as a text that a person can follow, a line a step."""
        lines = [f"broken: {self.violation}"]
        for number, chapter in enumerate(self.chapters(), 1):
            mark = f"   ← {chapter.deviation}" if chapter.deviation else ""
            lines.append(
                f"{number:3}. {chapter.state.value}: ordered {short(chapter.command)};"
                f" came back {short(chapter.reply)}{mark}"
            )
        return "\n".join(lines)


@dataclass(slots=True)
class Findings:
    """What an exploration covered and found."""

    runs: int = 0
    steps: int = 0
    seconds: float = 0.0
    states: set[State] = field(default_factory=set)
    configurations: set[int] = field(default_factory=set)
    counterexample: Counterexample | None = None

    def merge(self, other: Findings) -> None:
        """Add what another exploration covered; the shorter counterexample stays."""
        self.runs += other.runs
        self.steps += other.steps
        self.seconds = max(self.seconds, other.seconds)
        self.states |= other.states
        self.configurations |= other.configurations
        if other.counterexample is not None:
            self.keep(other.counterexample)

    def keep(self, found: Counterexample) -> None:
        """Keep `found` unless a shorter counterexample is known."""
        known = self.counterexample
        if known is None or len(found.chapters()) < len(known.chapters()):
            self.counterexample = found


@dataclass(slots=True)
class _Fork:
    """A run at the moment when `command` waits for its reply."""

    session: Session
    command: Command
    paper: Paper
    monitor: Monitor
    left: int
    story: Chapter | None
    replies: int = 0

    def copy(self) -> _Fork:
        return _Fork(
            self.session.fork(),
            self.command,
            self.paper.fork(),
            self.monitor.fork(),
            self.left,
            self.story,
            self.replies,
        )


def situation(session: Session, command: Command) -> int:
    """Return a number that tells situations apart: state, order, and what the session has counted so far."""
    return hash(
        (
            session.state,
            type(command),
            len(session.faces),
            len(session.contacts),
            session.extras,
            session.longer,
            session.looks,
            session.opens,
            len(session.trail),
            len(session.legs),
            session.index,
            tuple(work.stands for work in session.works),
            session.still,
            session.blame.fault if session.blame is not None else None,
            session.blame.state if session.blame is not None else None,
        )
    )


class Explorer:
    """Explores one scenario.

    `faults` is the greatest number of deviations in a run, wherever they come. Within the first `depth` replies any
    number may come, so that every sequence of that length is tried.
    """

    def __init__(self, scenario: Scenario, *, faults: int, depth: int = 0, table: Cycle | None = None) -> None:
        self.findings = Findings()
        self._scenario = scenario
        self._faults = faults
        self._depth = depth
        self._most = sys.maxsize
        """After so many replies a run can hold no shorter counterexample than the one that is known."""
        self._table = table or scenario.table()

    def explore(self, *, share: int = 0, shares: int = 1) -> Findings:
        """Return what was found; once there is a counterexample, only runs that may hold a shorter one go on.

        Of the first deviations only each `shares`-th, beginning with `share`, is tried.
        """
        began = time.perf_counter()
        waiting = [self._begin()]
        first = 0
        while waiting:
            fork = waiting.pop()
            for branch in self._walk(fork):
                if branch.left == self._faults - 1:
                    first += 1
                    if first % shares != share:
                        continue
                waiting.append(branch)
        self.findings.seconds = time.perf_counter() - began
        return self.findings

    def _begin(self) -> _Fork:
        session, command = self._table.start(self._scenario.setup)
        monitor = Monitor(self._scenario.setup, line_start=self._scenario.line_start)
        monitor.order(command, session)
        return _Fork(session, command, self._scenario.paper(), monitor, self._faults, None)

    def _walk(self, fork: _Fork) -> Iterator[_Fork]:
        """Follow the ideal replies to the end; yield a branch for every deviation on the way."""
        while not isinstance(fork.command, Finish):
            if fork.replies >= self._most:
                return
            within = fork.replies < self._depth
            if fork.left > 0 or within:
                for deviation in deviations(fork.command):
                    branch = fork.copy()
                    branch.left -= 0 if within else 1
                    reply = deviation.answer(branch.paper, branch.command)
                    if self._step(branch, reply, deviation.name):
                        yield branch
            if not self._step(fork, fork.paper.answer(fork.command), None):
                return
        self._ended(fork)

    def _step(self, fork: _Fork, reply: Reply, deviation: str | None) -> bool:
        """Feed one reply; return whether the run goes on soundly."""
        session, state = fork.session, fork.session.state
        fork.replies += 1
        fork.story = Chapter(state, fork.command, reply, deviation, fork.story)
        fork.monitor.reply(fork.command, reply)
        self.findings.steps += 1
        try:
            following = self._table.advance(session, reply)
        except Exception as error:  # a defect of the table shows itself in many ways, and all are to be told
            what = f"the table broke down: {type(error).__name__} {error}"
            self._found(Violation("soundness", what), fork)
            return False
        if isinstance(following, Unhandled):
            what = f"no rule for {type(following.reply).__name__} while {following.state.value}"
            self._found(Violation("completeness", what), fork)
            return False
        self.findings.states.add(session.state)
        self.findings.configurations.add(situation(session, following))
        fork.command = following
        fork.monitor.order(following, session)
        if fork.monitor.violation is not None:
            self._found(fork.monitor.violation, fork)
            return False
        return True

    def _found(self, violation: Violation, fork: _Fork) -> None:
        self.findings.keep(Counterexample(violation, fork.story))
        self._most = min(self._most, fork.replies - 1)

    def _ended(self, fork: _Fork) -> None:
        self.findings.runs += 1
        fork.monitor.end(fork.session)
        if fork.monitor.violation is not None:
            self._found(fork.monitor.violation, fork)


def explore(scenario: Scenario, *, faults: int, table: Cycle | None = None) -> Findings:
    """Return what an exploration with up to `faults` deviations finds, trying fewer deviations first.

    The counterexample, if any, therefore has the fewest deviations that break an invariant, and of those the fewest
    steps.
    """
    findings = Findings()
    for most in range(faults + 1):
        findings = Explorer(scenario, faults=most, table=table).explore()
        if findings.counterexample is not None:
            break
    return findings
