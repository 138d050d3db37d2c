"""`gingerly run`: do a job on the machine that it names, with the person at this terminal."""

from __future__ import annotations

import argparse
import sys

from gingerly import job as jobs
from gingerly.batch import connect
from gingerly.cli.operator import Lines, TerminalOperator
from gingerly.cli.session import carry_out, show
from gingerly.cli.words import SAFETY
from gingerly.driver.adapter import Simulated
from gingerly.report import REFUSED


def run(arguments: argparse.Namespace) -> int:
    """Move the job's machine through the job, and return the exit code."""
    job = jobs.read(arguments.job)
    machine = connect(job)
    simulated = isinstance(machine.adapter, Simulated)
    asks = arguments.prompts or not simulated
    if asks and not sys.stdin.isatty():
        print("refused before anything moved: the questions of a run need a person at a terminal.", file=sys.stderr)
        return REFUSED
    print(SAFETY, file=sys.stderr)
    observe = None
    if asks:
        person = TerminalOperator(Lines(sys.stdin.fileno()), sys.stderr, forward=machine.operator)
        machine.operator, observe = person, person.observe
        if simulated:
            print("This is a rehearsal: the machine is virtual, and nothing real moves.", file=sys.stderr)
    else:
        print("The machine is virtual; its simulated operator answers.", file=sys.stderr)
    summary = carry_out(machine, job, quiet=arguments.json, live=not asks, observe=observe)
    return show(summary, as_json=arguments.json)
