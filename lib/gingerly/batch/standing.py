"""What the journal says of the parts of a job, and of its work offsets: read once, when a batch is resumed.

Nothing here asks a machine: `gingerly.batch.resume` does, and compares.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from gingerly.geometry import Position
from gingerly.job import Job, Part
from gingerly.journal.entry import Kind, axis_values, position
from gingerly.journal.store import Journal
from gingerly.messages.commands import AxisValues

TOLD = (
    Kind.BATCH_BEGUN,
    Kind.PART_BEGUN,
    Kind.INTENT,
    Kind.OUTCOME,
    Kind.SETTLED,
    Kind.OVERRULED,
    Kind.ACCEPTED,
    Kind.ENDED,
    Kind.FINISHED,
)


@dataclass(slots=True)
class Write:
    """A work offset that was about to be written: from `old` to `new` (mm). `read` is what was read afterwards."""

    old: Position | None
    new: Position | None
    read: Position | None = None


@dataclass(slots=True)
class PartStanding:
    """What the journal says of one part: its latest attempt."""

    digest: str = ""
    tool: str = ""
    life: int = 0
    ended_well: bool = False
    ended: bool = False
    finished: bool = False
    writes: dict[int, Write] = field(default_factory=dict)
    accepted: set[int] = field(default_factory=set)
    """The work offsets that a person has accepted as they stand."""
    found: AxisValues = ()
    height: float | None = None
    """Machine Z (mm) of the controlled point at the first contact, for tool changes that compare with it."""
    number: int = 0


@dataclass(slots=True)
class Standing:
    """What the journal says of a job that was begun. `expected` is what each of its work offsets should read (mm),
    and `by` the part that set it."""

    series: int
    began: str
    parts: dict[str, PartStanding] = field(default_factory=dict)
    expected: dict[int, tuple[Position, ...]] = field(default_factory=dict)
    by: dict[int, str] = field(default_factory=dict)
    last_tool: str = ""


def identity(job: Job) -> str:
    """Return what tells this job from others in the journal: its file's full path, or what its source is called."""
    path = Path(job.source)
    try:
        return str(path.resolve()) if job.source and path.is_file() else job.source or job.title
    except OSError:
        return job.source


def digest(part: Part) -> str:
    """Return a short mark that changes when anything that decides what a part's routine sets changes."""
    text = repr((part.routine, part.wishes, part.compare_with, part.wave))
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def read(journal: Journal, job: Job, machine: str) -> Standing | None:
    """Return what the journal says of the latest series of this job on this machine; None where it knows none."""
    series = latest_series(journal, job, machine)
    if series is None:
        return None
    standing = Standing(*series)
    for number, kind, part, life, data in _rows(journal, standing.series):
        _take(standing, number, kind, part, life, data)
    return standing


def latest_series(journal: Journal, job: Job, machine: str) -> tuple[int, str] | None:
    """Return the number of the latest series of a job on a machine, and when it began."""
    rows = journal.query(
        f"""SELECT series, strftime('%Y-%m-%d %H:%M', at_s, 'unixepoch') FROM entries
        WHERE machine = ? AND kind = '{Kind.BATCH_BEGUN.value}' AND job = ? ORDER BY number DESC LIMIT 1""",
        machine,
        identity(job),
    )
    return (rows[0][0], f"{rows[0][1]} UTC") if rows else None


def _rows(journal: Journal, series: int) -> Iterator[tuple[int, Kind, str, int, dict[str, Any]]]:
    """Yield the entries of a series that count; of runs that ended only what resuming needs of their faces."""
    marks = ", ".join(f"'{kind.value}'" for kind in TOLD)
    narrow = """json_object('fault', json_extract(data, '$.fault.name'), 'found', json_extract(data, '$.found'),
        'height', json_extract(data, '$.faces[0].position.z'))"""
    rows = journal.query(
        f"""SELECT number, kind, part, life,
        CASE WHEN kind = '{Kind.ENDED.value}' THEN {narrow} ELSE data END
        FROM entries WHERE series = ? AND kind IN ({marks}) ORDER BY number""",
        series,
    )
    return ((number, Kind(kind), part, life, json.loads(text)) for number, kind, part, life, text in rows)


def _take(standing: Standing, number: int, kind: Kind, part: str, life: int, data: dict[str, Any]) -> None:
    match kind:
        case Kind.BATCH_BEGUN:
            for key, place in data["offsets"].items():
                origin = position(place)
                assert origin is not None
                standing.expected[int(key)] = (origin,)
        case Kind.PART_BEGUN:
            standing.parts[part] = PartStanding(data["digest"], data["tool"], life, number=number)
            standing.last_tool = data["tool"]
        case Kind.ACCEPTED:
            _take_accepted(standing, part, life, data)
            standing.parts[part].number = number
        case Kind.FINISHED:
            standing.parts.setdefault(part, PartStanding()).finished = True
        case Kind.ENDED if not part:
            pass  # a run outside any part, such as raising the tool
        case _:
            _take_of_part(standing, standing.parts.setdefault(part, PartStanding()), kind, part, data)
            standing.parts[part].number = number


def _take_accepted(standing: Standing, part: str, life: int, data: dict[str, Any]) -> None:
    """From here on the part rests on what a person has said, and on the machine's position as it was then."""
    one = standing.parts.setdefault(part, PartStanding())
    one.digest, one.life = data["digest"], life
    one.accepted.add(data["number"])
    read = position(data["read"])
    assert read is not None
    standing.expected[data["number"]] = (read,)
    standing.by.setdefault(data["number"], part)


def _take_of_part(standing: Standing, one: PartStanding, kind: Kind, part: str, data: dict[str, Any]) -> None:
    if kind is Kind.ENDED:
        one.ended, one.ended_well = True, data["fault"] is None
        if one.ended_well:
            one.found, one.height = axis_values(data["found"]), data["height"]
        return
    offset, old, new = data["number"], position(data.get("old")), position(data.get("new"))
    read_back = position(data.get("read"))
    if kind is Kind.INTENT:
        standing.expected[offset] = tuple(each for each in (old, new) if each is not None)
        if data["restores"] or not part:
            return  # what is written back says nothing about where the part lies
        one.writes[offset] = Write(old, new)
        if data["faces"]:
            one.height = data["faces"][0]["position"]["z"]
        one.found = axis_values(data["axes"])
        standing.by[offset] = part
    elif read_back is not None:
        standing.expected[offset] = (read_back,)
        if offset in one.writes:
            one.writes[offset].read = read_back
