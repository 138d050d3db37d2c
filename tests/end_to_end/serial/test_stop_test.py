"""The stop test of the first day, at a terminal and through a cable: a touch, and the machine's own stop."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from support.attended import Attended
from support.practice import Practice

README = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")

JOB = """
title = "first day"

[tools.pin]
diameter = 6
free_length = 30

[[parts]]
name = "first day"
routine = "stop test"
tool = "pin"
rise = 10
"""

SCENE = "[machine]\nposition = [20, 20, -45]\n"
ASKED = ["bench", "apart", "rise", "press", "removed"]


def served(tmp_path: Path, **more: Any) -> Practice:
    """A practice controller whose tool stands low enough for two rises, beside everything on the table."""
    (tmp_path / "scene.toml").write_text(SCENE, "ascii")
    return Practice(tmp_path, speed=20.0, more=("--scene", str(tmp_path / "scene.toml")), **more)


def made(
    tmp_path: Path, practice: Practice, *, touch: bool = True, press: bool = True
) -> tuple[str, int, list[str]]:
    """Make the stop test at a terminal, touching and pressing, or not; the screen, the exit code, what was asked."""
    job = tmp_path / "job.toml"
    job.write_text(JOB + practice.table(), "utf-8")

    def at(motion: int, act: str) -> None:
        practice.hand(f"await motion {motion}")
        practice.hand(act)

    after = {
        "rise": lambda: at(1, "close at bench") if touch else None,
        "press": lambda: at(2, "emergency stop") if press else None,
    }
    with Attended(practice, "run", str(job), "--journal", str(tmp_path / "j"), after=after) as terminal:
        screen, code = terminal.go()
        return " ".join(screen.split()), code, terminal.words


def rises(practice: Practice) -> list[float]:
    """How far each motion went; all of them straight up."""
    ended = practice.since_set_up("rest")
    assert all(entry["start"][:2] == entry["end"][:2] for entry in ended)
    return [entry["end"][2] - entry["start"][2] for entry in ended]


@pytest.mark.parametrize("shape", ["practice", "terse", "chatter"])
def test_touch_and_own_stop_both_stop_the_rising_tool_and_both_are_told(tmp_path: Path, shape: str) -> None:
    """Two short rises and nothing else; the alarm is left for a person to clear."""
    with served(tmp_path, shape=shape) as practice:
        screen, code, words = made(tmp_path, practice)
        assert code == 0, screen
        assert [0.0 < rise < 10.0 for rise in rises(practice)] == [True, True]
        assert practice.since_set_up("clear") == []
    assert "a touch stops the motion: the tool ran on 0." in screen
    assert "the machine's own stop is noticed, by a" in screen
    assert [word for word in words if word != "plain"] == ASKED


def test_the_words_that_the_readme_has_typed_make_the_stop_test(tmp_path: Path) -> None:
    """In its order, from where its scene has the tool stand; nothing else is typed at the practice controller."""
    practised = README.partition("To practise it, ")[2].partition("\n\n")[0]
    typed = re.findall(r"`([a-z ]+)`", practised.partition("Type there")[2])
    assert typed == ["close at bench", "open", "close at bench", "open", "emergency stop", "release"]
    (position,) = re.findall(r"`(position = [^`]+)`", practised)
    scene, job = tmp_path / "low.toml", tmp_path / "job.toml"
    scene.write_text(f"[machine]\n{position}\n", "ascii")
    with Practice(tmp_path, speed=20.0, more=("--scene", str(scene))) as practice:
        job.write_text(JOB.replace("rise = 10", "") + practice.table(), "utf-8")

        def at(motion: int, act: str) -> None:
            practice.hand(f"await motion {motion}")
            practice.hand(act)

        first, apart, touch, again, press, off = typed
        instead = {"bench": first, "apart": apart, "rise": "truth", "press": again, "removed": off}
        after = {"rise": lambda: at(1, touch), "press": lambda: at(2, press)}
        words = ("run", str(job), "--journal", str(tmp_path / "j"))
        with Attended(practice, *words, after=after, instead=instead) as terminal:
            screen, code = terminal.go()
    assert code == 0, screen
    assert "a touch stops the motion" in " ".join(screen.split())


def test_without_a_touch_the_first_rise_ends_the_test(tmp_path: Path) -> None:
    """Nothing stops the tool: that is said, and the second rise is not even asked for."""
    with served(tmp_path) as practice:
        screen, code, words = made(tmp_path, practice, touch=False)
        assert "NotStopped" in screen, screen
        assert rises(practice) == [pytest.approx(10.0)]
    assert "no touch of test lead and plate stopped it" in screen
    assert (code, "press" in words) == (1, False)


def test_an_own_stop_that_the_controller_is_not_told_of_is_said_to_be_so(tmp_path: Path) -> None:
    """The rise goes to its end as far as anybody is told; what the first half has shown is told all the same."""
    with served(tmp_path) as practice:
        screen, code, _ = made(tmp_path, practice, press=False)
    assert "nothing told the program of a stop" in screen
    assert "a touch stops the motion" in screen
    assert code == 1


def test_an_own_stop_that_takes_the_link_along_is_noticed_and_no_standstill_is_claimed(tmp_path: Path) -> None:
    with served(tmp_path, mischief=({"what": "hang up", "motion": 2},)) as practice:
        screen, code, _ = made(tmp_path, practice, press=False)
    assert "LinkLost" in screen
    assert "If its own stop takes the controller's power" in screen
    assert "standstill is not confirmed" in screen
    assert code == 1
