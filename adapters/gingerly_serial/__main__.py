"""``python -m gingerly_serial``: the adapter's own commands without the rest of the command line."""

from __future__ import annotations

import argparse
import sys

from gingerly_serial.commands import add_commands


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code."""
    parser = argparse.ArgumentParser(prog="gingerly")
    add_commands(parser.add_subparsers(required=True))
    parsed = parser.parse_args(arguments)
    code: int = parsed.run(parsed)
    return code


if __name__ == "__main__":
    sys.exit(main())
