"""The command line. Thin: it reads a job, runs a batch, and shows what came of it.

What is heavy is imported by the command that needs it, so that ``gingerly --help`` is quick.
"""

from __future__ import annotations

import logging
import os
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from importlib import import_module

from gingerly.cli.parser import COMMANDS, parser

FAULT, BAD_INPUT, INTERRUPTED, READER_GONE = 1, 2, 130, 141
"""Exit codes; 130 and 141 are 128 and the number of SIGINT and SIGPIPE: common practice, no source."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; errors go to stderr, data to stdout."""
    _stand_in_for_closed_streams()
    _speak_any_terminal()
    _log_in_brief()
    words = sys.argv[1:] if argv is None else argv
    arguments = parser(with_added=not words or words[0] not in COMMANDS).parse_args(words)
    from gingerly.cli.interrupt import BrokenOff
    from gingerly.job.problems import JobError
    from gingerly.messages.faults import Fault

    try:
        code: int = _command(arguments)(arguments)
        sys.stdout.flush()
        return code
    except JobError as error:
        print("\n".join(error.lines()), file=sys.stderr)
        return BAD_INPUT
    except Fault as fault:
        print(fault.story(), file=sys.stderr)
        return FAULT
    except KeyboardInterrupt:
        print("interrupted before the machine was moved", file=sys.stderr)
        return INTERRUPTED
    except BrokenOff as interruption:
        print(f"interrupted: {interruption}", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has gone; Python would complain again while it closes the stream.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return READER_GONE


def _command(arguments: Namespace) -> Callable[[Namespace], int]:
    """The function of a command: one of ours, or what the package that added it has set."""
    if arguments.command not in COMMANDS:
        added: Callable[[Namespace], int] = arguments.run
        return added
    ours: Callable[[Namespace], int] = import_module(COMMANDS[arguments.command]).run
    return ours


def _stand_in_for_closed_streams() -> None:
    """Give whoever was started without a standard stream an empty one: nobody is there, and nothing can be shown."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115 (as long as the process)


class _InBrief(logging.Handler):
    """Tells in one line what went wrong aside; the fault itself is told where it belongs, and no traceback helps."""

    def emit(self, record: logging.LogRecord) -> None:
        error = record.exc_info[1] if record.exc_info else None
        why = "" if error is None else f": {type(error).__name__}"
        print(f"note: {record.getMessage()}{why}", file=sys.stderr)


def _log_in_brief() -> None:
    log = logging.getLogger("gingerly")
    if not log.handlers:
        log.addHandler(_InBrief(logging.WARNING))


def _speak_any_terminal() -> None:
    """Write a question mark where a terminal cannot show a letter, rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
