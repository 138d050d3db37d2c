"""Which answer belongs to what: late, lost, doubled and stale answers are never taken for another's."""

from __future__ import annotations

import pytest

from gingerly_serial.hearing import Heard
from gingerly_serial.ledger import Ledger
from gingerly_serial.profile import load
from support.practice import profile_of

STATE = {"mode": "resting", "x": 1.0, "y": 2.0, "z": 3.0, "circuit": "apart"}


def ledger(shape: str = "practice") -> Ledger:
    return Ledger(load(profile_of(shape)))


def state(x: float) -> Heard:
    return Heard("state", {**STATE, "x": x})


def test_numbered_answer_belongs_to_its_line_alone() -> None:
    """An answer to a command that was given up changes nothing for the next one."""
    book = ledger()
    old = book.order("G90")
    book.give_up(old)
    new = book.order("G90")
    book.take(Heard("accepted", {"number": old.number or 0}), 0.0)
    assert not new.answered
    book.take(Heard("accepted", {"number": new.number or 0}), 0.0)
    assert new.answered


def test_unnumbered_answers_keep_their_order() -> None:
    """The late answer to a command that was given up is owed, and is not taken for the next one's."""
    book = ledger("chatter")
    old = book.order("G90")
    book.give_up(old)
    new = book.order("G90")
    assert book.owed
    book.take(Heard("accepted", {}), 0.0)
    assert not new.answered
    assert not book.owed
    book.take(Heard("accepted", {}), 0.0)
    assert new.answered


def test_doubled_answer_is_a_stray() -> None:
    """An answer that nobody waits for is counted and forgotten."""
    book = ledger("chatter")
    book.order("G90")
    book.take(Heard("accepted", {}), 0.0)
    book.take(Heard("accepted", {}), 0.0)
    assert book.strays == 1
    assert not book.order("G90").answered


def test_state_for_an_older_request_is_not_taken_for_a_newer_one() -> None:
    """A state that answers an abandoned look is old; the newer look waits for its own."""
    book = ledger()
    old, new = book.request(0.0), book.request(0.1)
    book.take(state(1.0), 0.2)
    assert old.report is not None
    assert new.report is None
    book.take(state(5.0), 0.3)
    assert new.report is not None
    assert new.report.at.x == 5.0


def test_request_whose_answer_was_lost_is_forgotten_after_the_next_command() -> None:
    """Answers keep their order: once a later command is answered, an older state will not come any more."""
    book = ledger()
    book.request(0.0)
    order = book.order("G90")
    book.take(Heard("accepted", {"number": order.number or 0}), 0.1)
    fresh = book.request(0.2)
    book.take(state(5.0), 0.3)
    assert fresh.report is not None


def test_state_asked_in_line_settles_older_commands() -> None:
    """Where the state is an ordinary question, its answer shows that no older command will be answered any more."""
    book = ledger("terse")
    lost = book.order("G90")
    book.give_up(lost)
    book.request(0.0)
    book.take(Heard("state", {"mode": "0", "x": 0.0, "y": 0.0, "z": 0.0}), 0.1)
    assert not book.owed


def test_greeting_is_a_restart_and_sweeps_every_command_away() -> None:
    """After a restart nothing that was ordered will be answered; the count grows for good."""
    book = ledger()
    book.take(Heard("greeting", {"restarts": 1}), 0.0)
    before = book.restarts
    moving, writing = book.order("G90 G53 G0 X1", moves=True), book.order("G10 L2 P1 X0")
    book.take(Heard("greeting", {"restarts": 2}), 0.0)
    assert book.restarts == before + 1
    assert moving.restarted
    assert writing.over


def test_first_state_after_a_restart_answers_every_request() -> None:
    """It is newer than anything that was asked before; what was asked may have been swept away or not."""
    book = ledger()
    book.take(Heard("greeting", {"restarts": 1}), 0.0)
    requests = [book.request(0.0), book.request(0.1)]
    book.take(Heard("greeting", {"restarts": 2}), 0.2)
    book.take(state(5.0), 0.3)
    assert all(request.report is not None for request in requests)


def test_count_of_starts_in_a_state_tells_a_restart_without_a_greeting() -> None:
    """A greeting may get lost; the count in the next state tells the same."""
    book = ledger()
    book.take(Heard("state", {**STATE, "restarts": 4}), 0.0)
    assert book.restarts == 4
    book.take(Heard("state", {**STATE, "restarts": 5}), 0.0)
    assert book.restarts == 5


def test_count_of_starts_tells_a_restart_between_two_connections_unless_each_one_is_a_restart() -> None:
    """Where opening the port restarts the controller, a count that goes on says nothing."""
    counts = []
    for shape in ("practice", "terse"):
        for told in (4, 5):
            book = ledger(shape)
            book.take(Heard("state", {**STATE, "restarts": told}), 0.0)
            counts.append(book.restarts)
    assert (load(profile_of("practice")).opening.restarts, load(profile_of("terse")).opening.restarts) == (
        False,
        True,
    )
    assert counts == [4, 5, 0, 0]


@pytest.mark.parametrize("means", ["contact", "missed", "done"])
def test_report_of_an_abandoned_sense_is_not_the_next_ones(means: str) -> None:
    """What an older sense found, told late, says nothing about the one under way."""
    book = ledger()
    old = book.order("G91 G38.2 Z-1 F60", moves=True)
    book.give_up(old)
    new = book.order("G91 G38.2 Z-1 F60", moves=True)
    book.take(Heard(means, {"number": old.number or 0, "x": 0.0, "y": 0.0, "z": 0.0}), 0.0)
    assert (new.contact, new.missed, new.done) == (None, False, False)


def test_lines_of_different_states_are_never_mixed() -> None:
    """Where a state comes in several lines and one was lost, the old rest is not joined to the new one."""
    book = ledger("chatter")
    book.take(Heard("state", {"mode": "asleep", "flags": "h"}, form=4, more=True), 0.0)
    book.take(Heard("state", {"mode": "awake", "flags": "hc"}, form=4, more=True), 0.0)
    book.take(Heard("end", {}), 0.0)
    assert book.latest is None
    book.take(Heard("state", {"mode": "awake", "flags": "hc"}, form=4, more=True), 0.0)
    book.take(Heard("state", {"x": 1.0, "y": 1.0, "z": 1.0}, form=5, more=True), 0.0)
    book.take(Heard("end", {}), 0.0)
    assert book.latest is not None
    assert book.latest.resting is False


def test_alarm_that_was_told_stands_until_a_state_at_rest_says_that_there_is_none() -> None:
    """A machine that brakes in alarm may say no more than that it moves."""
    book = ledger()
    book.take(Heard("alarm", {"code": "stop-pressed", "detail": ""}), 0.0)
    book.take(Heard("state", {**STATE, "mode": "travelling"}), 0.1)
    assert book.alarm == "stop-pressed"
    book.take(state(1.0), 0.2)
    assert book.alarm == ""
