"""A cable that breaks in the middle of a job, at a real terminal: what is said, and how the job goes on afterwards."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from gingerly import Position
from support.attended import Attended
from support.practice import PIN_AND_PLATE, Practice

JOB = f"""
title = "three lids"
{PIN_AND_PLATE}
[[parts]]
name = "lid"
routine = "surface"
place = {{ x = 60, y = 40, z = -50 }}
offset = 1
grid = {{ rows = 1, columns = 3, pitch_x = 40 }}
"""
PER_LID = 9
"""Motions of one surface: across, down, the fast sense, two re-touches with a back-off before and after, and out."""

HONEST = "standstill is not confirmed: the machine may still be moving, use the machine's own stop"


def served(tmp_path: Path, **more: Any) -> Practice:
    """A practice controller with the job's parts on its table."""
    layout = tmp_path / "layout.toml"
    layout.write_text(f'{JOB}\n[machine]\nadapter = "mock"\nname = "bench mill"\n', "utf-8")
    return Practice(tmp_path, more=("--job", str(layout)), **more)


def run(tmp_path: Path, practice: Practice, *arguments: str, **how: Any) -> tuple[str, int]:
    """Do the job at a terminal; the screen, and the exit code."""
    job = tmp_path / "job.toml"
    job.write_text(JOB + practice.table(), "utf-8")
    with Attended(practice, "run", str(job), "--journal", str(tmp_path / "j"), *arguments, **how) as terminal:
        screen, code = terminal.go()
        return " ".join(screen.split()), code


def resumed(tmp_path: Path, practice: Practice) -> tuple[str, int]:
    """Go on with the job: the part that was cut off still lies there, and only the lead has to go on again."""
    return run(tmp_path, practice, "--resume", instead={"moved": "lead on"})


def touched(practice: Practice) -> list[str]:
    """Above which lid each sense went down, in order, each lid once in a row."""
    senses = [entry for entry in practice.log("motion") if entry["kind"] == "sense"]
    lids = [f"lid 1-{1 + round((entry['start'][0] - 80.0) / 40.0)}" for entry in senses]
    return [lid for at, lid in enumerate(lids) if at == 0 or lids[at - 1] != lid]


SPOT = 4
"""Motions into the second lid at which the cable breaks: a traverse down, the fast sense, a back-off, a re-touch."""


@pytest.mark.parametrize(
    ("link", "into"), [("tcp", 3), ("tcp", SPOT), ("tcp", SPOT + 1), ("tcp", SPOT + 2), ("pty", SPOT)]
)
def test_broken_link_is_said_honestly_and_the_job_goes_on_where_it_was(
    tmp_path: Path, link: str, into: int
) -> None:
    """The lid that was set keeps its offset and is not touched again; the other two are done."""
    with served(tmp_path, link=link) as practice:
        practice.mischief(what="hang up", motion=PER_LID + into)
        said, code = run(tmp_path, practice)
        assert (code, "LinkLost" in said, HONEST in said) == (1, True, True)
        first = practice.offset(1)
        assert [practice.offset(n) for n in (2, 3)] == [Position(0.0, 0.0, 0.0)] * 2
        if link == "pty":
            practice.plug_in()
        said, code = resumed(tmp_path, practice)
        assert code == 0, said
        assert "1 of 3 parts are done already and are not touched again" in said
        assert touched(practice) == ["lid 1-1", "lid 1-2", "lid 1-3"]
        assert practice.offset(1) == first
        corners = {entry["name"]: entry["corner"] for entry in practice.log("part")}
        for number, name in ((2, "lid 1-2"), (3, "lid 1-3")):
            assert practice.offset(number).z == pytest.approx(corners[name][2], abs=0.05)
        assert practice.pushed_on() == []


def test_controller_that_restarted_while_the_cable_was_out_is_not_believed(tmp_path: Path) -> None:
    """Its work offsets may still stand; what they mean is no longer known, and nothing moves."""
    with served(tmp_path) as practice:
        practice.mischief(what="hang up", motion=PER_LID + SPOT)
        run(tmp_path, practice)
        practice.mischief(what="reset")
        before = len(practice.log("motion"))
        said, code = resumed(tmp_path, practice)
        assert code == 1
        assert "PositionUnknown" in said
        assert len(practice.log("motion")) == before


def test_machine_that_was_moved_by_another_hand_meanwhile_is_not_believed(tmp_path: Path) -> None:
    """It does not stand on the way that was last ordered."""
    with served(tmp_path) as practice:
        practice.mischief(what="hang up", motion=PER_LID + SPOT)
        run(tmp_path, practice)
        practice.mischief(what="position jump", amount=5.0)
        said, code = resumed(tmp_path, practice)
        assert (code, "something else has moved it" in said) == (1, True)
