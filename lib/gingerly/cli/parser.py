"""The commands and their options, with help that teaches. Imports nothing that is not needed to parse."""

from __future__ import annotations

import argparse
import sys
import textwrap

COMMANDS = {
    "demo": "gingerly.cli.demo",
    "check": "gingerly.cli.check",
    "run": "gingerly.cli.run",
    "continuity": "gingerly.cli.continuity",
    "jog": "gingerly.cli.jog",
    "verify": "gingerly.cli.verify",
    "rehearse": "gingerly.cli.rehearse",
    "history": "gingerly.cli.history",
    "job": "gingerly.cli.schema",
    "adapters": "gingerly.cli.adapters",
}
"""The module of each command; its function ``run`` takes the parsed arguments and returns the exit code."""

EXIT_CODES = """\
exit codes:
  0    done; where a machine was used, test lead and plate are confirmed off
  1    a fault; the message says whether the machine stands still
  2    bad input; the message names the file and the key
  3    refused before anything moved
  4    set, but nobody has confirmed that test lead and plate are off
  74   the output could not be written, for want of room, say
  130  interrupted; the message says whether the machine stands still
  141  whoever read the output has gone; the machine did not care
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
    for add in (_demo, _check, _run, _continuity, _jog, _verify, _rehearse, _history, _job, _adapters):
        add(commands)
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


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, short: str, long: str, more: str = ""
) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=short,
        description=_wrapped(long),
        epilog=f"{more}\n{EXIT_CODES}" if more else EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _job_file(command: argparse.ArgumentParser) -> None:
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")


def _json(command: argparse.ArgumentParser, instead: str = "the table") -> None:
    command.add_argument("--json", action="store_true", help=f"print one JSON document instead of {instead}")


def _prompts(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--prompts",
        action="store_true",
        help="on a virtual machine: put the questions to you, not to its virtual operator",
    )


def _part(command: argparse.ArgumentParser, which: str) -> None:
    command.add_argument("--part", metavar="NAME", help=f"the part of this name; left out: {which}")


def _demo(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "demo",
        "the whole job on a virtual machine, start to finish, nothing to configure",
        "Set up a small batch on a virtual machine: circuit check, reference face, outside corners, "
        "one part whose test lead falls off, and a tool change. Then show what was found, and how far off "
        "it is.",
    )
    command.add_argument(
        "--job", metavar="FILE", help="a job file of your own instead; it must name a virtual machine"
    )
    command.add_argument("--seed", type=int, metavar="N", help="draw another world: other places, tools and plates")
    _json(command)


def _check(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "check",
        "read a job, plan it, and show every move; no motion",
        "Read a job and say what is wrong with it, all of it. Then plan every part and show each move with its "
        "feed and time, which limit chose what, where a contact would be plausible, how far the tool would be "
        "pushed if the lead were off, how sure the result would be, the room "
        "to axis limits and keep-outs, and the work offsets that would be overwritten. "
        "Nothing moves.",
        "try it:\n  gingerly check examples/one_corner.toml\n",
    )
    _job_file(command)
    command.add_argument(
        "--connect",
        action="store_true",
        help="ask the machine where it stands and what its work offsets hold (a virtual one is always asked)",
    )
    _json(command, "the plan as text")


def _run(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "run",
        "do a job on the machine that it names",
        "Do a job: check the circuit with you, touch, set the work offsets, read them back, and ask "
        "for test lead and plate to be taken off. Each question shows the word that answers it. "
        "Ctrl-C stops the machine.",
        "first:\n  gingerly check JOB             see every move before anything moves\n"
        '  gingerly run JOB --prompts     with adapter = "mock": see what you will be asked\n',
    )
    _job_file(command)
    _json(command)
    _prompts(command)
    command.add_argument(
        "--unattended",
        action="store_true",
        help="with nobody there: refuse whatever would need a person, accept no waiver, and begin with a slow touch"
        " of the job's first part, a fixed reference, that proves the circuit",
    )
    command.add_argument(
        "--table", metavar="FILE", help="write the origins that were found as a table (CSV) for the next program"
    )
    command.add_argument(
        "--look-at-zero",
        metavar="LENGTH",
        help='at the end, once lead and plate are off, show each new zero: the tool goes this far above it ("20 mm")',
    )
    _resume(command)


def _resume(command: argparse.ArgumentParser) -> None:
    """The options of `run` that belong to the journal."""
    command.add_argument(
        "--resume",
        action="store_true",
        help="go on where the latest run of this job was cut off: the controller is asked what every work offset"
        " is, and what is set already is not touched again",
    )
    command.add_argument(
        "--overwrite",
        metavar="NUMBER",
        type=int,
        nargs="+",
        choices=range(1, 10),
        default=[],
        help="with --resume: these work offsets may be written over although somebody else has changed them",
    )
    command.add_argument(
        "--accept",
        metavar="PART",
        nargs="+",
        default=[],
        help="with --resume: what somebody else has set for these parts is right as it stands; they are not touched,"
        " and the journal says that a person accepted it",
    )
    command.add_argument(
        "--finished",
        metavar="PART",
        nargs="*",
        help="with --resume: these parts are done with (without names: all that are set), so that the parts of the"
        " next wave may use their work offsets",
    )
    _journal(command)


def _journal(command: argparse.ArgumentParser) -> None:
    command.add_argument("--journal", metavar="FILE", help="the journal; left out: the job's, or your own")


def _continuity(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "continuity",
        "check the circuit with you; no motion",
        "See the circuit open, closed at the very place that will touch, and open again. Nothing moves. A lead "
        "that looks clipped on and is not is how tools are broken: try it whenever you are not sure.",
    )
    _job_file(command)
    _part(command, 'the first, or the first that lies "here"')
    _json(command, "a sentence")
    _prompts(command)


def _jog(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "jog",
        "bring the tool over the plate step by step",
        "Move the machine by one step per key press along one axis, with position, circuit and alarm shown as they "
        "are. UNGUARDED until the circuit was checked (key c): then a contact stops a step. Below clearance an "
        "unguarded step is at most 0.5 mm. While the circuit is closed only the step back is taken. Key t makes the "
        "stop test of the first day: does a touch really stop the machine?",
    )
    _job_file(command)
    _part(command, 'the first that lies "here", or the first')
    command.add_argument(
        "--height", metavar="LENGTH", help="how far the tip will stand above the flat when the place is kept"
    )
    command.add_argument(
        "--keep", action="store_true", help="write the place that is kept (key k) into the job file"
    )
    _journal(command)


def _verify(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "verify",
        "touch what was set, compare, write nothing",
        "Touch the parts of a job again, with the tool that their work offsets fit by now, and compare with what "
        "the controller holds. Nothing is written. A face further off than the tolerance is a fault.",
    )
    _job_file(command)
    _part(command, "all that set a work offset")
    # The tolerance left out is our own choice.
    command.add_argument(
        "--tolerance", metavar="LENGTH", default="0.05 mm", help="how far off a face may be; left out: 0.05 mm"
    )
    _json(command)
    _prompts(command)
    _journal(command)


def _rehearse(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "rehearse",
        "do a job many times on virtual machines, and see how far off it comes out",
        "Do the whole job again and again on virtual machines, each with a truth of its own: place, skew, tool, "
        "plate, reaction time and backlash are drawn from what the job and the machine's facts leave open. Then "
        "tell how often it went well, how far off each axis was, whether the stated ± held, how long it took and "
        "how deep the tool was pushed. Nothing real moves.",
    )
    _job_file(command)
    # So many runs tell a share of 95 % to about 1.4 %, which is enough for a look. Our own choice.
    command.add_argument("--runs", type=_count, default=1000, metavar="N", help="how many runs; left out: 1000")
    command.add_argument("--seed", type=int, default=1, metavar="N", help="draw other worlds; left out: 1")
    command.add_argument("--run", type=_count, metavar="K", help="make run K alone, and show it as `run` would")
    command.add_argument(
        "--fault",
        action="append",
        metavar='"WHAT=RATE"',
        help='what goes wrong once in so many runs, such as "lead off=0.01"; may be given more than once',
    )
    command.add_argument(
        "--workers", type=_count, metavar="N", help="how many processes; left out: one for each core"
    )
    command.add_argument(
        "--scheduler", metavar="ADDRESS", help="hand the runs to the Dask cluster there (extra: gingerly[dask])"
    )
    _json(command, "the account")


def _count(text: str) -> int:
    if not (text.isdecimal() and int(text) > 0):
        raise argparse.ArgumentTypeError(f"must be a whole number of 1 or more, not {text!r}")
    return int(text)


def _history(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "history",
        "what was set, when, how sure, released or not",
        "Show the work offsets that were set, the latest last, and after them those whose lead and plate were "
        "never confirmed off. Dates are days in UTC. Nothing moves, and no machine is asked.",
        "try it:\n  gingerly history --machine 'bench mill' --since 2026-01-31\n"
        "  gingerly history --csv > offsets.csv\n",
    )
    command.add_argument(
        "--machine", metavar="NAME", help='of this machine only; a virtual one is "NAME (virtual)"'
    )
    command.add_argument("--job", metavar="FILE", help="of this job only")
    command.add_argument("--part", metavar="NAME", help="of this part only")
    command.add_argument("--since", metavar="DATE", help="from this day on, as 2026-01-31")
    command.add_argument("--until", metavar="DATE", help="up to and including this day")
    command.add_argument(
        "--last", metavar="N", type=_count, help="so many at most, the latest ones (as a table: 50)"
    )
    how = command.add_mutually_exclusive_group()
    how.add_argument("--json", action="store_true", help="print one JSON document instead of the table")
    how.add_argument("--csv", action="store_true", help="print comma-separated values with a heading")
    how.add_argument(
        "--all", action="store_true", help="print every entry of the journal, one JSON document a line"
    )
    _journal(command)


def _job(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "job",
        "the JSON Schema of job files, for editors",
        "Print the JSON Schema of a job file, made from the types that it is read with. An editor that knows it "
        "completes keys and marks what is wrong while you type.",
        "try it:\n  gingerly job schema > gingerly.schema.json\n",
    )
    command.add_argument("what", choices=["schema"], help="what to print")


def _adapters(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = _command(
        commands,
        "adapters",
        "which adapters are installed, and what each is for",
        "List the installed adapters. A job names one of them under [machine].",
    )
    _json(command, "lines")
