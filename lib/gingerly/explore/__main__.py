"""Run the proof again: ``python -m gingerly.explore``.

It goes through every run with up to ``--faults`` deviations of every routine, checks the invariants on each, says
how many runs and distinct states that was and how long it took, and tells the shortest counterexample as a story:
of those with the fewest deviations the one with the fewest steps.
"""

from __future__ import annotations

import argparse
import gc
import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor

from gingerly.explore.alphabet import alphabet
from gingerly.explore.explorer import Explorer, Findings
from gingerly.explore.features import every_scenario

Task = tuple[str, int, int, int, int]


def _explore(task: Task) -> tuple[str, Findings]:
    name, faults, depth, share, shares = task
    (scenario,) = [candidate for candidate in every_scenario() if candidate.name == name]
    gc.set_threshold(200_000)  # forks are many, and go by themselves: to look for cycles among them costs a tenth
    return name, Explorer(scenario, faults=faults, depth=depth).explore(share=share, shares=shares)


def _number(text: str) -> int:
    """Return a whole number from 1; raises what argparse asks for."""
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 1")
    return int(text)


def main(arguments: Sequence[str] | None = None) -> int:
    """Explore, print what was covered, and return 0 where no invariant was broken, 1 where one was, 130 interrupted."""
    parser = argparse.ArgumentParser(prog="python -m gingerly.explore", description=__doc__)
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--faults", type=int, default=1, choices=(0, 1, 2), help="deviations in one run, at most")
    kind.add_argument(
        "--depth",
        type=_number,
        default=0,
        help="instead: every sequence of so many replies from the beginning, then ideal",
    )
    parser.add_argument("--only", default="", help="only scenarios whose name contains this text")
    parser.add_argument(
        "--workers", type=_number, default=os.cpu_count() or 1, help="processes to share the work among"
    )
    parser.add_argument("--alphabet", action="store_true", help="list what each command may be answered with")
    options = parser.parse_args(arguments)
    if options.alphabet:
        for command, deviations in alphabet().items():
            print(f"{command}: the ideal reply; {'; '.join(deviations)}")
        return 0
    names = [scenario.name for scenario in every_scenario() if options.only in scenario.name]
    if not names:
        parser.error(f"no scenario is called {options.only!r}")
    try:
        if options.depth:
            which = f"every sequence of {options.depth} replies, then ideal ones"
            return _report(_shared(names, 0, options.depth, options.workers), which)
        return _up_to(names, options.faults, options.workers)
    except KeyboardInterrupt:
        print("interrupted: a part of the runs proves nothing", file=sys.stderr)
        return 130


def _up_to(names: list[str], faults: int, workers: int) -> int:
    """Explore with no deviation, then with one more each time, until something is broken or `faults` are reached."""
    for most in range(faults + 1):
        explored = _shared(names, most, 0, workers)
        broken = any(findings.counterexample is not None for findings in explored[0].values())
        if broken or most == faults:
            return _report(explored, f"up to {most} deviations")
    raise AssertionError("there is a last number of deviations")


def _end_when_interrupted() -> None:
    """Let Ctrl-C end a worker without a word: the process that started it says what is to be said."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def _shared(names: list[str], faults: int, depth: int, workers: int) -> tuple[dict[str, Findings], float]:
    """Share each scenario among the workers by its first deviation."""
    shares = workers if faults > 1 else 1
    tasks: list[Task] = [(name, faults, depth, share, shares) for name in names for share in range(shares)]
    found: dict[str, Findings] = {name: Findings() for name in names}
    began = time.perf_counter()
    with ProcessPoolExecutor(max_workers=workers, initializer=_end_when_interrupted) as pool:
        try:
            for name, findings in pool.map(_explore, tasks):
                found[name].merge(findings)
        except KeyboardInterrupt:
            for child in multiprocessing.active_children():
                child.terminate()
            raise
    for findings in found.values():
        findings.runs -= shares - 1  # the run without deviations belongs to every share
    return found, time.perf_counter() - began


def _report(explored: tuple[dict[str, Findings], float], which: str) -> int:
    found, seconds = explored
    for name, findings in found.items():
        print(f"{name}: {findings.runs:,} runs, {findings.steps:,} replies, {len(findings.states)} states")
    runs = sum(findings.runs for findings in found.values())
    steps = sum(findings.steps for findings in found.values())
    states = set().union(*(findings.configurations for findings in found.values()))
    print(
        f"together: {runs:,} complete runs ({which}), {steps:,} replies,"
        f" {len(states):,} distinct situations, in {seconds:.1f} s ({60 * runs / seconds:,.0f} runs a minute)"
    )
    broken = [findings.counterexample for findings in found.values() if findings.counterexample is not None]
    if not broken:
        print("no violation")
        return 0
    print(min(broken, key=lambda one: len(one.chapters())).story())
    return 1


if __name__ == "__main__":
    sys.exit(main())
