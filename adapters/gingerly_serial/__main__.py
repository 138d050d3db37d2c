"""``python -m gingerly_serial``: the adapter's own commands without the rest of the command line."""

from __future__ import annotations

import argparse
import os
import sys

from gingerly_serial.commands import add_commands

READER_GONE = 141
"""128 and the number of SIGPIPE: common practice, no source."""


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code."""
    parser = argparse.ArgumentParser(prog="gingerly")
    add_commands(parser.add_subparsers(required=True))
    parsed = parser.parse_args(arguments)
    try:
        code: int = parsed.run(parsed)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # Whoever read the output has gone; the interpreter would complain again while it closes the stream.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return READER_GONE


if __name__ == "__main__":
    sys.exit(main())
