"""The command line: as a user has it, in a process of its own, or quickly, within this one."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from gingerly.cli import main

COMMAND = (sys.executable, "-W", "error", "-c", "import sys; from gingerly.cli import main; sys.exit(main())")
LIMIT_S = 60.0
"""A process that has not ended by then hangs; nothing here is timed."""


@dataclass
class Ended:
    """What a command wrote, and its exit code."""

    returncode: int
    stdout: str
    stderr: str


def within(*arguments: str) -> Ended:
    """Run the command within this process, without a terminal."""
    out, errors = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        try:
            code = main(arguments)
        except SystemExit as ended:
            code = int(ended.code or 0)
    return Ended(code, out.getvalue(), errors.getvalue())


def gingerly(*arguments: str, columns: int = 80, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command without a terminal, and return what it wrote and its exit code."""
    return subprocess.run(
        [*COMMAND, *arguments],
        capture_output=True,
        encoding="utf-8",
        stdin=subprocess.DEVNULL,
        env={**os.environ, "COLUMNS": str(columns), "PYTHONUTF8": "1", **environment},
        timeout=LIMIT_S,
        check=False,
    )


def write(folder: Path, text: str, name: str = "job.toml") -> str:
    """Write a job file into a folder and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)
