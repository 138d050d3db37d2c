"""The same job file on the virtual machine and through the serial adapter: only the ``[machine]`` table differs."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from gingerly import Position, batch
from gingerly import job as jobs
from support.attended import Attended
from support.practice import PIN_AND_PLATE, Hands, Practice

PARTS = f"""
title = "two lids for a seed box"
{PIN_AND_PLATE}
[tools."long pin"]
diameter = 4
free_length = 30
overtravel = 1
miss_limit = 6

[[parts]]
name = "pad"
routine = "reference"
plate = "none"
stock = {{ size_x = 30, size_y = 30, thickness = 20, conductive = true }}
place = {{ x = 260, y = 150, z = -52 }}

[[parts]]
name = "lid"
routine = "outside corner"
place = {{ x = 100, y = 60, z = -50 }}
offset = 1

[[parts]]
name = "long pin"
routine = "tool change"
tool = "long pin"
compare_with = "pad"
within = 2.4
offsets = [1]
"""

MOCK = """
[machine]
adapter = "mock"
name = "bench mill"
[machine.options]
seed = 0
tool_length_range = 2.0
"""

SCENE = """
[machine]
tool_length_range = 2.0
"""


def job_file(tmp_path: Path, machine: str) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(PARTS + machine, "utf-8")
    return path


def served(tmp_path: Path, parts: Path) -> Practice:
    """A practice controller with the job's parts on its table."""
    scene = tmp_path / "scene.toml"
    scene.write_text(SCENE, "ascii")
    return Practice(tmp_path, more=("--job", str(parts), "--scene", str(scene)))


def serial_job(tmp_path: Path, practice: Practice) -> Path:
    return job_file(tmp_path, practice.table())


def judge(practice: Practice) -> None:
    """The corner of the lid stands in work offset 1, its Z shifted by what the second tool is longer."""
    staged = {entry["name"]: entry["corner"] for entry in practice.log("part")}
    first = practice.log("set up")[0]["corner"]
    longer = staged["long pin"][2] - first[2]
    x, y, z = staged["lid"]
    assert practice.offset(1) == pytest.approx(Position(x, y, z + longer), abs=0.07)
    assert abs(longer) > 0.1
    assert practice.pushed_on() == []


@pytest.mark.asyncio
async def test_job_runs_on_both_with_only_the_machine_table_changed(tmp_path: Path) -> None:
    """Reference, corner and tool change: done on the virtual machine, and done through the serial adapter."""
    virtual = await batch.run(jobs.read(job_file(tmp_path, MOCK)))
    parts = job_file(tmp_path, MOCK)
    with served(tmp_path, parts) as practice:
        real = await batch.run(jobs.read(serial_job(tmp_path, practice)), operator=Hands(practice))
        judge(practice)
    assert (
        [entry.status.name for entry in virtual.parts]
        == [entry.status.name for entry in real.parts]
        == ["DONE"] * 3
    )


@pytest.mark.thorough
def test_gingerly_run_at_a_terminal(tmp_path: Path) -> None:
    """``gingerly run JOB`` asks at a real terminal, a person does it and answers, and the offsets stand."""
    with served(tmp_path, job_file(tmp_path, MOCK)) as practice:
        job = str(serial_job(tmp_path, practice))
        with Attended(practice, "run", job, "--journal", str(tmp_path / "j")) as terminal:
            screen, code = terminal.go()
        judge(practice)
    assert code == 0, screen


def test_asyncio_is_not_left_running(tmp_path: Path) -> None:
    """A connection that is opened and closed leaves no thread of its own behind."""
    import threading

    from gingerly_serial import SerialAdapter

    with Practice(tmp_path) as practice:

        async def open_and_close() -> None:
            adapter = SerialAdapter(**practice.options())
            await adapter.open()
            await adapter.close()

        asyncio.run(open_and_close())
        assert not [
            thread for thread in threading.enumerate() if thread.name in ("gingerly reader", "gingerly writer")
        ]
