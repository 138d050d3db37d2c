"""The cycle as a picture, made from the table: Mermaid text for DEVELOPERS.md.

Run ``python -m gingerly.cycle.diagram`` to print it, or with ``--write DEVELOPERS.md`` to put it between that
file's markers. A test fails when the file is stale.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from gingerly.cycle.states import ASKING, ENDING, GIVING_OVER, MOVING, READING_BACK, RESTING, WRITING, State
from gingerly.cycle.table import CYCLE, Row

BEGIN = "<!-- diagram: made by python -m gingerly.cycle.diagram -->"
END = "<!-- end of diagram -->"


def mermaid(rows: Iterable[Row] = CYCLE) -> str:
    """Return the state diagram of hand-written rows: an edge per pair of states, with replies and faults."""
    edges: dict[tuple[State, State], list[str]] = {}
    for row in rows:
        label = row.reply.__name__
        if row.note.__name__.startswith("!"):
            label += f" {row.note.__name__}"
        labels = edges.setdefault((row.state, row.next), [])
        if label not in labels:
            labels.append(label)
    lines = ["stateDiagram-v2", "    [*] --> ready"]
    lines += [f"    {_name(a)} --> {_name(b)}: {', '.join(labels)}" for (a, b), labels in edges.items()]
    lines += ["    done --> [*]", "    faulted --> [*]"]
    lines += _troubles()
    return "\n".join(lines)


def _troubles() -> list[str]:
    """Where trouble leads, as notes: drawn as edges they would hide everything else."""

    def named(states: Iterable[State]) -> str:
        return ", ".join(state.value for state in states)

    return [
        f"    note right of stopping: trouble while {named(MOVING)} orders a stop first",
        f"    note right of stopping: trouble while {named((*RESTING, *ASKING, *GIVING_OVER))} orders a look",
        f"    note right of rechecking: trouble while {named((*WRITING, *READING_BACK))} reads the offsets first",
        f"    note right of faulted: trouble while {named(ENDING)} ends here",
    ]


def _name(state: State) -> str:
    return state.value.replace(" ", "_").replace("-", "_")


def fenced() -> str:
    """Return the diagram as it stands in DEVELOPERS.md, markers included."""
    return f"{BEGIN}\n```mermaid\n{mermaid()}\n```\n{END}"


def write_into(text: str) -> str:
    """Return `text` with the diagram between its markers; raises `ValueError` where the markers are missing."""
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise ValueError(f"the text has no place for the diagram between {BEGIN!r} and {END!r}")
    return before + fenced() + after


def main(arguments: list[str]) -> None:
    """Print the diagram, or write it into the file named after ``--write``; ends with a sentence where it cannot."""
    if arguments[:1] == ["--write"] and len(arguments) == 2:
        path = Path(arguments[1])
        try:
            path.write_text(write_into(path.read_text(encoding="utf-8")), encoding="utf-8")
        except OSError as error:
            raise SystemExit(f"{path}: cannot be written anew: {error.strerror}") from None
        except ValueError as error:  # no markers, or no text
            raise SystemExit(f"{path}: {error}") from None
    else:
        sys.stdout.write(fenced() + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
