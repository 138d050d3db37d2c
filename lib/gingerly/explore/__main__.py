"""Run the proof again: ``python -m gingerly.explore``.

It goes through every run with up to ``--faults`` deviations of every routine, checks the invariants on each, says
how many runs and distinct states that was and how long it took, and tells the shortest counterexample as a story.
"""

from __future__ import annotations

import argparse
import gc
import os
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


def main(arguments: Sequence[str] | None = None) -> int:
    """Explore, print what was covered, and return 0 where no invariant was broken, 1 otherwise."""
    parser = argparse.ArgumentParser(prog="python -m gingerly.explore", description=__doc__)
    parser.add_argument("--faults", type=int, default=1, choices=(0, 1, 2), help="deviations in one run, at most")
    parser.add_argument(
        "--depth",
        type=int,
        default=0,
        help="instead: every sequence of so many replies from the beginning, then ideal",
    )
    parser.add_argument("--only", default="", help="only scenarios whose name contains this text")
    parser.add_argument(
        "--workers", type=int, default=os.cpu_count() or 1, help="processes to share the work among"
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
    faults = 0 if options.depth else options.faults
    explored = _shared(names, faults, options.depth, max(1, options.workers))
    which = (
        f"every sequence of {options.depth} replies, then ideal ones"
        if options.depth
        else f"up to {faults} deviations"
    )
    return _report(explored, which)


def _shared(names: list[str], faults: int, depth: int, workers: int) -> tuple[dict[str, Findings], float]:
    """Share each scenario among the workers by its first deviation."""
    shares = workers if faults > 1 else 1
    tasks: list[Task] = [(name, faults, depth, share, shares) for name in names for share in range(shares)]
    found: dict[str, Findings] = {name: Findings() for name in names}
    began = time.perf_counter()
    with ProcessPoolExecutor(max_workers=workers) as pool:
        for name, findings in pool.map(_explore, tasks):
            found[name].merge(findings)
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
