"""Do a job file from a script with ``async``, and print what was found: python batch_async.py [JOB]"""

import asyncio
import sys
from pathlib import Path

from gingerly import batch, job

HERE = Path(__file__).parent


async def main(path: Path) -> None:
    summary = await batch.run(job.read(path))
    for entry in summary.parts:
        found = ", ".join(f"{axis.name} {value:.3f}" for axis, value in entry.found)
        print(f"{entry.part.name}: {entry.status.value} {found}")
    print("lead and plate are off" if summary.released else "TAKE LEAD AND PLATE OFF")


asyncio.run(main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "one_corner.toml"))
