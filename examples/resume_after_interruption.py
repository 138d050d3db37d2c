"""Cut a batch off in the middle, as a power cut of the computer would, and let a second one finish it.

The controller keeps its work offsets, the journal what was done: what is set is not touched again. From the command
line: gingerly run JOB, and after the interruption gingerly run JOB --resume (a virtual machine needs the option
`memory`, a file, to keep its work offsets from one command to the next).
"""

import asyncio
import tempfile
from pathlib import Path

from gingerly import batch, job
from gingerly.batch import Batch, Books, PartStarted
from gingerly.journal import open_journal

HERE = Path(__file__).parent


async def main() -> None:
    blanks = job.read(HERE / "turned_blanks.toml")
    machine = batch.connect(blanks)
    with tempfile.TemporaryDirectory() as folder, open_journal(Path(folder) / "journal.db") as journal:
        async with machine:
            first = Batch(blanks, machine, books=Books(journal, blanks, machine), observer=lambda event: cut(event))
            running = asyncio.ensure_future(first.run())

            def cut(event: object) -> None:
                if isinstance(event, PartStarted) and event.part.name == "knight":
                    running.cancel()

            await asyncio.wait({running})
        print("cut off:", *(f"{entry.part.name}: {entry.status.value};" for entry in first.summary.parts))

        async with machine:
            books = Books(journal, blanks, machine, resume=True)
            summary = await Batch(blanks, machine, books=books).run()
        print("resumed:", *(f"{entry.part.name}: {entry.status.value};" for entry in summary.parts))
        print("lead and plate are off" if summary.released else "TAKE LEAD AND PLATE OFF")


asyncio.run(main())
