"""The machine that a job names: its adapter, made of what the job says; and what is wrong with that.

Nothing here opens a connection or moves anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gingerly.driver.adapter import Adapter
from gingerly.driver.registry import installed, make
from gingerly.job.model import MachineChoice
from gingerly.job.problems import JobError, Problem, Problems


def adapter_of(choice: MachineChoice, source: str) -> Adapter:
    """Return the adapter of a job's machine, not opened yet.

    Raises `JobError`, in the name of `source`, for one that is not installed or options that it does not take.
    """
    try:
        return make(choice.adapter, dict(choice.options))
    except ValueError as error:
        problems = Problems()
        problems.add("machine.options" if choice.adapter in installed() else "machine.adapter", error)
        raise JobError(source, problems.found) from error


def objections(
    data: Mapping[str, Any], choice: MachineChoice | None, found: Sequence[Problem], source: str
) -> tuple[Problem, ...]:
    """Return what is wrong with the machine of a file in which `found` is wrong already.

    `data` is the file as it stands, `choice` what could be made of it. Where something is wrong with the machine's own
    table only the adapter's name can be judged.
    """
    wrong = {problem.where for problem in found}
    if choice is None or any(where.startswith("machine") for where in wrong):
        table = data.get("machine")
        name = table.get("adapter") if isinstance(table, dict) else None
        if not isinstance(name, str) or "machine.adapter" in wrong or name in installed():
            return ()
        choice = MachineChoice(adapter=name, name=name)
    try:
        adapter_of(choice, source)
    except JobError as error:
        return error.problems
    return ()
