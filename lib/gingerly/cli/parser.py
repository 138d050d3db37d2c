"""The commands and their options, with help that teaches. Imports nothing that is not needed to parse."""

from __future__ import annotations

import argparse
import sys
import textwrap

COMMANDS = {
    "demo": "gingerly.cli.demo",
    "run": "gingerly.cli.run",
    "adapters": "gingerly.cli.adapters",
}
"""The module of each command; its function ``run`` takes the parsed arguments and returns the exit code."""

EXIT_CODES = """\
exit codes:
  0    done, and test lead and plate are confirmed off
  1    a fault; the message says whether the machine stands still
  2    bad input; the message names the file and the key
  3    refused before anything moved
  4    set, but nobody has confirmed that test lead and plate are off
  130  interrupted; the machine was stopped first
"""


ADDED = "gingerly.commands"
"""The entry point group in which installed packages offer commands; each value is called with the subparsers, and
sets ``run`` of its commands to a function that takes the parsed arguments and returns the exit code."""


def parser(*, with_added: bool = False) -> argparse.ArgumentParser:
    """Return the parser of the whole command line, on request with the commands that other packages add."""
    whole = argparse.ArgumentParser(
        prog="gingerly",
        description=_wrapped(
            "Find where the work lies by touch: a test lead, a metal plate, and a machine that creeps "
            "until the two meet. Begin with `gingerly demo`; it moves nothing real."
        ),
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = whole.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _demo(commands)
    _run(commands)
    _adapters(commands)
    if with_added:
        _add_installed(commands)
    return whole


def _add_installed(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    from importlib.metadata import entry_points

    for point in entry_points(group=ADDED):
        try:
            point.load()(commands)
        except Exception as error:  # a foreign package may fail in any way; the other commands still work
            print(f"the commands of {point.value!r} are missing: {type(error).__name__}: {error}", file=sys.stderr)


def _wrapped(text: str) -> str:
    return textwrap.fill(text, 78)


def _demo(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "demo",
        help="the whole job on a virtual machine, start to finish, nothing to configure",
        description=_wrapped(
            "Set up a small batch on a virtual machine: circuit check, reference face, outside corners, "
            "one part whose test lead falls off, and a tool change. Then show what was found, and how far off "
            "it is."
        ),
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument(
        "--job", metavar="FILE", help="a job file of your own instead; it must name a virtual machine"
    )
    command.add_argument("--seed", type=int, metavar="N", help="draw another world: other places, tools and plates")
    command.add_argument("--json", action="store_true", help="print one JSON document instead of the table")


def _run(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "run",
        help="do a job on the machine that it names",
        description=_wrapped(
            "Do a job: check the circuit with you, touch, set the work offsets, read them back, and ask "
            "for test lead and plate to be taken off. Each question shows the word that answers it. "
            "Ctrl-C stops the machine."
        ),
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("--json", action="store_true", help="print one JSON document instead of the table")
    command.add_argument(
        "--prompts",
        action="store_true",
        help="on a virtual machine: put the questions to you, not to its simulated operator; a rehearsal",
    )


def _adapters(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "adapters",
        help="which adapters are installed, and what each is for",
        description=_wrapped("List the installed adapters. A job names one of them under [machine]."),
    )
    command.add_argument("--json", action="store_true", help="print one JSON document instead of lines")
