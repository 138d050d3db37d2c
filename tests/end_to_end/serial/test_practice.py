"""The practice controller on its own: what it does with lines that no adapter of ours would send."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from gingerly_serial.practice.words import HELP
from support.practice import Practice, profile_of


class Terminal:
    """A person at a terminal: a line out, lines in."""

    def __init__(self, practice: Practice) -> None:
        host, _, port = practice.port.removeprefix("socket://").rpartition(":")
        self._socket = socket.create_connection((host, int(port)))
        self._wire = self._socket.makefile("rwb", buffering=0)

    def say(self, text: str | bytes) -> str:
        """Send a line (or bytes as they are) and return the next line heard."""
        self._wire.write(text if isinstance(text, bytes) else text.encode() + b"\n")
        return self.hear()

    def hear(self) -> str:
        return self._wire.readline().decode().strip()

    def close(self) -> None:
        self._wire.close()
        self._socket.close()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    with Practice(tmp_path_factory.mktemp("terminal"), speed=50.0) as practice:
        yield practice


@pytest.fixture
def terminal(served: Practice) -> Iterator[Terminal]:
    served.hand("set up")
    terminal = Terminal(served)
    terminal.say(b"\x05")  # answered: from here on it hears what the hands do
    yield terminal
    terminal.close()


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("N1 G53 G38.2 Z-10 F60", "machine"),
        ("N1 G38.2 Z-10", "feed"),
        ("N1 G91 G38.2 Z-0.1 F60", "too-near"),
        ("N1 G1 X10", "feed"),
        ("N1 X10", "motion"),
        ("N1 G0", "axis"),
        ("N1 G0 X9999", "limit"),
        ("N1 G10 L2 P10 X0", "offset"),
        ("N1 G10 L20 P1 X0", "offset"),
        ("N1 G2 X1 Y1 I1", "untaught"),
    ],
)
def test_what_the_report_calls_an_error_is_declined(terminal: Terminal, line: str, reason: str) -> None:
    """Sources: NISTIR 6556, 3.5.5, 3.5.9.1, 3.5.12, 3.5.15."""
    assert terminal.say(line).startswith(f"line 1 is declined for reason {reason}:")


def test_probing_with_a_turning_spindle_or_a_closed_circuit_is_declined(
    terminal: Terminal, served: Practice
) -> None:
    """Source: NISTIR 6556, 4.3.6.6."""
    terminal.say("N1 M3 S1000")
    assert "reason spindle" in terminal.say("N2 G91 G38.2 Z-10 F60")
    terminal.say("N3 M5")
    served.hand("close at tip")
    assert "reason closed" in terminal.say("N4 G91 G38.2 Z-10 F60")


def test_shift_reads_as_in_the_report(terminal: Terminal) -> None:
    """Source: NISTIR 6556, 3.5.18: at X=4, G92 X7 gives -3, and then G92 X9 gives -5."""
    terminal.say("N1 G90 G53 G0 X4")
    terminal.hear()
    terminal.say("N2 G92 X7")
    assert "shifted -3.00000" in terminal.say(b"\x05")
    terminal.say("N3 G92 X9")
    assert "shifted -5.00000" in terminal.say(b"\x05")


def test_stop_byte_stops_a_move_and_forgets_what_waits(terminal: Terminal, served: Practice) -> None:
    """After CAN the machine brakes, stands, and the lines that waited are gone."""
    terminal.say("N1 G90 G53 G1 X0 F600")
    terminal._wire.write(b"N2 G90 G53 G1 X300 F600\n\x18")
    while "resting" not in (state := terminal.say(b"\x05")):
        assert "travelling" in state
    assert len(served.since_set_up("motion")) == 1
    assert served.since_set_up("rest")[0]["stopped"]


def test_alarm_latches_until_a_person_clears_it(terminal: Terminal, served: Practice) -> None:
    """While an alarm stands every line is declined; only the clear command ends it."""
    served.hand("emergency stop")
    assert "cause stop-pressed" in terminal.hear()
    assert "reason barred" in terminal.say("N1 G90")
    terminal._wire.write(b"LIFT THE BAR\n")
    assert terminal.say("N2 G90") == "line 2 is taken"


def test_last_caller_is_served(served: Practice, terminal: Terminal) -> None:
    """A second connection takes over: the first may have gone without having said so."""
    second = Terminal(served)
    assert second.say("N1 G90") == "line 1 is taken"
    second.close()


def test_other_interfaces_need_to_be_named_and_are_warned_about(tmp_path: Path) -> None:
    """Without being asked for by name nothing but this computer can reach the practice controller."""
    with Practice(tmp_path) as practice:
        assert practice.port.startswith("socket://127.0.0.1:")


@pytest.mark.parametrize("kind", ["nothing", "file", "closed"])
def test_without_hands_at_standard_input_it_serves_all_the_same(tmp_path: Path, kind: str) -> None:
    """Started in the background or from a file it says that nobody's hands are there, and answers on its port."""
    (tmp_path / "words").write_text("quit\n", "ascii")
    given = {"nothing": os.devnull, "file": str(tmp_path / "words"), "closed": os.devnull}[kind]
    closed = ["sh", "-c", 'exec "$@" <&-', "sh"] if kind == "closed" else []
    with (
        open(given) as stdin,
        subprocess.Popen(
            [*closed, sys.executable, "-u", "-m", "gingerly_serial", "practice", "--tcp", "0"],
            stdin=stdin,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as process,
    ):
        assert process.stdout is not None
        assert process.stderr is not None
        port = int(process.stdout.readline().rpartition(":")[2])
        assert process.stderr.readline().startswith("no hands: ")
        with socket.create_connection(("127.0.0.1", port)) as link:
            link.sendall(b"N1 G90\n")
            assert b"line 1 is taken" in link.makefile("rb").readline()
        process.terminate()


def test_help_lists_what_hands_can_do_and_an_unknown_word_points_to_it(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "gingerly_serial", "practice", "--tcp", "0"],
        input="wave\nhelp\nrelease\nclose at tip\nlead on\nclose at tip\nquit\n",
        capture_output=True,
        text=True,
        timeout=60.0,
        check=True,
    )
    _, strange, *shown = done.stdout.splitlines()
    assert strange == "cannot: 'wave' is nothing that hands can do here; help lists what is"
    assert shown[:-5] == HELP.splitlines()
    off = "; the test lead is off: `lead on` clips it on again"
    assert shown[-5:-1] == [
        f"done: release{off}",
        f"done: close at tip{off}",
        "done: lead on",
        "done: close at tip",
    ]


@pytest.mark.parametrize(
    "word", ["mischief {", "mischief 3", "scene {}}", 'scene {"plac": 1}', "await motion x", "plug in"]
)
def test_what_hands_cannot_do_is_answered_in_a_sentence_and_the_machine_goes_on(
    served: Practice, word: str
) -> None:
    assert served.process.stdin is not None
    served.process.stdin.write(f"{word}\n")
    served.process.stdin.flush()
    answer = served._answer()
    assert answer.startswith("cannot: ")
    assert not re.search(r"__|iterable|invalid literal|char 0", answer)
    assert served.hand("set up") == "done: set up"


def test_at_a_terminal_the_words_of_the_hands_are_shown_at_once(tmp_path: Path) -> None:
    near, far = os.openpty()
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "gingerly_serial", "practice", "--tcp", "0"],
        stdin=far,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        os.write(near, b"quit\n")
        out, _ = process.communicate(timeout=60.0)
    os.close(near)
    os.close(far)
    assert HELP in out


def test_bad_arguments_are_answered_in_a_sentence(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A missing profile, an impossible speed, or mischief that is none is bad input."""
    from gingerly_serial.__main__ import main

    assert main(["practice", "--profile", str(tmp_path / "none.toml")]) == 2
    assert main(["practice", "--speed", "0"]) == 2
    assert main(["practice", "--tcp", "0", "--mischief", '{"what": "reset", "whim": 1}']) == 2
    err = capsys.readouterr().err
    assert "none.toml" in err
    assert "--speed" in err
    assert "'whim'" in err
    assert profile_of("practice") == "practice"
