"""Lengths given on the command line, in the same words as in a job file."""

from __future__ import annotations

from gingerly.job import Job, JobError, Problem
from gingerly.units import positive_length


def length_option(given: str, job: Job, *, option: str, name: str) -> float:
    """Return the positive length (mm) that was given to `option`; raises `JobError` that names the option."""
    try:
        return positive_length(given, name=name)
    except ValueError as error:
        raise JobError(job.source, [Problem(option, str(error))]) from None
