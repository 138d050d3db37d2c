"""Nobody listens, nobody reads, somebody presses Ctrl-C: what a command does then is done all the same, and told."""

from __future__ import annotations

import contextlib
import io
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from gingerly.cli import main
from gingerly.cli.operator import Lines, TerminalOperator
from gingerly.cli.streams import Data, Unheard, Unwritten
from gingerly.messages.commands import Answer, Question
from support.command import LIMIT_S, write
from support.jobs import SOUND


class Spoilt(io.StringIO):
    """A stream of which `spoils` is done at the first text that is written to it."""

    def __init__(self, spoils: Callable[[], object]) -> None:
        super().__init__()
        self._spoils: Callable[[], object] | None = spoils

    def write(self, text: str) -> int:
        spoils, self._spoils = self._spoils, None
        if spoils is not None:
            spoils()
        return super().write(text)


class Gone(io.StringIO):
    """A stream whose other end is closed."""

    def write(self, text: str) -> int:
        raise BrokenPipeError(32, "Broken pipe")


def ctrl_c() -> None:
    signal.raise_signal(signal.SIGINT)


def run(*words: str, out: io.StringIO | None = None, told: io.StringIO | None = None) -> tuple[int, str, str]:
    """The exit code, and what was written to either stream."""
    out, told = out or io.StringIO(), told or io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(told):
        code = main(words)
    return code, out.getvalue(), told.getvalue()


@pytest.fixture
def job(tmp_path: Path) -> tuple[str, ...]:
    """What runs the sound job."""
    return "run", write(tmp_path, SOUND), "--journal", str(tmp_path / "journal.db")


# ---- nobody listens ---------------------------------------------------------------------------------------------


def test_a_run_whose_stderr_nobody_reads_is_done_to_the_end(job: tuple[str, ...]) -> None:
    """Progress is told there; the machine does not care who listens."""
    code, out, _ = run(*job, told=Gone())
    assert code == 0
    assert [name for name in ("pad", "lid 1", "lid 2", "cutter in") if name not in out] == []


def test_a_stream_that_nobody_hears_is_let_go_once_and_for_all() -> None:
    stream = Unheard(Gone())
    assert (stream.write("one"), stream.lost) == (3, True)
    stream.write("two")
    stream.flush()


def test_a_letter_that_a_stream_cannot_write_is_no_matter_of_who_listens() -> None:
    stream = Unheard(io.TextIOWrapper(io.BytesIO(), encoding="ascii"))
    with pytest.raises(UnicodeEncodeError):
        stream.write("± 5 µm")
    assert not stream.lost


@pytest.mark.asyncio
async def test_a_question_that_nobody_can_read_is_answered_with_no() -> None:
    """Nothing is read, so that no word typed blindly can move the machine."""
    keyboard, fingers = os.pipe()
    os.write(fingers, b"clear\n")
    operator = TerminalOperator(Lines(keyboard), Unheard(Gone()))  # type: ignore[arg-type]
    assert await operator.ask(Question.CLEAR, "attic mill") is Answer.NO


# ---- nobody reads -----------------------------------------------------------------------------------------------


def test_a_reader_who_has_gone_ends_the_command_with_141_and_no_more_words(job: tuple[str, ...]) -> None:
    code, _, told = run(*job, out=Gone())
    assert code == 141
    assert "could not be written" not in told


@pytest.mark.parametrize("words", [("job", "schema"), ("--help",)])
def test_an_output_that_finds_no_room_is_told_in_words(words: tuple[str, ...]) -> None:
    """`/dev/full` has none, ever."""
    if not Path("/dev/full").exists():
        pytest.skip("this system has no /dev/full")
    with open("/dev/full", "w", encoding="utf-8") as full:
        ended = subprocess.run(
            [sys.executable, "-m", "gingerly", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=LIMIT_S,
            check=False,
        )
    assert (ended.returncode, ended.stderr) == (74, "the output could not be written: No space left on device.\n")


def test_what_a_run_has_set_is_to_be_found_where_its_output_is_lost(job: tuple[str, ...]) -> None:
    def no_room() -> None:
        raise OSError(28, "No space left on device")

    code, _, told = run(*job, out=Spoilt(no_room))
    assert code == 74
    assert told.endswith("No space left on device. `gingerly history` tells what was set.\n")


def test_after_the_first_loss_data_goes_nowhere() -> None:
    data = Data(Gone())
    with pytest.raises(Unwritten):
        data.write("one")
    assert data.write("two") == 3


# ---- Ctrl-C while no machine is in the program's hands ----------------------------------------------------------


def test_before_anything_was_asked_of_the_machine_it_was_not_moved(job: tuple[str, ...]) -> None:
    code, _, told = run(*job, told=Spoilt(ctrl_c))
    assert code == 130
    assert told.endswith("interrupted before the machine was moved\n")


def test_while_the_result_is_printed_nobody_says_that_nothing_was_moved(job: tuple[str, ...]) -> None:
    code, _, told = run(*job, "--json", out=Spoilt(ctrl_c))
    assert code == 130
    assert "before the machine was moved" not in told
    assert told.endswith(
        "interrupted while this program was not moving the machine. `gingerly history` tells what was set.\n"
    )


@pytest.mark.parametrize("words", [("adapters",), ("job", "schema")])
def test_where_there_is_no_machine_nothing_is_said_of_one(words: tuple[str, ...]) -> None:
    assert run(*words, out=Spoilt(ctrl_c))[::2] == (130, "interrupted\n")


EARLY = """
import signal, sys
class Presses:
    def find_spec(self, name, path, target=None):
        if name == {module!r}:
            signal.raise_signal(signal.SIGINT)
sys.meta_path.insert(0, Presses())
from gingerly.cli import main
sys.exit(main(["check", "nothing.toml"]))
"""


@pytest.mark.parametrize("module", ["gingerly.cli.streams", "gingerly.cli.parser", "gingerly.batch"])
def test_ctrl_c_while_the_command_is_still_being_loaded_is_told_in_words(module: str) -> None:
    words = [sys.executable, "-c", EARLY.format(module=module)]
    ended = subprocess.run(words, capture_output=True, text=True, timeout=LIMIT_S, check=False)
    assert (ended.returncode, ended.stderr) == (130, "interrupted before the machine was moved\n")
