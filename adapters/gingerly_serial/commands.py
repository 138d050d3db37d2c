"""The commands that this adapter adds to the command line: check a profile, serve the practice controller."""

from __future__ import annotations

import argparse
import json
import sys
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

from gingerly_serial.profile import ProfileError, load

DONE, FAULT, BAD_INPUT = 0, 1, 2
TCP_HELP = "serve on a TCP port of this computer (0: any free one) instead of a pty"
CHECK_CODES = "exit codes: 0 every line was understood, 1 some were not, 2 bad input"
PRACTICE_CODES = "exit codes: 0 told to quit, 2 bad input, 130 interrupted"


def add_commands(subparsers: Any) -> None:
    """Add ``profile`` and ``practice`` to a command line's subparsers; each sets `run` to its function."""
    profile = subparsers.add_parser("profile", help="check how a controller's answers are read; no motion")
    actions = profile.add_subparsers(dest="action", required=True)
    check = actions.add_parser(
        "check", help="read a profile, and replay a recorded exchange through it", epilog=CHECK_CODES
    )
    check.add_argument("profile", help="the profile's file, or practice")
    check.add_argument("--transcript", metavar="FILE", help="what was sent and heard, one JSON object a line")
    check.set_defaults(run=check_profile)
    _add_practice(subparsers)


def _add_practice(subparsers: Any) -> None:
    serve = subparsers.add_parser(
        "practice", help="serve the practice controller, a virtual machine in real time", epilog=PRACTICE_CODES
    )
    serve.add_argument("--profile", default="practice", help="the wire profile that it speaks")
    serve.add_argument("--tcp", metavar="PORT", type=int, help=TCP_HELP)
    serve.add_argument(
        "--interface", default="127.0.0.1", help="where to listen; others than loopback are open to all"
    )
    serve.add_argument("--speed", type=float, default=1.0, help="how many times faster than real; left out: 1")
    serve.add_argument("--scene", metavar="FILE", help="what lies on the table, TOML")
    serve.add_argument("--job", metavar="JOB", help="put the parts of this job on the table, one after the other")
    serve.add_argument("--truth", metavar="FILE", help="where to log what truly happens")
    serve.add_argument(
        "--mischief", metavar="JSON", action="append", default=[], help="how to misbehave; repeatable"
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
    except (ProfileError, OSError, ValueError) as error:
        print(f"gingerly profile check: {error}", file=sys.stderr)
        return BAD_INPUT
    print(f"{strange} lines not understood" if strange else "every line was understood")
    return FAULT if strange else DONE


def practice(arguments: argparse.Namespace) -> int:
    """Serve the practice controller until it is told to quit; moves a virtual machine only."""
    from gingerly_serial.practice.scene import read
    from gingerly_serial.practice.server import LOOPBACK, Server

    try:
        load(arguments.profile)  # for its errors only: the practice controller reads the file by itself
        scene = read(arguments.scene)
        server = Server(
            _table(arguments.profile),
            speed=_speed(arguments.speed),
            machine=scene.get("machine"),
            scene=scene.get("scene"),
            truth=arguments.truth,
            job=arguments.job,
            contact_after_answer=arguments.contact_after_answer,
        )
        for one in arguments.mischief:
            server.add_mischief(_mischief(one))
        if arguments.tcp is None:
            where = server.open_pty()
        else:
            where = server.listen(arguments.interface, arguments.tcp)
    except (OSError, ValueError, TypeError, ImportError) as error:
        print(f"gingerly practice: {error}", file=sys.stderr)
        return BAD_INPUT
    if arguments.tcp is not None and arguments.interface not in LOOPBACK:
        print(
            f"warning: anybody who reaches {arguments.interface} can command this practice controller, unencrypted",
            file=sys.stderr,
        )
    print(f"practice controller at {where}", flush=True)
    try:
        server.serve(hands=not arguments.no_hands)
    except KeyboardInterrupt:
        return 130
    return DONE


def _table(source: str) -> dict[str, Any]:
    if source == "practice":
        return tomllib.loads(files("gingerly_serial").joinpath("profiles/practice.toml").read_text("utf-8"))
    return tomllib.loads(Path(source).read_text("utf-8"))


def _mischief(text: str) -> dict[str, Any]:
    try:
        found: dict[str, Any] = json.loads(text)
    except ValueError as error:
        raise ValueError(f"--mischief {text!r} is not JSON: {error}") from None
    return found


def _speed(speed: float) -> float:
    if not 0.01 <= speed <= 1000.0:
        raise ValueError(f"--speed must lie from 0.01 to 1000, not {speed:g}")
    return speed
