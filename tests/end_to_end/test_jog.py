"""Jogging at a real terminal: one step a key, shown as it is, refused where it must be, stopped by other keys."""

from __future__ import annotations

from pathlib import Path

import pytest

from gingerly import Above
from gingerly import job as jobs
from support.command import within, write
from support.jobs import spoiled
from support.terminal import Terminal

pytestmark = pytest.mark.thorough

HERE = spoiled(
    "place = { x = 170, y = 40, z = -45 }", 'place = "here"     # above the flat\nheight = "6 mm"'
).replace("seed = 11", 'seed = 11\nideal = true\nposition = [150, 100, -20]\nguard = "polled"')
STANDS = "X150.000 Y100.000 Z-20.000"
PROMPT = "below clearance > "


def jogging(folder: Path, *arguments: str, text: str = HERE) -> Terminal:
    """A terminal where jogging has begun, and the first position is shown."""
    terminal = Terminal("jog", *arguments, write(folder, text), GINGERLY_JOURNAL=str(folder / "journal.db"))
    terminal.until("MACHINE MOVES after this answer.")
    terminal.answer("clear")
    terminal.until(STANDS)
    return terminal


def left(terminal: Terminal, key: str = "q") -> tuple[str, int]:
    """Leave the place, confirm that lead and plate are off, and wait for the end: the screen and the exit code."""
    terminal.until(PROMPT)
    terminal.type(key)
    terminal.until("Type  removed  ")
    terminal.answer("removed")
    return terminal.end()


def test_one_key_is_one_step_along_one_axis(tmp_path: Path) -> None:
    with jogging(tmp_path) as terminal:
        for key, shown in (
            ("\x1b[C", "X150.500 Y100.000 Z-20.000"),
            ("\x1b[A", "X150.500 Y100.500 Z-20.000"),
            ("z", "X150.500 Y100.500 Z-20.500"),
            ("X", "X151.000 Y100.500 Z-20.500"),
            ("z", "X151.000 Y100.500 Z-21.000"),
        ):
            terminal.until(PROMPT)
            terminal.type(key)
            terminal.until(f"{shown}  circuit open, alarm none")
        assert left(terminal)[1] == 0


def test_unguarded_below_clearance_no_step_is_longer_than_half_a_millimetre(tmp_path: Path) -> None:
    with jogging(tmp_path) as terminal:
        for _ in range(3):
            terminal.until(PROMPT)
            terminal.type("+")
        assert "step 10 mm, UNGUARDED" in terminal.until(PROMPT)
        terminal.type("z")
        terminal.until("X150.000 Y100.000 Z-20.500")
        left(terminal)


def test_once_the_circuit_is_checked_a_contact_stops_a_step_and_only_the_step_back_is_taken(tmp_path: Path) -> None:
    """The plate lies 6 mm below the tip; steps of 5 mm go down until it is met."""
    with jogging(tmp_path) as terminal:
        terminal.until(PROMPT)
        terminal.type("c")
        for word in ("tip", "seated"):
            terminal.until(f"Type  {word}  ")
            terminal.answer(word)
        for key in "++":
            terminal.until("a contact stops it > ")
            terminal.type(key)
        for _ in range(2):
            terminal.until("step 5 mm, a contact stops it > ")
            terminal.type("z")
        terminal.until("circuit CLOSED, alarm none")
        terminal.until("> ")
        terminal.type("x")
        assert "CircuitAlreadyClosed" in terminal.until("only the step back is taken, Z+")
        terminal.until("> ")
        terminal.type("Z")
        terminal.until("circuit open")
        terminal.until("> ")
        terminal.type("q")
        terminal.until("Type  removed  ")
        terminal.answer("removed")
        screen, code = terminal.end()
    assert code == 0, screen


def test_a_step_out_of_the_envelope_is_refused_in_words(tmp_path: Path) -> None:
    with jogging(
        tmp_path,
        text=HERE.replace("[150, 100, -20]", "[150, 100, -20]\ntop_feed = 900").replace(
            "position = [150, 100, -20]",
            "position = [150, 100, -20]\nenvelope = { low = [0, 0, -80], high = [150.2, 200, 0] }",
        ),
    ) as terminal:
        terminal.until(PROMPT)
        terminal.type("X")
        assert "OutsideEnvelope" in terminal.until("nothing was moved")
        left(terminal)


def test_keys_that_were_pressed_while_a_step_went_on_are_thrown_away(tmp_path: Path) -> None:
    with jogging(tmp_path) as terminal:
        terminal.until(PROMPT)
        terminal.type("XXXXX")
        terminal.until("X150.500 Y100.000 Z-20.000")
        screen, code = left(terminal)
    assert code == 0
    assert "X151.000" not in screen


def test_any_other_key_stops_a_step_and_step_keys_during_it_are_thrown_away(tmp_path: Path) -> None:
    """The virtual machine waits in the middle of the step, for ever, until it is stopped."""
    pause = 'faults = [{ what = "pause", call = "traverse", nth = 1, after_mm = 0.2 }]'
    with jogging(tmp_path, text=HERE.replace("seed = 11", f"seed = 11\n{pause}")) as terminal:
        terminal.until(PROMPT)
        terminal.type("X")
        terminal.type("XXX")
        terminal.type(" ")
        terminal.until("told to stop")
        terminal.until("the machine stands still (confirmed)")
        assert "X150.2" in terminal.until("circuit open")
        screen, code = left(terminal)
    assert code == 0
    assert "X151" not in screen


def test_the_place_that_is_kept_is_written_into_the_job_and_nothing_else_is(tmp_path: Path) -> None:
    """The tip stands 6 mm above the flat; the plate is 8 mm thick there, so the stock's top lies 14 mm below it."""
    with jogging(tmp_path, "--keep") as terminal:
        screen, code = left(terminal, "k")
    assert code == 0
    assert "written into the job" in screen
    before, after = jobs.loads(HERE), jobs.read(tmp_path / "job.toml")
    assert isinstance(before.parts[2].spot.place, Above)
    assert after.parts[2].spot.place.z == pytest.approx(-34.0, abs=1e-9)
    assert [part.name for part in after.parts] == [part.name for part in before.parts]
    assert "# above the flat" in (tmp_path / "job.toml").read_text()


def test_lead_and_plate_not_confirmed_off_after_jogging_end_with_4(tmp_path: Path) -> None:
    with jogging(tmp_path) as terminal:
        terminal.until(PROMPT)
        terminal.type("q")
        terminal.until("Type  removed  ")
        terminal.answer("no")
        assert terminal.end()[1] == 4


def test_a_no_to_clear_hands_moves_nothing(tmp_path: Path) -> None:
    with Terminal("jog", write(tmp_path, HERE), GINGERLY_JOURNAL=str(tmp_path / "journal.db")) as terminal:
        terminal.answer("no")
        screen, code = terminal.end()
    assert code == 0
    assert "Jogging" not in screen


def test_ctrl_c_while_a_step_goes_on_stops_the_machine_and_ends(tmp_path: Path) -> None:
    pause = 'faults = [{ what = "pause", call = "traverse", nth = 1, after_mm = 0.2 }]'
    with jogging(tmp_path, text=HERE.replace("seed = 11", f"seed = 11\n{pause}")) as terminal:
        terminal.until(PROMPT)
        terminal.type("X")
        terminal.until("\n")
        terminal.type("\x03")
        screen, code = terminal.end()
    assert code == 130
    assert "Traceback" not in screen


def test_jogging_without_a_terminal_is_refused(tmp_path: Path) -> None:
    ended = within("jog", write(tmp_path, HERE))
    assert ended.returncode == 3
    assert "needs a person at a terminal" in ended.stderr


def test_within_a_run_the_tool_is_brought_over_each_part_that_lies_here(tmp_path: Path) -> None:
    """Jogging is an operator's step of the run: the part is begun where the tool is kept."""
    with Terminal(
        "run", "--prompts", write(tmp_path, HERE[: HERE.index('[[parts]]\nname = "cutter in"')])
    ) as terminal:
        words = ("stock", "clear", "moved", "tip", "flank", "apart", "removed")
        seen = ""
        while "Jogging" not in seen:
            seen = terminal.until("> ")
            if "Jogging" not in seen:
                terminal.type(next(word for word in words if f"Type  {word}  " in seen) + "\n")
        terminal.type("k")
        terminal.answer_all({f"Type  {word}  ": word for word in words})
        screen, code = terminal.end()
    assert code == 0, screen
    assert "lid 2" in screen
