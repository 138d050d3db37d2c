"""Kill a real process at chosen points of a batch, resume it, and tell what came of it, a JSON line for each.

``python -m support.killing FOLDER POINT[,POINT…] …``: each argument is the points at which the batch, and then the
batches that resume it, are killed; the last batch is left alone. Point 0 is never reached. Processes are forked, so
that each kill costs no start of an interpreter.
"""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import signal
import sys
from pathlib import Path
from typing import Any

from gingerly import job as jobs
from gingerly.batch import Batch, Books, PartEnded, PartStarted
from gingerly.driver.machine import Machine
from gingerly.job import Job
from gingerly.journal import open_journal
from support.jobs import SOUND
from support.surviving import SurvivingMachine, remembered

LAST = """
[[parts]]
name = "lid 3"
routine = "surface"
tool = "cutter"
within = 1.2
place = { x = 171, y = 40, z = -45 }
offset = 3
"""


def job() -> Job:
    """A reference, a corner, a face, a tool change of both offsets, and a face with the new tool."""
    return jobs.loads(SOUND + "within = 1.2\n" + LAST, source="lids.toml")


class Points:
    """Counts moments, and kills this very process at one of them."""

    def __init__(self, deadly: int) -> None:
        self._deadly = deadly
        self.passed: list[str] = []

    def pass_one(self, what: str) -> None:
        self.passed.append(what.split()[0])
        if len(self.passed) == self._deadly:
            os.kill(os.getpid(), signal.SIGKILL)


def work(folder: Path, deadly: int, *, resume: bool) -> None:
    """Do the batch, or what is left of it, and write down what came of it."""
    points, told = Points(deadly), (folder / "told.jsonl").open("a", buffering=1)

    def observe(event: object) -> None:
        if isinstance(event, PartStarted):
            told.write(json.dumps({"begun": event.part.name}) + "\n")
        elif isinstance(event, PartEnded):
            offsets = remembered(folder / "memory.json").get("offsets")
            told.write(json.dumps({"ended": event.entry.part.name, "offsets": offsets}) + "\n")

    async def go() -> dict[str, Any]:
        adapter = SurvivingMachine(folder / "memory.json", points.pass_one, tool_length_range=0.5)
        machine = Machine(adapter, name="cellar mill", operator=adapter.operator, keep_outs=job().keep_outs)
        with open_journal(folder / "journal.db", trace=points.pass_one) as journal:
            async with machine:
                books = Books(journal, job(), machine, resume=resume)
                summary = await Batch(job(), machine, observer=observe, books=books).run()
        return {
            "statuses": [entry.status.value for entry in summary.parts],
            "faults": [str(fault) for fault in summary.faults],
            "complete": summary.complete,
            "released": summary.released,
            "notes": summary.notes,
            "points": points.passed,
        }

    (folder / "outcome.json").write_text(json.dumps(asyncio.run(go())))


def forked(folder: Path, deadly: int, *, resume: bool) -> bool:
    """Do the batch in a process of its own; return whether that was killed, as it was to be."""
    child = os.fork()
    if child == 0:
        try:
            work(folder, deadly, resume=resume)
            os._exit(0)
        except BaseException as error:
            print(f"{type(error).__name__}: {error}", file=sys.stderr, flush=True)
            os._exit(1)
    status = os.waitpid(child, 0)[1]
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return True
    assert os.WEXITSTATUS(status) == 0, f"the batch of {folder} failed"
    return False


def lines(folder: Path) -> list[dict[str, Any]]:
    """What the batches told so far."""
    path = folder / "told.jsonl"
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def killed(folder: Path, deadly: list[int]) -> dict[str, Any]:
    """Begin the batch, kill and resume it at each of the points in turn, and let it end."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    kills = []
    for turn, point in enumerate(deadly):
        if not forked(folder, point, resume=turn > 0):
            break
        begun = [line["begun"] for line in lines(folder) if "begun" in line]
        kills.append({"offsets": remembered(folder / "memory.json").get("offsets", {}), "begun": begun})
    else:
        forked(folder, 0, resume=True)
    return {
        "deadly": deadly,
        "kills": kills,
        "told": lines(folder),
        "offsets": remembered(folder / "memory.json")["offsets"],
        **json.loads((folder / "outcome.json").read_text()),
    }


if __name__ == "__main__":
    base = Path(sys.argv[1])
    for argument in sys.argv[2:]:
        points_to_die_at = [int(point) for point in argument.split(",")]
        print(json.dumps(killed(base / argument.replace(",", "-"), points_to_die_at)), flush=True)
