"""What a fault tells people: the numbers that were found, and those that were expected."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly import AlarmActive, ControllerRefused, ForeignState, Interrupted, LinkLost
from gingerly.cycle import State, cycle
from gingerly.cycle.ending import fault_of, outcome
from gingerly.cycle.explain import told
from gingerly.explore.scenarios import FACTS, paper_at
from gingerly.messages.commands import Traverse
from gingerly.messages.replies import Aborted, Alarmed, Disconnected, Foreign, Missed, Refused, Seen
from gingerly.messages.snapshot import Circuit
from support.story import corner, deviating, several, surface, tell

# On paper the approach to the top begins at Z 0, the plate's face lies at Z −54, the window is 53 … 55 mm wide.


def _bent(setup, *deviations):
    """The fault of a run that deviates so, each given as state, name and turn."""
    return tell(setup, several(*[deviating(state, name, turn=turn) for state, name, turn in deviations])).fault


def test_a_miss_says_from_where_to_where_and_how_far_metal_may_have_been_pushed():
    """55.5 mm of approach less the 53 mm where contact was possible are 2.5 mm; a slow miss ends earlier."""
    fast = _bent(surface(), (State.APPROACHING, "no contact", 1)).detail
    assert "'top'" in fast
    assert "from X169.750 Y120.250 Z0.000 to X169.750 Y120.250 Z-55.500" in fast
    assert fast.endswith("pushed up to 2.500 mm past where contact was possible")
    wall = _bent(corner(), (State.APPROACHING, "no contact", 2)).detail
    assert "touch 'X wall'" in wall
    assert wall.endswith("pushed up to 2.500 mm past where contact was possible")
    assert "1.510 mm past" in _bent(surface(), (State.RETOUCHING, "no contact", 1)).detail


def test_a_contact_before_its_window_says_where_it_was_and_where_it_should_be():
    detail = _bent(surface(), (State.APPROACHING, "contact far too early", 1)).detail
    assert detail == (
        "touch 'top': contact at 2.775 mm along the approach (X169.750 Y120.250 Z-2.775),"
        " expected from 53.000 to 55.000 mm"
    )


def test_a_contact_on_the_way_says_on_the_way_to_where_and_not_what_was_touched_last():
    """The way to the X wall, after the top was touched: that touch's contact has no part in it."""
    detail = _bent(corner(), (State.TRAVERSING, "short and closed", 4)).detail
    assert detail == "on the way to X133.000 Y115.000 Z-60.000, at X133.000 Y115.000 Z-54.500"


@pytest.mark.parametrize(("deviation", "past"), [("ran on too far", "0.900"), ("contact too far on", "0.020")])
def test_an_implausible_contact_says_how_far_the_tool_ran_on_and_how_far_it_may(deviation, past):
    detail = _bent(surface(), (State.APPROACHING, deviation, 1)).detail
    assert detail.endswith(f"; the tool came to rest {past} mm past it, 0.300 mm allowed")
    assert "expected from 53.000 to 55.000 mm" in detail


def test_contacts_that_disagree_are_all_told_with_the_spread_and_the_extras():
    swing = [(State.RETOUCHING, "contact that does not agree", turn) for turn in (1, 3, 5)]
    assert _bent(surface(), *swing).detail == (
        "touch 'top': contacts at 54.0000, 54.0600, 54.0000, 54.0600, 54.0000, 54.0600 mm along the approach,"
        " 0.0100 mm of spread allowed, 3 extra touches spent"
    )


def test_a_plate_that_gives_way_is_told_by_its_contacts():
    giving = [(State.RETOUCHING, "plate gives way", turn) for turn in (1, 2, 3, 4)]
    assert "54.0000, 54.0300, 54.0600 mm" in _bent(surface(), *giving).detail


def test_a_contact_that_is_lost_again_is_counted():
    """Three extras are planned, so the fourth loss ends the run."""
    lost = [(State.CONTACT, "circuit open in one look", turn) for turn in (1, 2, 3, 4)]
    assert _bent(surface(), *lost).detail == "touch 'top': contact lost again 4 times"


def test_a_circuit_that_stays_closed_is_told_with_the_place():
    detail = _bent(surface(), (State.BACKING_OFF, "circuit stuck closed", 1)).detail
    assert detail == "touch 'top': still closed at the start of the approach, X169.750 Y120.250 Z0.000"


def test_a_circuit_closed_at_once_is_told_apart_from_one_that_stayed_so():
    """Twenty looks were spent on the second."""
    at_once = tell(surface(proof=None), deviating(State.CHECKING, "circuit stuck closed")).fault
    assert at_once.detail == "it must be open here"

    def stuck(state, command, paper):
        paper.stuck = Circuit.CLOSED if state is State.AWAITING_OPENED else None

    stayed = tell(surface(proof=None), stuck).fault
    assert stayed.detail == "it must be open here, and stayed closed"


def test_a_circuit_never_seen_closed_is_told_with_place_and_looks():
    """Twenty more looks after the first."""

    def off(state, command, paper):
        paper.stuck = Circuit.OPEN

    assert tell(corner(proof=None), off).fault.detail == "it stayed open at the tip in 21 looks"


def test_a_circuit_untold_says_whether_that_was_known_before():
    """Facts that promise it and a machine that does not, or facts that promise nothing and nobody to waive it."""
    assert "it can, and now it does not" in _bent(surface(), (State.CHECKING, "circuit not told", 1)).detail
    paper = paper_at()
    paper.changed["circuit"] = None
    blind = tell(surface(facts=replace(FACTS, circuit_known=False)), paper=paper).fault
    assert "nobody at the run accepted to go on without" in blind.detail


def test_a_question_that_was_declined_is_told():
    detail = _bent(surface(proof=None), (State.AWAITING_OPENED, "said no", 1)).detail
    assert detail == "the question 'clear' was not answered with yes"
    facts = replace(FACTS, in_force_known=False)
    first = tell(surface(facts=facts, proof=None), deviating(State.AWAITING_OPENED, "said no")).fault
    assert first.detail == "the question 'plain state' was not answered with yes"


def test_an_offset_that_was_not_kept_is_told_with_what_was_meant():
    detail = _bent(corner(), (State.COMMITTING, "write ignored", 1)).detail
    assert detail.startswith("work offset 2: X150.000 Y100.000 Z-60.000 was meant")


def test_a_machine_that_is_elsewhere_is_told_with_both_places_and_the_distance():
    detail = _bent(corner(), (State.TRAVERSING, "elsewhere", 1)).detail
    assert detail.startswith("expected X20.000 Y20.000 Z0.000, found X20.700 Y20.000 Z0.000: 0.700 mm away, ")
    assert detail.endswith(f" {FACTS.position_slack:.3f} mm allowed")


def test_a_rest_beside_the_line_is_told_with_how_far():
    assert (
        "it rests 0.400 mm beside its line at X"
        in _bent(surface(), (State.APPROACHING, "contact beside the line", 1)).detail
    )


def test_a_motion_over_too_early_is_told_with_its_times():
    """At the rapid feed of 2400 mm/min 40 mm take a second; four fifths of that are to be seen at least."""
    table, paper = cycle(), paper_at()
    session, command = table.start(surface())
    table.advance(session, paper.answer(command))
    order = session.command
    assert isinstance(order, Traverse)
    distance = session.snapshot.position.distance(order.to)
    table.advance(session, paper.answer(order), 0.01)
    assert session.blame.detail == (
        f"{distance:.3f} mm took 0.010 s, and at 2400 mm/min take {0.8 * distance / 40.0:.3f} s"
    )


@pytest.mark.parametrize(
    ("reply", "words"),
    [
        (Refused("17"), "code 17"),
        (Refused("17", "beyond the travel"), "code 17: beyond the travel"),
        (Alarmed(detail="limit"), "limit"),
        (Disconnected("unplugged"), "unplugged"),
        (Aborted("Ctrl-C"), "Ctrl-C"),
        (Foreign(paper_at().snapshot(), "a tool length offset"), "a tool length offset"),
        (Seen(paper_at().snapshot()), ""),
        (Missed(paper_at().snapshot()), ""),
    ],
)
def test_a_reply_tells_its_own_detail(reply, words):
    """Whatever the machine said about it, and nothing where it said nothing."""
    assert told(reply) == words


@pytest.mark.parametrize(
    ("reply", "fault", "code"),
    [
        (Refused("17"), ControllerRefused, "17"),
        (Alarmed(detail="limit"), AlarmActive, ""),
        (Disconnected("unplugged"), LinkLost, ""),
        (Aborted(""), Interrupted, ""),
        (Foreign(paper_at().snapshot(), "inches"), ForeignState, ""),
    ],
)
def test_trouble_outside_a_run_is_the_same_fault(reply, fault, code):
    """A look at a machine that is in trouble names it as a run would, and says that nothing moved."""
    found = fault_of(reply)
    assert type(found) is fault
    assert (found.code, found.detail, found.done) == (code, told(reply), "no motion was ordered")


def test_no_trouble_is_no_fault():
    assert fault_of(Seen(paper_at().snapshot())) is None


def test_a_run_that_goes_on_has_no_outcome():
    """Nobody may take a run under way for one that has ended."""
    session, _ = cycle().start(surface())
    with pytest.raises(ValueError, match="the run goes on: it is checking"):
        outcome(session)


def test_what_was_done_is_told_in_order():
    """A stop on the way is followed by the way back where the fault leaves the position trusted."""
    interrupted = _bent(corner(), (State.TRAVERSING, "interrupted", 2))
    assert interrupted.done.startswith("told the machine to stop")
    missed = _bent(surface(), (State.APPROACHING, "no contact", 1))
    assert missed.done == "went back along its path to X169.750 Y120.250 Z0.000"
    unmoved = _bent(surface(), (State.CHECKING, "refused", 1))
    assert unmoved.done == "no motion was ordered"
    stuck = _bent(surface(), (State.BACKING_OFF, "circuit stuck closed", 1))
    assert stuck.done == "no further motion was ordered"


def test_more_trouble_while_the_run_is_ended_is_told_too():
    """The first trouble is the fault; what came after it is added to what was done."""
    found = _bent(surface(), (State.APPROACHING, "refused", 1), (State.STOPPING, "refused", 1))
    assert found.name == "ControllerRefused"
    assert found.done.endswith("then: code 17")
    wordless = _bent(surface(), (State.APPROACHING, "refused", 1), (State.STOPPING, "link lost", 1))
    assert wordless.done.endswith("then: Disconnected")


@pytest.mark.parametrize(
    ("state", "asked"), [(State.AWAITING_CLOSED, "close at tip"), (State.AWAITING_OPENED, "clear")]
)
def test_what_was_declined_is_told(state, asked):
    """Nobody has to guess which of several questions was answered with no."""
    fault = tell(surface(proof=None), deviating(state, "said no")).fault
    assert fault.detail == f"the question {asked!r} was not answered with yes"
