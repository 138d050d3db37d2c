"""`gingerly demo`: the whole job on a virtual machine, start to finish."""

from __future__ import annotations

import argparse
import sys
import textwrap
from importlib.resources import files

from gingerly import job as jobs
from gingerly.batch import connect
from gingerly.cli.columns import WIDTH
from gingerly.cli.session import carry_out, show
from gingerly.cli.words import SAFETY_IN_BRIEF
from gingerly.driver.adapter import Simulated
from gingerly.job import Job, JobError, Problem

PACE_S = 0.03
"""How long the display on a terminal rests after each face, in seconds of the world. Our own choice."""


def run(arguments: argparse.Namespace) -> int:
    """Move a virtual machine through the demo, or a job of the user's own, and return the exit code."""
    job = _job(arguments)
    machine = connect(job)
    if not isinstance(machine.adapter, Simulated):
        what = f"{job.machine.adapter!r} moves a real machine; a demo never does. Use `gingerly run` for that"
        raise JobError(job.source, [Problem("machine.adapter", what)])
    if not arguments.json:
        print(textwrap.fill(SAFETY_IN_BRIEF, WIDTH) + "\n", file=sys.stderr)
    summary, watch = carry_out(machine, job, quiet=arguments.json, pace_s=PACE_S)
    return show(summary, watch, as_json=arguments.json)


def _job(arguments: argparse.Namespace) -> Job:
    if arguments.job is not None:
        job = jobs.read(arguments.job)
    else:
        text = files("gingerly.cli").joinpath("demo.toml").read_text(encoding="utf-8")
        job = jobs.loads(text, source="demo.toml")
    return job if arguments.seed is None else job.with_options(seed=arguments.seed)
