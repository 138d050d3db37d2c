"""Job files for tests: a sound one, and a way to spoil it."""

from __future__ import annotations

from gingerly import job as jobs
from gingerly.job import Job, JobError

SOUND = """
title = "two lids"

[machine]
adapter = "mock"
name = "cellar mill"

[machine.options]
seed = 11
tool_length_range = 0.5

[[keep_outs]]
name = "clamp"
low = { x = 130, y = 0 }
high = { x = 150, y = 20 }
height_above_stock = 10

[tools.pin]
diameter = "1/8 in"
free_length = "20 mm"

[tools.cutter]
diameter = 4
free_length = 15
flutes = 2
helix_deg = 30

[plates.corner]
size_a = 50
size_b = 47
height = 14
recess_a = 38
recess_b = 37
recess_depth = 6

[defaults]
tool = "pin"
plate = "corner"
within = 0.6
stock = { size_x = 80, size_y = 60, thickness = 18, jaw_height = 5 }

[[parts]]
name = "pad"
routine = "reference"
plate = "none"
stock = { size_x = 30, size_y = 30, thickness = 18, conductive = true }
place = { x = 220, y = 150, z = -45 }

[[parts]]
name = "lid 1"
routine = "outside corner"
place = { x = 40, y = 40, z = -45 }
offset = 1
reads = { z = 0.5 }

[[parts]]
name = "lid 2"
routine = "surface"
place = { x = 170, y = 40, z = -45 }
offset = 2

[[parts]]
name = "cutter in"
routine = "tool change"
tool = "cutter"
compare_with = "pad"
offsets = [1, 2]
"""


def sound() -> Job:
    """The sound job, read."""
    return jobs.loads(SOUND, source="lids.toml")


def spoiled(old: str, new: str) -> str:
    """The sound job's text with one passage replaced; the passage must be there exactly once."""
    assert SOUND.count(old) == 1, f"{old!r} stands {SOUND.count(old)} times in the sound job"
    return SOUND.replace(old, new)


def complaints(text: str) -> list[str]:
    """What is found wrong with a job's text, a line for each problem."""
    try:
        jobs.loads(text, source="lids.toml")
    except JobError as error:
        return error.lines()
    return []
