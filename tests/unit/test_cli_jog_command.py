"""`gingerly jog` from the first question to the place that is kept, with somebody at a terminal who presses keys."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from gingerly.cli import main
from support.command import write
from support.jobs import spoiled

HERE = spoiled("place = { x = 170, y = 40, z = -45 }", 'place = "here"\nheight = "6 mm"').replace(
    "seed = 11", 'seed = 11\nideal = true\nposition = [150, 100, -20]\nguard = "polled"'
)
FIXED = spoiled("seed = 11", 'seed = 11\nideal = true\nposition = [150, 100, -20]\nguard = "polled"')


Jog = Callable[..., tuple[int, str, str]]


class Person(io.StringIO):
    """Types the next answer, or presses the next key, at each prompt on this screen."""

    def __init__(self, *answers: str) -> None:
        super().__init__()
        self.descriptor, self._pipe = os.pipe()
        self._answers = iter(answers)

    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        return self.descriptor

    def write(self, text: str) -> int:
        if text.endswith("> "):
            os.write(self._pipe, next(self._answers).encode())
        return super().write(text)


@pytest.fixture
def jog(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Jog:
    """Jog in a job with these answers; return the exit code, what was printed, and the job file afterwards."""

    def go(text: str, answers: tuple[str, ...], *options: str) -> tuple[int, str, str]:
        path, person = write(tmp_path, text), Person(*answers)
        monkeypatch.setattr(sys, "stdin", person)
        monkeypatch.setattr(sys, "stderr", person)
        code = main(["jog", path, "--journal", str(tmp_path / "journal.db"), *options])
        return code, capsys.readouterr().out, Path(path).read_text(encoding="utf-8")

    return go


KEEP = ("clear\n", "k", "removed\n")


def test_a_kept_place_is_told_and_goes_into_the_job_when_asked_for(jog: Jog) -> None:
    """The height that the job says for this part is the one that counts."""
    code, out, job = jog(HERE, KEEP, "--keep")
    assert code == 0
    assert out.startswith("the tool stands at X150.000 Y100.000 Z-20.000\nplace = { x = ")
    assert out.endswith("written into the job\n")
    assert out.splitlines()[1] in job


def test_without_being_asked_the_job_stays_as_it_is(jog: Jog) -> None:
    _, out, job = jog(HERE, KEEP)
    assert "place = { x = " in out
    assert job == HERE


def test_a_part_that_has_a_place_needs_a_height_to_get_another(jog: Jog) -> None:
    code, out, job = jog(FIXED, KEEP, "--part", "lid 2", "--keep")
    assert code == 0
    assert "say with --height how far it stands above the flat" in out
    assert "place =" not in out
    assert job == FIXED


def test_a_height_said_at_the_command_goes_before_the_jobs(jog: Jog) -> None:
    (near, far) = (jog(HERE, KEEP, "--height", f"{height} mm")[1].splitlines()[1] for height in (6, 7))
    z = [float(line.rsplit("=", 1)[1].strip(" }")) for line in (near, far)]
    assert z[0] - z[1] == pytest.approx(1.0, abs=1e-6)


def test_who_does_not_clear_their_hands_moves_nothing_and_keeps_nothing(jog: Jog) -> None:
    code, out, _ = jog(HERE, ("stop\n",))
    assert (code, out) == (0, "")


def test_lead_and_plate_that_stay_on_end_with_4(jog: Jog) -> None:
    assert jog(HERE, ("clear\n", "q", "stop\n"))[0] == 4


def test_without_a_journal_nothing_moves(jog: Jog, tmp_path: Path) -> None:
    (tmp_path / "journal.db").mkdir()
    assert jog(HERE, ())[0] == 3
