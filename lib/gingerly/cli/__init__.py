"""The command line. Thin: it reads a job, runs a batch, and shows what came of it.

What is heavy is imported by the command that needs it, so that ``gingerly --help`` is quick.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace

FAULT, BAD_INPUT, UNWRITTEN, INTERRUPTED, READER_GONE = 1, 2, 74, 130, 141
"""Exit codes. 130 and 141 are 128 and the number of SIGINT and SIGPIPE, 74 is what C programs on Unix call an error of
input or output: common practice, no source."""

MACHINE = ("demo", "check", "run", "continuity", "jog", "verify")
"""Commands that have to do with one machine, real or virtual."""

MOVES = ("run", "jog", "verify")
"""Those that move it, and keep in the journal what they do."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; errors go to stderr, data to stdout."""
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        # Imported here, so that an interruption is told in words from the first moment on.
        from gingerly.cli import streams

        with streams.guarded(), streams.own_ctrl_c():
            try:
                return _written(words)
            except KeyboardInterrupt:
                print(_after_ctrl_c() + _interrupted(words), file=sys.stderr)
                return INTERRUPTED
    except KeyboardInterrupt:
        print(_interrupted(words), file=sys.stderr)
        return INTERRUPTED


def _written(words: list[str]) -> int:
    """Run one command and return its exit code; an output that nobody takes ends in one of its own."""
    from gingerly.cli import streams

    try:
        code = _told(words)
        sys.stdout.flush()
        return code
    except streams.Unwritten as lost:
        if lost.reader_gone:
            return READER_GONE
        print(f"the output could not be written: {lost}. {_after(words)}".rstrip(), file=sys.stderr)
        return UNWRITTEN


def _told(words: list[str]) -> int:
    """Run one command and return its exit code; what went wrong is told on stderr."""
    from gingerly.cli.interrupt import BrokenOff, Interrupts
    from gingerly.cli.parser import COMMANDS, parser

    Interrupts.ever_guarded = False
    try:
        arguments = parser(with_added=not words or words[0] not in COMMANDS).parse_args(words)
    except SystemExit:
        sys.stdout.flush()  # a help text that nobody takes
        raise
    from gingerly.job.problems import JobError
    from gingerly.messages.faults import Fault

    try:
        return _command(arguments, COMMANDS)(arguments)
    except JobError as error:
        print("\n".join(error.lines()), file=sys.stderr)
        return BAD_INPUT
    except Fault as fault:
        from gingerly.cli.columns import tell

        tell(fault.story())
        return FAULT
    except BrokenOff as interruption:
        from gingerly.cli.columns import tell

        tell(f"{_after_ctrl_c()}interrupted: {interruption}")
        return INTERRUPTED


def _after_ctrl_c() -> str:
    """On a terminal a new line: its own ^C, or what was asked last, stands at the end of one that is not over."""
    return "\n" if sys.stderr.isatty() else ""


def _interrupted(words: Sequence[str]) -> str:
    """Return what is told of an interruption while no machine was in the program's hands."""
    interrupts = sys.modules.get("gingerly.cli.interrupt")
    if words[:1] and words[0] in MOVES and interrupts is not None and interrupts.Interrupts.ever_guarded:
        return f"interrupted while this program was not moving the machine. {_after(words)}"
    if words[:1] and words[0] in MACHINE and not (interrupts is not None and interrupts.Interrupts.ever_guarded):
        return "interrupted before the machine was moved"
    return "interrupted"


def _after(words: Sequence[str]) -> str:
    """Return where to read what a command has done whose output is lost."""
    return "`gingerly history` tells what was set." if words[:1] and words[0] in MOVES else ""


def _command(arguments: Namespace, ours: dict[str, str]) -> Callable[[Namespace], int]:
    """The function of a command: one of ours, or what the package that added it has set."""
    run = import_module(ours[arguments.command]).run if arguments.command in ours else arguments.run
    found: Callable[[Namespace], int] = run
    return found
