"""Find twelve parts in a 3 × 4 fixture, and print their origins as a table: python twelve_in_a_fixture.py"""

import csv
import sys
from pathlib import Path

from gingerly import Axis, batch, job

summary = batch.run_blocking(job.read(Path(__file__).parent / "twelve_tags.toml"))

table = csv.writer(sys.stdout)
table.writerow(["part", "x", "y", "z"])
for entry in summary.parts:
    if entry.part.kind == "outside corner" and entry.fault is None:
        found = dict(entry.found)
        table.writerow([entry.part.name, *(f"{found[axis]:.3f}" for axis in Axis)])

print(f"{len(summary.faults)} faults; lead and plate are off: {summary.released}", file=sys.stderr)
