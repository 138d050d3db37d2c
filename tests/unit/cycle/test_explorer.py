"""The explorer: what it covers, and that it would find what it looks for."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from gingerly import routines
from gingerly.cycle import Cycle, State, outcome
from gingerly.cycle import notes as n
from gingerly.cycle import orders as o
from gingerly.cycle.conditions import handing_over, legs_left, more_wanted, no
from gingerly.cycle.table import Row, expanded
from gingerly.cycle.triage import triage
from gingerly.explore.explorer import Explorer, explore
from gingerly.explore.features import every_scenario
from gingerly.explore.scenarios import scenarios, special_scenarios
from gingerly.messages import replies as r
from gingerly.messages.commands import Finish
from gingerly.messages.faults import NoContact

SCENARIOS = {scenario.name: scenario for scenario in scenarios()}
EVERYTHING = {scenario.name: scenario for scenario in every_scenario()}


@pytest.mark.parametrize("name", list(SCENARIOS))
def test_no_single_fault_breaks_an_invariant(name):
    """Every deviation at every step of every routine ends soundly."""
    findings = Explorer(SCENARIOS[name], faults=1).explore()
    assert findings.counterexample is None, findings.counterexample.story()
    assert findings.runs > 200


ENDS_OTHERWISE = {
    "jog on into a contact": "CircuitAlreadyClosed",
    "jog off a contact, beyond where its line began": "CircuitAlreadyClosed",
    "jog aside in a contact": "CircuitAlreadyClosed",
    "jog off a contact and aside": "CircuitAlreadyClosed",
    "self check, circuit untold": "CircuitUnknown",
    "verify, moved": "NotAsSet",
    "stop test, circuit not checked": "CircuitNotChecked",
    "own stop": "NotStopped",
    "own stop, circuit not checked": "CircuitNotChecked",
}
"""Scenarios that are there for the fault in which even their ideal run ends."""


@pytest.mark.parametrize("name", list(EVERYTHING))
def test_the_ideal_run_of_a_scenario_ends_well_or_as_its_name_says(name):
    """What is explored around it is therefore the whole routine, not a run that ends at its third step."""
    scenario = EVERYTHING[name]
    table, paper = scenario.table(), scenario.paper()
    session, command = table.start(scenario.setup)
    while not isinstance(command, Finish):
        command = table.advance(session, paper.answer(command))
    fault = outcome(session).fault
    assert (fault.name if fault is not None else None) == ENDS_OTHERWISE.get(name)


class Exclusive(Cycle):
    """A table that breaks down where two of its conditions hold at once."""

    def advance(self, session, reply, elapsed_s=None):
        found = triage(session, reply, elapsed_s)
        rows = [row for row in self.rows if row.state is session.state and row.reply is type(found)]
        held = [row.when.__name__ for row in rows if row.when(session, found)]
        assert len(held) <= 1, f"{session.state.value}, {type(found).__name__}: {held}"
        return super().advance(session, reply, elapsed_s)


def untold(name):
    """A scenario on a machine that is said not to tell its circuit, while its deviations do."""
    setup = replace(EVERYTHING[name].setup, facts=replace(EVERYTHING[name].setup.facts, circuit_known=False))
    return replace(EVERYTHING[name], name=f"{name}, circuit untold", setup=setup)


ALL = (*every_scenario(), *special_scenarios(), untold("stop test"), untold("own stop"), untold("look at zero"))
QUICKLY = {
    *("surface", "tool change of three offsets", "self check", "stop test", "look at zero"),
    *("circuit untold, no waiver", "self check, circuit untold", "stop test, circuit untold"),
}


@pytest.mark.parametrize(
    "scenario",
    [pytest.param(one, id=one.name, marks=() if one.name in QUICKLY else pytest.mark.thorough) for one in ALL],
)
def test_at_most_one_condition_holds_at_a_time(scenario):
    """The order of the rows means nothing, in every run with one deviation."""
    findings = Explorer(scenario, faults=1, table=Exclusive(scenario.table().rows)).explore()
    assert findings.counterexample is None, findings.counterexample.story()


def test_two_conditions_that_hold_at_once_would_be_seen():
    """The same row twice is the plainest of such tables."""
    twice = Exclusive([*expanded(), next(row for row in expanded() if row.note is n.conclude)])
    found = Explorer(SCENARIOS["surface"], faults=0, table=twice).explore().counterexample
    assert "broke down: AssertionError backing off, Arrived" in found.story()


def test_every_routine_there_is_is_explored():
    """A routine named so has a scenario that begins with these words."""
    public = [name for name in routines.__all__ if hasattr(getattr(routines, name), "plan")]
    words = {re.sub("(?<!^)([A-Z])", r" \1", name).lower() for name in public} - {"routine"}
    assert len(words) > 15
    assert {word for word in words if not any(name.startswith(word) for name in EVERYTHING)} == set()


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


def _where_when(condition, **changes):
    """The table with every row of this condition changed, in its place."""
    return [replace(row, **changes) if row.when.__name__ == condition else row for row in expanded()]


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
    "does not put back what was not kept": (
        [
            replace(row, next=State.STOPPING, order=o.look) if row.order is o.write_old else row
            for row in expanded()
        ],
        "surface",
        "I5",
    ),
    "puts back the last of three alone": (
        _named("more_written", next=State.RECHECKING, order=o.read),
        "tool change of three offsets",
        "I5",
    ),
    "says that what can be read cannot": (
        [replace(row, note=n.written) if row.note is n.await_read else row for row in expanded()],
        "surface",
        "I5",
    ),
    "says that the old values stand without having read them": (
        [replace(row, note=n.nothing) if row.note is n.await_read else row for row in expanded()],
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
        [
            replace(row, note=n.nothing) if row.note is n.look_count and row.state is State.STOPPING else row
            for row in expanded()
        ],
        "surface",
        "I7",
    ),
}


@pytest.mark.parametrize("defect", list(DEFECTS))
def test_the_explorer_finds_a_planted_defect(defect):
    """A table that is wrong in one place is caught by an invariant, with a story that shows how."""
    rows, scenario, invariant = DEFECTS[defect]
    findings = explore(EVERYTHING[scenario], faults=2, table=Cycle(rows))
    found = findings.counterexample
    assert found is not None
    assert found.violation.invariant.startswith(invariant), found.story()
    assert f"{len(found.chapters()):3}." in found.story()


def test_the_counterexample_told_is_the_shortest():
    """Of the runs with the fewest deviations that break it, the one that does so in the fewest steps."""
    rows = _where_when("is_closed, not first_time", note=n.nothing, next=State.RETOUCHING, order=o.sense_slow)
    found = explore(SCENARIOS["surface"], faults=2, table=Cycle(rows)).counterexample
    states = [chapter.state for chapter in found.chapters()]
    assert [chapter.deviation for chapter in found.chapters() if chapter.deviation] == ["circuit stuck closed"]
    assert (states.count(State.CONTACT), states[-2:]) == (1, [State.BACKING_OFF, State.BACKING_OFF])


def test_a_story_names_orders_and_what_was_read_in_a_few_words():
    """No data structure is printed as the program sees it."""
    story = explore(SCENARIOS["surface"], faults=1, table=Cycle(DEFECTS["does not put back what was not kept"][0]))
    told = story.counterexample.story()
    assert "ordered WriteOffset 2 Z-60.0; came back OffsetWritten" in told
    assert "came back OffsetRead 2 as X" in told
    assert "Position(" not in told


def test_the_row_type_is_plain_data():
    """A row can be changed by replacing a field, which is how defects are planted."""
    assert isinstance(expanded()[0], Row)
