"""The commands that this adapter adds to the command line: check a profile, serve the practice controller."""

from __future__ import annotations

import argparse
import sys
import textwrap
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gingerly.options import between, whole
from gingerly_serial.profile import load

if TYPE_CHECKING:
    from gingerly_serial.practice.server import Server

DONE, FAULT, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130
HIGHEST_PORT = 65535
PROFILE = """\
A wire profile is a TOML file that says how one controller answers: how it accepts and refuses, tells its state, a
contact, an alarm and a work offset. Before anything moves, `gingerly profile check` shows what a profile makes of
what your controller really says. Nothing moves, and no machine is asked.
"""
CHECK = """\
Read a wire profile and say whether it is usable, what a controller behind it cannot tell, and all that it has the
program send. With a transcript, as the option `transcript` of a job keeps it, also show line by line what each
reply was taken for: compare that with the machine's own display. Nothing moves, and no machine is asked.
"""
CHECK_CODES = """\
exit codes:
  0    the profile is usable, and every line of the transcript was understood
  1    some lines were not understood; they are marked
  2    bad input: no usable profile, or no transcript; the message says why
  141  whoever read the output has gone
"""
PRACTICE = """\
Serve a controller to practise with: a virtual machine in real time behind a pty or a TCP port, which speaks a wire
profile as a real one would. What hands do at the machine is typed here, a line each; `help` lists it. Nothing real
moves. Without --scene and --job one blank with a plate on it lies on the table, and the tool is at the top.
"""
PRACTICE_CODES = """\
try it:
  gingerly practice --tcp 4000

exit codes:
  0    told to quit, or whoever typed at it has gone
  2    bad input; the message says what is wrong
  130  interrupted
"""


def add_commands(subparsers: Any) -> None:
    """Add ``profile`` and ``practice`` to a command line's subparsers; each sets `run` to its function."""
    profile = _command(
        subparsers, "profile", "check how a controller's answers are read; no motion", PROFILE, CHECK_CODES
    )
    actions = profile.add_subparsers(dest="action", required=True, metavar="ACTION")
    check = _command(
        actions, "check", "read a profile, and replay a recorded exchange through it", CHECK, CHECK_CODES
    )
    check.add_argument("profile", metavar="PROFILE", help="the profile's file, or practice")
    check.add_argument("--transcript", metavar="FILE", help="what was sent and heard, one JSON object a line")
    check.set_defaults(run=check_profile)
    _add_practice(subparsers)


def _command(subparsers: Any, name: str, short: str, long: str, more: str) -> argparse.ArgumentParser:
    made: argparse.ArgumentParser = subparsers.add_parser(
        name,
        help=short,
        description=textwrap.fill(long, 78),
        epilog=more,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    return made


def _add_practice(subparsers: Any) -> None:
    serve = _command(
        subparsers,
        "practice",
        "serve the practice controller, a virtual machine in real time",
        PRACTICE,
        PRACTICE_CODES,
    )
    serve.add_argument("--profile", default="practice", help="the wire profile that it speaks")
    serve.add_argument(
        "--tcp",
        metavar="PORT",
        type=int,
        help="serve on a TCP port of this computer (0: any free one), not on a pty",
    )
    serve.add_argument(
        "--interface", default="127.0.0.1", help="where to listen; others than loopback are open to all"
    )
    serve.add_argument("--speed", type=float, default=1.0, help="how many times faster than real; left out: 1")
    serve.add_argument(
        "--scene", metavar="FILE", help="what lies on the table and where the tool stands, TOML: [machine], [scene]"
    )
    serve.add_argument("--job", metavar="JOB", help="put the parts of this job on the table, one after the other")
    serve.add_argument("--truth", metavar="FILE", help="where to log what truly happens")
    serve.add_argument(
        "--mischief",
        metavar="JSON",
        action="append",
        default=[],
        help='how to misbehave, such as {"what": "reset", "motion": 3}; repeatable',
    )
    serve.add_argument(
        "--contact-after-answer", action="store_true", help="tell a contact after the command's answer"
    )
    serve.add_argument("--no-hands", action="store_true", help="do not read commands from standard input")
    serve.set_defaults(run=practice)


def check_profile(arguments: argparse.Namespace) -> int:
    """Check a profile and print line by line what a transcript means by it; moves nothing."""
    from gingerly_serial.check import replay, summary

    try:
        profile = load(arguments.profile)
        for line in summary(profile):
            print(line)
        if arguments.transcript is None:
            return DONE
        strange = 0
        for told in replay(profile, arguments.transcript):
            strange += told.strange
            print(told.text)
    except ValueError as error:
        print(f"gingerly profile check: {error}", file=sys.stderr)
        return BAD_INPUT
    print(f"{strange} lines not understood" if strange else "every line was understood")
    return FAULT if strange else DONE


def practice(arguments: argparse.Namespace) -> int:
    """Serve the practice controller until it is told to quit; moves a virtual machine only."""
    from gingerly_serial.practice.server import LOOPBACK

    try:
        server, where = _served(arguments)
    except (ValueError, TypeError) as error:
        print(f"gingerly practice: {error}", file=sys.stderr)
        return BAD_INPUT
    if arguments.tcp is not None and arguments.interface not in LOOPBACK:
        print(
            f"warning: anybody who reaches {arguments.interface} can command this practice controller, unencrypted",
            file=sys.stderr,
        )
    print(f"practice controller at {where}", flush=True)
    if not arguments.no_hands:
        _lend_hands(server)
    try:
        server.serve()
    except KeyboardInterrupt:
        return INTERRUPTED
    return DONE


def _served(arguments: argparse.Namespace) -> tuple[Server, str]:
    """Return the practice controller and where it is; raises `ValueError` or `TypeError` for what cannot be."""
    from gingerly_serial.practice.scene import read
    from gingerly_serial.practice.server import Server
    from gingerly_serial.practice.words import from_json

    load(arguments.profile)  # for its errors only: the practice controller reads the file by itself
    if arguments.tcp is not None:
        whole("--tcp", arguments.tcp, 0, HIGHEST_PORT)
    scene = read(arguments.scene)
    server = Server(
        _table(arguments.profile),
        speed=between("--speed", arguments.speed, 0.01, 1000.0),
        machine=scene.get("machine"),
        scene=scene.get("scene"),
        truth=arguments.truth,
        job=arguments.job,
        contact_after_answer=arguments.contact_after_answer,
    )
    try:
        for one in arguments.mischief:
            server.add_mischief(from_json(one, "--mischief"))
        where = server.open_pty() if arguments.tcp is None else server.listen(arguments.interface, arguments.tcp)
    except ValueError:
        server.close()
        raise
    return server, where


def _lend_hands(server: Server) -> None:
    """Let what is typed be the hands at the machine, and say what can be typed, where somebody can."""
    from gingerly_serial.practice.words import HELP

    if not server.lend_hands():
        print(
            "no hands: standard input is neither a terminal nor a pipe; it serves until its process is ended",
            file=sys.stderr,
            flush=True,
        )
    elif sys.stdin.isatty():
        print(HELP, flush=True)


def _table(source: str) -> dict[str, Any]:
    if source == "practice":
        return tomllib.loads(files("gingerly_serial").joinpath("profiles/practice.toml").read_text("utf-8"))
    return tomllib.loads(Path(source).read_text("utf-8"))
