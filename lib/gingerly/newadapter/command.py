"""The command ``gingerly new-adapter NAME``: it writes a package to begin with, and says what comes next."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from gingerly.newadapter.writing import write_package

BAD_INPUT = 2

NEXT = """\
next:
  cd {folder}
  pip install -e '.[test]'
  pytest                       (the door's checks pass; the summary lists what is still to do)
then edit {package}/adapter.py from top to bottom, raising `up_to` in tests/test_conformance.py as it grows."""


def add_commands(subparsers: Any) -> None:
    """Add ``new-adapter`` to a command line's subparsers; it sets `run` to what carries it out."""
    command = subparsers.add_parser(
        "new-adapter",
        help="write the beginnings of an adapter for your controller",
        description="Write a package: entry point, adapter, conformance test, README. It moves nothing.",
        epilog="exit codes: 0 written, 2 bad input",
    )
    command.add_argument("name", metavar="NAME", help="what jobs will call it: small letters, digits, hyphens")
    command.add_argument(
        "--into", metavar="FOLDER", default=".", help="where to put the package's folder; left out: here"
    )
    command.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write the package, print what was written and what comes next, and return the exit code; moves nothing."""
    try:
        written = write_package(arguments.name, arguments.into)
    except (ValueError, OSError) as error:
        print(f"new-adapter: {error}", file=sys.stderr)
        return BAD_INPUT
    for path in written:
        print(path)
    adapter = next(path for path in written if path.name == "adapter.py")
    print(NEXT.format(folder=adapter.parent.parent, package=adapter.parent.name))
    return 0
