"""The explorer: what it covers, and that it would find what it looks for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly.cycle import Cycle, State
from gingerly.cycle import notes as n
from gingerly.cycle import orders as o
from gingerly.cycle.conditions import handing_over, legs_left, more_wanted, no
from gingerly.cycle.table import Row, expanded
from gingerly.explore.explorer import Explorer, explore
from gingerly.explore.scenarios import scenarios
from gingerly.messages import replies as r
from gingerly.messages.faults import NoContact

SCENARIOS = {scenario.name: scenario for scenario in scenarios()}


@pytest.mark.parametrize("name", list(SCENARIOS))
def test_no_single_fault_breaks_an_invariant(name):
    """Every deviation at every step of every routine ends soundly."""
    findings = Explorer(SCENARIOS[name], faults=1).explore()
    assert findings.counterexample is None, findings.counterexample.story()
    assert findings.runs > 200


def test_the_shares_of_an_exploration_add_up():
    """Dividing the work changes what is done where, not what is done."""
    whole = Explorer(SCENARIOS["surface"], faults=1).explore().runs
    parts = [Explorer(SCENARIOS["surface"], faults=1).explore(share=i, shares=3).runs for i in range(3)]
    assert sum(parts) == whole + 2, "the ideal run belongs to each share"


def _changed(state, reply, **changes):
    """The table with the first row of this state and reply changed."""
    rows = list(expanded())
    index = next(i for i, row in enumerate(rows) if row.state is state and row.reply is reply)
    rows[index] = replace(rows[index], **changes)
    return rows


def _where(note, **changes):
    """The table with every row of this note changed."""
    return [replace(row, **changes) if row.note is note else row for row in expanded()]


def _beyond(session):
    """The longer back-off, ten millimetres too long."""
    command = o.back_to_start(session)
    return replace(command, to=command.to.minus(session.touch.direction.times(10.0)))


def _named(condition, **changes):
    """The table with every row of this condition changed, and tried before all others."""
    rows = sorted(expanded(), key=lambda row: row.when.__name__ != condition)
    return [replace(row, **changes) if row.when.__name__ == condition else row for row in rows]


def _before_all(condition, **changes):
    """The table with a changed copy of the row of this condition in front of all rows."""
    (row,) = [row for row in expanded() if row.when.__name__ == condition]
    return [replace(row, **changes), *expanded()]


def _claim_standstill(session, reply):
    session.still = True


def _after_a_miss(session, reply):
    return session.blame is not None and session.blame.fault is NoContact and bool(session.trail)


CORNER = "outside corner, circuit proved before"
TO_MOTION = {"next": State.TRAVERSING, "order": o.leg}
DEFECTS = {
    "senses with the circuit closed": (_named("is_open, not legs_left", when=no(legs_left)), CORNER, "I2"),
    "re-touches without backing off": (
        _changed(State.CONTACT, r.Seen, next=State.RETOUCHING, order=o.sense_slow),
        "surface",
        "I2",
    ),
    "re-touches before the circuit is open": (_named("is_open, more_wanted", when=more_wanted), "surface", "I2"),
    "backs off further than the approach began": (
        [replace(row, order=_beyond) if row.order is o.back_to_start else row for row in expanded()],
        "surface",
        "I2",
    ),
    "averages contacts that disagree": (
        _named("is_open, enough, scattered, extra_left", note=n.conclude, next=State.RETRACTING, order=o.out),
        "surface",
        "I4",
    ),
    "takes fewer contacts than planned": (
        _named("is_open, more_wanted", note=n.conclude, next=State.RETRACTING, order=o.out),
        "surface",
        "soundness",
    ),
    "trusts the circuit without the check": (
        [replace(row, note=n.set_out, **TO_MOTION) if row.note is n.void_proof else row for row in expanded()],
        "surface",
        "I10",
    ),
    "moves before the circuit is steadily open": (
        _named("is_open, not steady", note=n.prove, **TO_MOTION),
        "surface",
        "I12",
    ),
    "does not read back": (_where(n.await_read, next=State.DONE, order=o.finish), "surface", "I5"),
    "accepts an offset that is not as meant": (
        _named("as_meant, not more_offsets, handing_over", when=handing_over),
        "surface",
        "I5",
    ),
    "writes twice instead of restoring": (
        [replace(row, order=o.write) if row.order is o.write_old else row for row in expanded()],
        "surface",
        "I5",
    ),
    "releases without a yes": (
        [
            replace(row, note=n.release) if (row.state, row.reply) == (State.HANDING_OVER, r.Answered) else row
            for row in expanded()
        ],
        "surface",
        "I11",
    ),
    "calls a stop that was not answered standstill": (
        [
            replace(row, note=_claim_standstill) if (row.state, row.reply) == (State.STOPPING, r.TimedOut) else row
            for row in expanded()
        ],
        "surface",
        "I6",
    ),
    "retreats although the machine still moves": (
        _before_all("not moving, may_retreat", when=_after_a_miss),
        "surface",
        "I1",
    ),
    "has no answer to a lost link": (
        [row for row in expanded() if (row.state, row.reply) != (State.APPROACHING, r.Disconnected)],
        "surface",
        "completeness",
    ),
    "looks for ever": (
        [replace(row, note=n.nothing) if row.note is n.look_count else row for row in expanded()],
        "surface",
        "I7",
    ),
}


@pytest.mark.parametrize("defect", list(DEFECTS))
def test_the_explorer_finds_a_planted_defect(defect):
    """A table that is wrong in one place is caught by an invariant, with a story that shows how."""
    rows, scenario, invariant = DEFECTS[defect]
    findings = explore(SCENARIOS[scenario], faults=2, table=Cycle(rows))
    found = findings.counterexample
    assert found is not None
    assert found.violation.invariant.startswith(invariant), found.story()
    assert f"{len(found.chapters()):3}." in found.story()


def test_the_row_type_is_plain_data():
    """A row can be changed by replacing a field, which is how defects are planted."""
    assert isinstance(expanded()[0], Row)
