"""Two machines at once from one script: while one of them waits for hands, the other one stands still.

Each question names its machine. Both are kept in one journal, each under its own name.
"""

import asyncio
import tempfile
from dataclasses import replace
from pathlib import Path

from gingerly import batch, job
from gingerly.batch import BatchEvent, PartEnded
from gingerly.driver.events import Event
from gingerly.job import Job
from gingerly.journal import open_journal, what_was_set

HERE = Path(__file__).parent


def watch(which: Job, event: BatchEvent | Event) -> None:
    if isinstance(event, PartEnded):
        print(f"{which.machine.name}: {event.entry.part.name} is {event.entry.status.value}")


async def main() -> None:
    lid = job.read(HERE / "one_corner.toml")
    cellar = replace(lid, machine=replace(lid.machine, name="cellar mill", options={"seed": 2}))
    with tempfile.TemporaryDirectory() as folder, open_journal(Path(folder) / "journal.db") as journal:
        results = await batch.run_together([lid, cellar], journal=journal, observer=watch)
        for one in what_was_set(journal):
            print(f"{one.machine}: work offset {one.offset} is {one.read}, released: {one.released}")
    assert all(isinstance(result, batch.Summary) and result.complete for result in results)


asyncio.run(main())
