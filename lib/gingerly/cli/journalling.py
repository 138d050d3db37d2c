"""The journal on the command line: opened before anything moves, and what earlier runs have left."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from gingerly.batch.books import Books, unfinished
from gingerly.cli.columns import tell
from gingerly.driver.machine import Machine
from gingerly.job import Job, JobError, Problem
from gingerly.job.problems import nearest
from gingerly.journal import Journal, open_journal, unreleased
from gingerly.journal.place import default_path
from gingerly.journal.recorder import kept_as
from gingerly.messages.faults import NotRecorded


def journal_path(arguments: argparse.Namespace, job: Job) -> Path:
    """Return which file is the journal: what the command says, else what the job says, else the user's own."""
    if arguments.journal is not None:
        return Path(arguments.journal)
    if job.journal is not None:
        return Path(job.source).parent / job.journal
    return default_path()


def opened(arguments: argparse.Namespace, job: Job) -> Journal | None:
    """Return the open journal; None, and told, where it cannot be kept, so that nothing may move."""
    try:
        return open_journal(journal_path(arguments, job))
    except NotRecorded as fault:
        tell(f"refused before anything moved.\n{fault.story()}")
        return None


def books(arguments: argparse.Namespace, journal: Journal, job: Job, machine: Machine) -> Books:
    """Return the books of a run, after telling what earlier ones have left."""
    waiting = unreleased(journal, kept_as(machine))
    if waiting:
        told = ", ".join(waiting[:9]) + (" …" if len(waiting) > 9 else "")
        tell(f"note: lead and plate were never confirmed off {machine.name} since {told} was set.")
    cut_off = "" if arguments.resume else unfinished(journal, job, kept_as(machine))
    if cut_off:
        tell(
            f"note: a run of this job begun {cut_off} was cut off; this one begins anew. --resume goes on with it."
        )
    return Books(
        journal,
        job,
        machine,
        resume=arguments.resume,
        overwrite=arguments.overwrite,
        accept=_known("--accept", arguments.accept, job),
        finished=None if arguments.finished is None else _known("--finished", arguments.finished, job),
    )


def _known(option: str, names: Sequence[str], job: Job) -> Sequence[str]:
    """Return the names of parts that an option was given; raises `JobError` for those that no part has."""
    parts = [part.name for part in job.parts]
    unknown = [name for name in names if name not in parts]
    if unknown:
        problems = [Problem(option, f"no part is called {name!r}{nearest(name, parts)}") for name in unknown]
        raise JobError(job.source, problems)
    return names
