"""Read the journal as a notebook would, cell by cell: what was set, and how far the contacts lie apart.

Here a short batch on the virtual machine is kept first, so that there is something to read; your own journal is
`open_journal(only_read=True)`.
"""

# %% something to read
import statistics
import sys
import tempfile
from pathlib import Path

from gingerly import batch, job
from gingerly.journal import Kind, as_csv, open_journal, what_was_set

HERE = Path(__file__).parent
folder = tempfile.TemporaryDirectory()
with open_journal(Path(folder.name) / "journal.db") as journal:
    batch.run_blocking(job.read(HERE / "turned_blanks.toml"), journal=journal)

# %% what was set on which machine, and is lead and plate off?
journal = open_journal(Path(folder.name) / "journal.db", only_read=True)
for one in what_was_set(journal, machine="attic mill (virtual)"):
    print(
        f"{one.when} {one.part}: offset {one.offset}, {one.read}, {'released' if one.released else 'NOT RELEASED'}"
    )

# %% how far do the slow contacts of each face lie apart?
for entry in journal.entries(kind=Kind.ENDED):
    for face in entry.data["faces"]:
        slow = [contact["distance"] for contact in face["contacts"][1:]]
        if len(slow) > 1:
            print(
                f"{entry.part}, {face['touch']}: {1000 * statistics.stdev(slow):.2f} µm over {len(slow)} contacts"
            )

# %% for the spreadsheet
as_csv(what_was_set(journal), sys.stdout)
journal.close()
folder.cleanup()
