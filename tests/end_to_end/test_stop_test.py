"""The stop test on the virtual machine: what people and programs are told, whichever way it ends."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from gingerly import batch
from gingerly import job as jobs
from support.command import within, write

JOB = """
title = "first day"

[machine]
adapter = "mock"
name = "attic mill"
[machine.options]
position = [150, 100, -60]

[tools.pin]
diameter = "6 mm"
free_length = 25

[[parts]]
name = "first day"
routine = "stop test"
tool = "pin"
"""

OPTIONS = """
port = "socket://127.0.0.1:9"
profile = "practice"
envelope = { low = [0, 0, -80], high = [300, 200, 0] }
resolution = 0.0025
acceleration = 300
top_feed = 1500
rapid_feed = 2000
"""

ALONE = "operator = { presses_after_s = 1e6 }\n"
"""Nobody presses anything."""


def run(tmp_path: Path, options: str = "", *arguments: str):
    job = write(tmp_path, JOB.replace("[tools.pin]", f"{options}\n\n[tools.pin]"))
    return within("run", job, "--journal", str(tmp_path / "j"), *arguments)


def test_both_halves_are_told_with_figures_and_what_comes_next(tmp_path: Path) -> None:
    ended = run(tmp_path)
    assert ended.returncode == 0
    assert "first day: a touch stops the motion: the tool ran on 0.00" in ended.stdout
    assert "first day: the machine's own stop is noticed, by an alarm, after 2.59" in ended.stdout
    assert "Release the machine's own stop, clear its alarm" in " ".join(ended.stdout.split())


def test_a_program_gets_the_same_as_measures(tmp_path: Path) -> None:
    (part,) = json.loads(run(tmp_path, "", "--json").stdout)["parts"]
    assert sorted(part["measures"]) == ["alarm after", "ran on"]
    assert (part["routine"], part["touches"], part["fault"], part["offsets"]) == ("stop test", 1, None, [])


@pytest.mark.parametrize(
    ("options", "fault", "told"),
    [
        ("operator = { touches_after_s = 1e6 }", "NotStopped", "no touch of test lead and plate stopped it"),
        ("operator = { presses_after_s = 1e6 }", "NotStopped", "nothing told the program of a stop"),
        ("operator = { answers = { rise = 'no' } }", "Declined", "the question 'rise' was not"),
        ("operator = { answers = { 'press stop' = 'no' } }", "Declined", "the question 'press stop' was not"),
        ("operator = { forgets = ['close at bench'] }", "CircuitNotChecked", "it stayed open at the bench"),
        ("faults = [{ what = 'lead off' }]", "CircuitNotChecked", "it stayed open at the bench"),
        (
            f"{ALONE}faults = [{{ what = 'spindle starts', call = 'sense', nth = 2, after_mm = 1 }}]",
            "SpindleTurning",
            "",
        ),
        (
            f"{ALONE}faults = [{{ what = 'stops short', call = 'sense', nth = 2, amount = 4 }}]",
            "",
            "by a standstill",
        ),
        ("faults = [{ what = 'restart', call = 'sense', nth = 2, after_mm = 1 }]", "", "by a restart of"),
        ("faults = [{ what = 'link lost', call = 'sense', nth = 2 }]", "LinkLost", "takes the controller's power"),
    ],
)
def test_whichever_way_it_ends_is_said(tmp_path: Path, options: str, fault: str, told: str) -> None:
    """What is no stop is a fault with its name; a stop is noticed by whatever it shows."""
    ended = run(tmp_path, options)
    said = " ".join(ended.stdout.split())
    assert fault in said
    assert told in said
    assert ended.returncode == (1 if fault else 0)


def test_what_the_first_half_has_shown_is_told_though_the_second_fails(tmp_path: Path) -> None:
    said = " ".join(run(tmp_path, "operator = { presses_after_s = 1e6 }").stdout.split())
    assert "before that, a touch stops the motion" in said


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        ("operator = { answers = { 'press stop' = 'no' } }", "Declined"),
        ("operator = { forgets = ['press stop'] }", "CircuitAlreadyClosed"),
    ],
)
def test_a_second_half_that_moves_nothing_comes_after_a_first_that_did(
    tmp_path: Path, options: str, fault: str
) -> None:
    """The tool has risen once: nobody says that nothing was moved."""
    ended = run(tmp_path, options)
    said = " ".join((ended.stdout + ended.stderr).split())
    assert f"ended with a fault ({fault}): the machine stands still (confirmed)." in said
    assert "done: nothing was moved since the first rise; before that, a touch stops the motion" in said
    assert "stands at: X150.000 Y100.000 Z-5" in said
    assert ended.returncode == 1


@pytest.mark.parametrize("arguments", [(), ("--unattended",)])
def test_it_is_refused_before_motion_without_room_or_without_a_person(
    tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    high = (
        ""
        if arguments
        else "[machine.facts]\nenvelope = { low = { x = 0, y = 0, z = -80 }, high = { x = 300, y = 200, z = -30 } }"
    )
    ended = run(tmp_path, high, *arguments)
    assert ended.returncode == 3
    told = "to press the machine's own stop" if arguments else "bring it 10.000 mm lower, in free air"
    assert told in " ".join((ended.stdout + ended.stderr).split())


def test_nothing_but_two_rises_is_ever_moved(tmp_path: Path) -> None:
    job = jobs.loads(JOB)
    machine = batch.connect(job)

    async def go() -> None:
        async with machine:
            await batch.Batch(job, machine).run()

    import asyncio

    asyncio.run(go())
    ways = [motion.end.minus(motion.start) for motion in machine.adapter.motions]
    assert [(way.x, way.y, way.z > 0.0) for way in ways] == [(0.0, 0.0, True)] * 2


def test_the_plan_shows_the_rise_and_pushes_nothing(tmp_path: Path) -> None:
    ended = within("check", write(tmp_path, JOB))
    assert ended.returncode == 0
    assert "stop test, pin, free air" in ended.stdout
    assert "40 mm below the top of Z at least" in ended.stdout
    assert "pushes up to" not in ended.stdout


def test_a_resumed_job_makes_its_stop_test_again(tmp_path: Path) -> None:
    """It sets nothing that could be relied on."""
    run(tmp_path)
    assert "a touch stops the motion" in run(tmp_path, "", "--resume").stdout


def test_a_machine_that_is_not_asked_is_taken_to_stand_low_enough(tmp_path: Path) -> None:
    """A plan that is only read says what the test needs, and refuses nothing that nobody can know."""
    real = JOB.replace('adapter = "mock"', 'adapter = "serial"').replace("position = [150, 100, -60]", OPTIONS)
    ended = within("check", write(tmp_path, real))
    assert (ended.returncode, "REFUSED" in ended.stdout) == (0, False)


@pytest.mark.parametrize("command", [("continuity", "--json"), ("check",)])
def test_the_circuit_of_a_stop_test_is_checked_on_the_bench(tmp_path: Path, command: tuple[str, ...]) -> None:
    ended = within(command[0], write(tmp_path, JOB), *command[1:])
    assert ended.returncode == 0, ended.stderr
    assert "bench" in ended.stdout
