"""Every line of the table matters: drop it, send it elsewhere, drop part of its condition, and a run goes wrong.

A mutant of the compiled table is run through the kept runs that fire the mutated row. It is caught when an
invariant breaks, when no rule is found, or when the run's line is no longer the kept one (``support/traces.txt``);
the table is never compared with a copy of itself. Rows that no run can fire, and the few mutants that cannot make a
difference, are listed with the reason.
"""

from __future__ import annotations

from collections import defaultdict

import pytest

from gingerly.cycle import Cycle, State
from gingerly.cycle.conditions import parts
from gingerly.cycle.states import ENDED
from gingerly.cycle.table import CYCLE, expanded
from gingerly.messages import replies as r
from support.traces import counting, kept, run

ROWS = expanded()
SHOWN_BY_SNAPSHOTS = (r.Turning, r.Unhomed, r.Foreign, r.Displaced, r.Blind, r.Early)
WITHOUT_SNAPSHOTS = (
    State.RECALLING,
    State.COMMITTING,
    State.CONFIRMING,
    State.RESTORING,
    State.RECHECKING,
    State.HANDING_OVER,
)
FROM_THE_LINK = (r.Refused, r.Alarmed, r.Restarted, r.Disconnected)


def _why_never_fired(row):
    """Why no run can fire this row; every state answers every trouble all the same."""
    if row.state is State.READY and row.reply is not r.Started:
        return "nothing has been ordered yet"
    if row.reply in SHOWN_BY_SNAPSHOTS and row.state in WITHOUT_SNAPSHOTS:
        return "what is ordered there brings no snapshot"
    if row.reply in SHOWN_BY_SNAPSHOTS and row.state in (State.STOPPING, State.RETREATING):
        return "a run that is being ended is not judged again"
    if row.reply is r.Early and row.order.__name__ == "look":
        return "only a motion can come too early"
    if row.state is State.HANDING_OVER and row.reply in FROM_THE_LINK:
        return "a person is no controller"
    return None


EQUIVALENT = {
    # (state, reply, condition) of the row, and what was done to it: why that can make no difference
}


@pytest.fixture(scope="module")
def runs():
    """The kept runs that fire each row, by the row's number."""
    hits: list[int] = []
    table, found = counting(ROWS, hits), defaultdict(list)
    for (name, path), line in kept().items():
        hits.clear()
        run(name, path, table)
        for number in dict.fromkeys(hits):
            found[number].append((name, path, line))
    return found


@pytest.fixture(scope="module")
def table():
    """One compiled table, whose transitions are changed in place and put back."""
    return Cycle(ROWS)


def _siblings(table, number):
    """The transitions of this row's state and reply, and the place of the row's own among them."""
    row = ROWS[number]
    place = sum(1 for other in ROWS[:number] if (other.state, other.reply) == (row.state, row.reply))
    return table.machine.events[row.reply.__name__].transitions[row.state.name], place


def _caught(table, stories):
    """Whether any of the runs breaks an invariant, finds no rule, or has another line than the kept one."""
    return any(told.violation or told.line != line for told, line in _told(table, stories))


def _told(table, stories):
    for name, path, line in stories:
        yield run(name, path, table), line


def test_the_kept_runs_are_what_the_table_does(table):
    """Each run that is kept comes out as it is kept, and breaks no invariant."""
    wrong = [
        (name, path, told.violation or told.line)
        for (name, path), line in kept().items()
        if (told := run(name, path, table)).violation or told.line != line
    ]
    assert wrong == [], "if the change is meant: python -m support.traces, and read the difference"


def test_every_hand_written_row_is_fired_by_a_kept_run(runs):
    """No row of the cycle is dead."""
    assert [row for number, row in enumerate(CYCLE) if not runs[number]] == []


def test_a_row_that_no_run_fires_has_a_reason(runs):
    """Rows are unreachable only where the reply cannot come."""
    silent = [row for number, row in enumerate(ROWS) if not runs[number]]
    assert [(row.state.value, row.reply.__name__) for row in silent if _why_never_fired(row) is None] == []


def test_dropping_any_row_is_caught(table, runs):
    """A table with one row less lets a kept run go wrong."""
    survivors = []
    for number, row in enumerate(ROWS):
        if not runs[number]:
            continue
        siblings, place = _siblings(table, number)
        dropped = siblings.pop(place)
        if not _caught(table, runs[number]):
            survivors.append(_called(row))
        siblings.insert(place, dropped)
    assert [name for name in survivors if (name, "dropped") not in EQUIVALENT] == []


@pytest.mark.thorough
def test_dropping_any_part_of_a_condition_is_caught(table, runs):
    """A condition with one part less lets a kept run go wrong."""
    survivors = []
    for number, row in enumerate(ROWS):
        if row.when.__name__ == "always" or not runs[number]:
            continue
        rivals = [n for n, other in enumerate(ROWS) if (other.state, other.reply) == (row.state, row.reply)]
        # Runs of rarely fired rivals tell first, and short ones sooner.
        rare = sorted(rivals, key=lambda rival: (rival == number, len(runs[rival])))
        stories = list(dict.fromkeys(story for rival in rare for story in sorted(runs[rival], key=_length)))
        siblings, place = _siblings(table, number)
        mutant = siblings.pop(place)
        # In front of its rivals: at most one condition may be true, so the order must not matter.
        siblings.insert(0, mutant)
        condition, kept_function = mutant.conditions[0], mutant.conditions[0].func
        for left_out in parts(row.when):
            rest = [part for part in parts(row.when) if part is not left_out]
            condition.func = lambda event, rest=rest: all(part(event.model, event.args[0]) for part in rest)
            if not _caught(table, stories):
                survivors.append((_called(row), left_out.__name__))
        condition.func = kept_function
        siblings.pop(0)
        siblings.insert(place, mutant)
    assert [name for name in survivors if name not in EQUIVALENT] == []


@pytest.mark.thorough
def test_sending_any_row_elsewhere_is_caught(table, runs):
    """A row that leads to any other state than its own lets a kept run go wrong."""
    survivors = []
    for number, row in enumerate(ROWS):
        if not runs[number]:
            continue
        siblings, place = _siblings(table, number)
        transition = siblings[place]
        for state in State:
            if state is row.next:
                continue
            transition.dest = state.name
            if not _caught(table, runs[number]):
                survivors.append((_called(row), state.value))
        transition.dest = row.next.name
    assert [name for name in survivors if name not in EQUIVALENT] == []


def _length(story):
    return len(story[2].split()[0])


def _called(row):
    return f"{row.state.value}, {row.reply.__name__}, {row.when.__name__}"


def test_the_ends_are_told_apart():
    """Done and faulted are different ends in every kept line."""
    assert {line.split()[2] for line in kept().values()} == {state.value for state in ENDED}
