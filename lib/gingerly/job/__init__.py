"""Jobs: what is to be done on which machine, as data. `read` a TOML file, or build a `Job` in a script.

::

    job = gingerly.job.read("dials.toml")
    for part in job.parts:
        print(part.name, part.kind, part.offsets)

A file that cannot be used raises one `JobError` that names everything wrong in it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from gingerly.job.building import Builder
from gingerly.job.machines import objections
from gingerly.job.model import Job, MachineChoice, OnFault, Part, Staged
from gingerly.job.parts import JobTable
from gingerly.job.problems import JobError, Problem, Problems
from gingerly.job.reading import parsed, read_text
from gingerly.job.typed import read_fields


def read(path: str | os.PathLike[str]) -> Job:
    """Return the job in the TOML file at `path`; raises `JobError` with every problem found in it."""
    return loads(read_text(path), source=os.fsdecode(path), folder=Path(path).parent)


def loads(text: str, *, source: str = "job", folder: str | os.PathLike[str] = "") -> Job:
    """Return the job in TOML `text`; `source` names it in messages. Raises `JobError` like `read`.

    Files that it names, of facts or among the machine's options, are looked for in `folder`.
    """
    data = parsed(text, source)
    problems = Problems()
    builder = Builder(read_fields(JobTable, data, problems), problems, folder=Path(folder))
    job = builder.job(source)
    if job is None:
        # Alone, what is wrong with the machine is told by whoever connects to it: a job may be read without one.
        machine = objections(data, builder.machine, problems.found, source)
        raise JobError(source, (*machine, *problems.found))
    return job


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a job file, made from the very types that it is read with."""
    from gingerly.job.json_schema import schema as made

    return made()


__all__ = [
    "Job",
    "JobError",
    "MachineChoice",
    "OnFault",
    "Part",
    "Problem",
    "Staged",
    "loads",
    "read",
    "schema",
]
