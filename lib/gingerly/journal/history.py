"""What was set: one line for each work offset that a part has written, from the journal's entries.

A work offset counts as released once a person confirmed, after it was set, that lead and plate are off the machine.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from gingerly.geometry import Position
from gingerly.journal.entry import Kind, position
from gingerly.journal.store import Journal


@dataclass(frozen=True, slots=True, kw_only=True)
class SetOffset:
    """One work offset as it was set. Positions in mm; `read` is None where the controller could not tell it.

    `uncertainty` is what is known of it, as plain data, or None; `released` whether lead and plate are off since.
    """

    number: int
    at_s: float
    machine: str
    job: str
    part: str
    offset: int
    old: Position | None
    new: Position | None
    read: Position | None
    released: bool
    waived: bool = False
    accepted: bool = False
    """Whether a person took it as it stood, and nothing touched it."""
    uncertainty: Any = None

    @property
    def half_widths(self) -> dict[str, float]:
        """Half the width of the 95 % interval of everything found, by axis or size, in mm or rad."""
        return {name: float(one["half_width"]) for name, one in (self.uncertainty or {}).items()}

    @property
    def when(self) -> str:
        """The date and time in UTC, to the second, as ISO 8601 writes it."""
        return datetime.fromtimestamp(self.at_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

    def plain(self) -> dict[str, Any]:
        """Return it as plain data."""
        spots = {
            name: None if (spot := getattr(self, name)) is None else dict(zip("xyz", spot, strict=True))
            for name in ("old", "new", "read")
        }
        return {
            "number": self.number,
            "at": self.when,
            "machine": self.machine,
            "job": self.job,
            "part": self.part,
            "offset": self.offset,
            **spots,
            "released": self.released,
            "waived": self.waived,
            "accepted": self.accepted,
            "uncertainty": self.uncertainty,
        }


def what_was_set(
    journal: Journal,
    *,
    machine: str | None = None,
    job: str | None = None,
    part: str | None = None,
    since_s: float | None = None,
    until_s: float | None = None,
    last: int | None = None,
) -> list[SetOffset]:
    """Return the work offsets that were set, the earliest first, those not released at the end.

    Only those that fit all that is given; `last` of them at most, the latest ones.
    """
    clauses, values = _where(machine=machine, job=job, part=part, since_s=since_s, until_s=until_s)
    statement = (
        "SELECT number, at_s, machine, job, part, batch, data, kind FROM entries"
        f" WHERE kind IN ('{Kind.OUTCOME.value}', '{Kind.SETTLED.value}', '{Kind.ACCEPTED.value}'){clauses}"
        " ORDER BY number DESC"
    )
    released = dict(
        journal.query(
            f"SELECT machine, max(number) FROM entries WHERE kind = '{Kind.RELEASED.value}' GROUP BY machine"
        )
    )
    waived = _waived(journal)
    stated = _stated(journal, *_where(machine=machine, job=job, part=part))
    found: list[SetOffset] = []
    for number, at_s, on, of, what, batch, text, kind in journal.query(statement, *values):
        data = json.loads(text)
        accepted = kind == Kind.ACCEPTED.value
        if not accepted and not _stands(data):
            continue
        found.append(
            SetOffset(
                number=number,
                at_s=at_s,
                machine=on,
                job=of,
                part=what,
                offset=data["number"],
                old=position(data.get("old")),
                new=position(data["read"] if accepted else data["new"]),
                read=position(data["read"]),
                released=accepted or released.get(on, 0) > number,
                waived=not accepted and (batch, what) in waived,
                accepted=accepted,
                uncertainty=None if accepted else json.loads(stated.get((batch, what), "null")),
            )
        )
        if last is not None and len(found) >= last:
            break
    found.reverse()
    return sorted(found, key=lambda one: not one.released)


def unreleased(journal: Journal, machine: str) -> tuple[str, ...]:
    """Return the parts that were set on a machine since lead and plate were last confirmed off, in order."""
    rows = journal.query(
        f"""SELECT DISTINCT part FROM entries WHERE machine = ? AND kind = '{Kind.INTENT.value}' AND number >
        (SELECT ifnull(max(number), 0) FROM entries WHERE machine = ? AND kind = '{Kind.RELEASED.value}')""",
        machine,
        machine,
    )
    return tuple(part for (part,) in rows)


def maybe_attached(journal: Journal, machine: str) -> bool:
    """Return whether lead and plate must be thought to be on: a part was begun since they were confirmed off."""
    rows = journal.query(
        f"""SELECT 1 FROM entries WHERE machine = ? AND kind IN
        ('{Kind.PART_BEGUN.value}', '{Kind.INTENT.value}', '{Kind.ASKED.value}') AND number >
        (SELECT ifnull(max(number), 0) FROM entries WHERE machine = ? AND kind = '{Kind.RELEASED.value}')
        LIMIT 1""",
        machine,
        machine,
    )
    return bool(rows)


def _waived(journal: Journal) -> set[tuple[int, str]]:
    rows = journal.query(
        f"SELECT DISTINCT batch, part FROM entries WHERE kind = '{Kind.ASKED.value}' AND data LIKE '%\"waive\"%'"
    )
    return {(batch, part) for batch, part in rows}


def _stated(journal: Journal, clauses: str, values: list[Any]) -> dict[tuple[int, str], str]:
    """Return what was stated of the parts that fit, as JSON, by batch and part."""
    statement = "SELECT batch, part, json_extract(data, '$.statements') FROM entries"
    rows = journal.query(f"{statement} WHERE kind = '{Kind.STATED.value}'{clauses} ORDER BY number", *values)
    return {(batch, part): text for batch, part, text in rows}


def _stands(data: dict[str, Any]) -> bool:
    """Whether the new value stands, as far as anybody could tell."""
    if data.get("stands") is not None:
        return bool(data["stands"] == "new")
    read, new = position(data["read"]), position(data["new"])
    if read is None:
        return str(data["how"]).startswith("written")
    return new is not None and near(read, new)


NEAR = 0.0021
"""Millimetres by which a stored work offset may differ from what was written: controllers round to 0.001 mm or to
0.0001 in, which is 0.00254 mm and so rounds by 0.0013. The
decimals are common practice, no source; the rest is our own choice."""


def near(one: Position, other: Position, within: float = NEAR) -> bool:
    """Return whether two origins are the same but for rounding (mm)."""
    return max(abs(a - b) for a, b in zip(one, other, strict=True)) <= within


def _where(**given: Any) -> tuple[str, list[Any]]:
    signs = {"since_s": "at_s >= ?", "until_s": "at_s < ?"}
    wanted = {name: value for name, value in given.items() if value is not None}
    clauses: Iterator[str] = (f" AND {signs.get(name, f'{name} = ?')}" for name in wanted)
    return "".join(clauses), list(wanted.values())
