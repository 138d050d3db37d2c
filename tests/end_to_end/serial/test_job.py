"""The same job file on the virtual machine and through the serial adapter: only the ``[machine]`` table differs."""

from __future__ import annotations

import asyncio
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from gingerly import Position, batch
from gingerly import job as jobs
from gingerly.cli.words import PROMPTS
from support.practice import Hands, Practice, profile_of

PARTS = """
title = "two lids for a seed box"

[tools.pin]
diameter = 6
free_length = 30
overtravel = 1
miss_limit = 6

[tools."long pin"]
diameter = 4
free_length = 30
overtravel = 1
miss_limit = 6

[plates."plain plate"]
size_a = 52
size_b = 55
height = 12
recess_a = 40
recess_b = 41
recess_depth = 6

[defaults]
tool = "pin"
plate = "plain plate"
within = 0.8
stock = { size_x = 120, size_y = 90, thickness = 25, jaw_height = 8 }

[[parts]]
name = "pad"
routine = "reference"
plate = "none"
stock = { size_x = 30, size_y = 30, thickness = 20, conductive = true }
place = { x = 260, y = 150, z = -52 }

[[parts]]
name = "lid"
routine = "outside corner"
place = { x = 100, y = 60, z = -50 }
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

SERIAL = """
[machine]
adapter = "serial"
name = "bench mill"
[machine.options]
port = "{port}"
profile = "{profile}"
clock_scale = {speed}
answer_s = 120
envelope = {{ low = [0, 0, -80], high = [300, 200, 0] }}
resolution = 0.0025
acceleration = 300
top_feed = 1500
rapid_feed = 2000
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
    text = SERIAL.format(port=practice.port, profile=profile_of(practice.shape), speed=practice.speed)
    return job_file(tmp_path, text)


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


def test_gingerly_run_at_a_terminal(tmp_path: Path) -> None:
    """``gingerly run JOB`` asks at a real terminal, a person does it and answers, and the offsets stand."""
    with served(tmp_path, job_file(tmp_path, MOCK)) as practice:
        code = run_at_terminal(serial_job(tmp_path, practice), practice)
        judge(practice)
    assert code == 0


def run_at_terminal(job: Path, practice: Practice) -> int:
    """Run the command line with a pty for its standard input, answering each question as a person would."""
    keys, terminal = os.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", "import sys; from gingerly.cli import main; sys.exit(main())", "run", str(job)],
        stdin=terminal,
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
    )
    question_of: dict[str, Any] = {prompt.word: question for question, prompt in PROMPTS.items()}
    assert process.stderr is not None
    for line in process.stderr:
        asked = re.search(r"Type  (\w+)  when", line)
        if asked:
            practice.hand(question_of[asked[1]].value)
            # The prompt comes right after this line; what is typed before it is thrown away.
            while process.stderr.read(2) != "> ":
                pass
            os.write(keys, asked[1].encode() + b"\n")
    code = process.wait(30.0)
    process.stderr.close()
    os.close(keys)
    os.close(terminal)
    return code


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
