"""Jobs to rehearse: three routines, each where something else rules how far off it may be."""

from __future__ import annotations

from gingerly import job as jobs
from gingerly.job import Job

MACHINE = """
[machine]
adapter = "mock"
[machine.options]
position = [150, 100, -5]
bounce_s = 0.01
guard = "{guard}"
backlash = {backlash}
contact_noise = {noise}

[tools.pin]
diameter = 6
free_length = 30

[plates.corner]
size_a = 52
size_b = 55
height = 12
recess_a = 40
recess_b = 41
recess_depth = 6
relief_radius = 2

[defaults]
tool = "pin"
within = 1.0
wishes = {wishes}
stock = {{ size_x = 110, size_y = 90, thickness = 25, jaw_height = 8, conductive = true }}

[doubts]
{doubts}

[[parts]]
name = "blank"
place = {{ x = 110, y = 60, z = -55 }}
offset = 1
{part}
"""

PARTS = {
    "outside corner": 'routine = "outside corner"\nplate = "corner"',
    "bore centre": 'routine = "bore centre"\ncentre = { x = 50, y = 40 }\ndiameter = 24\ndeep = 15\nwith_top = true',
    "skewed corner": 'routine = "skewed corner"\nplate = "corner"\nsimulated = { skew_deg = 0.4 }',
}

SMALL = {
    "radius": "{ low = -0.001, high = 0.001 }",
    "spring": "{ low = 0, high = 0.001 }",
    "runout": "0.001",
    "thickness": "{ low = -0.001, high = 0.001 }",
    "lip": "{ low = -0.001, high = 0.001 }",
    "seating": "{ low = 0, high = 0.001 }",
    "form": "{ low = -0.001, high = 0.001 }",
    "skew_deg": "{ low = -0.003, high = 0.003 }",
    "screw": "0.0005",
    "spindle_growth": "{ low = 0, high = 0.001 }",
}
WIDE = "{ low = -0.03, high = 0.03 }"

SETTINGS: dict[str, dict[str, str]] = {
    "the defaults for home-made parts": {"doubts": "", "backlash": "0.02"},
    "runout rules": {"doubts": "runout", "backlash": "0"},
    "a flat tolerance rules": {"doubts": "flat", "backlash": "0"},
    "scatter rules": {"doubts": "small", "noise": "0.02", "wishes": "{ retouches = 16, spread = 0.3 }"},
}
"""What rules, and what of the machine goes with it."""


def _doubts(which: str) -> str:
    changes: dict[str, dict[str, str]] = {
        "": {},
        "small": SMALL,
        "runout": {**SMALL, "runout": "0.03", "spindle_growth": "{ low = 0, high = 0.03 }"},
        # A bore's centre does not follow the tool's radius or a lip; where it was homed anew, all of it follows.
        "flat": {**SMALL, "lip": WIDE, "thickness": WIDE, "rehoming": WIDE},
    }
    return "\n".join(f"{key} = {value}" for key, value in changes[which].items())


def rehearsal_of(part: str, setting: str, *, guard: str = "none") -> Job:
    """The job of one routine in one setting, on a machine whose traverses are watched as `guard` says."""
    given = SETTINGS[setting]
    text = MACHINE.format(
        doubts=_doubts(given["doubts"]),
        backlash=given.get("backlash", "0"),
        noise=given.get("noise", "0"),
        wishes=given.get("wishes", "{ retouches = 2 }"),
        guard=guard,
        part=PARTS[part],
    )
    return jobs.loads(text, source=f"{part}, {setting}")
