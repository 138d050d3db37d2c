"""Where the judgement of contacts, offsets and times turns from yes to no, to the last micrometre."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly.cycle import cycle
from gingerly.cycle.judgement import (
    agree,
    concluded,
    counted,
    fits,
    is_early,
    is_marching,
    is_same_origin,
    measured,
)
from gingerly.cycle.session import Session, Work
from gingerly.cycle.triage import EARLIEST, triage
from gingerly.explore.scenarios import FACTS, HERE, paper_at
from gingerly.geometry import Limits, Position
from gingerly.kinematics import move_time, speed_mm_s
from gingerly.messages.commands import Sense, Traverse
from gingerly.messages.replies import Arrived, Displaced, Early, Seen, Touched
from gingerly.messages.snapshot import Snapshot
from gingerly.messages.touches import Contact
from support.story import HELD, surface

TINY = 1e-6


def _session(facts=FACTS, **plan) -> Session:
    """A session in the middle of a surface touch, its plan changed as wished."""
    setup = surface(facts=facts, proof=HELD)
    session, _ = cycle().start(setup)
    touch = session.step
    session.step = replace(touch, plan=replace(touch.plan, **plan))
    return session


def _at(session: Session, distance: float, *, feed: float | None = None) -> Contact:
    touch = session.touch
    return Contact(touch.start.plus(touch.direction.times(distance)), feed or touch.plan.slow_feed, distance)


def _met(session: Session, distance: float, *, ran_on: float = 0.01, aside: float = 0.0) -> Session:
    touch = session.touch
    across = Position(aside, 0.0, 0.0)
    session.met = replace(
        _at(session, distance), position=touch.start.plus(touch.direction.times(distance)).plus(across)
    )
    rest = touch.start.plus(touch.direction.times(distance + ran_on)).plus(across)
    session.snapshot = Snapshot(rest, True)
    return session


def test_a_contact_is_corrected_for_what_its_feed_passes_while_it_is_latched():
    """At 600 mm/min, 2 ms of lateness are 0.02 mm: so much nearer lies the contact."""
    session = _session(latch_s=0.002)
    touch = session.touch
    contact = measured(touch, touch.start.plus(touch.direction.times(10.0)), feed=600.0)
    assert contact.distance == pytest.approx(9.98, abs=1e-12)


@pytest.mark.parametrize(("before", "early"), [(TINY, True), (-TINY, False)])
def test_a_contact_is_early_only_beyond_the_slack_before_its_window(before, early):
    """The near edge of the window, less the slack of a reported position."""
    session = _session()
    edge = session.touch.near - FACTS.position_slack
    assert is_early(_met(session, edge - before)) is early


@pytest.mark.parametrize(("beyond", "fitting"), [(TINY, False), (-TINY, True)])
def test_a_contact_fits_up_to_the_far_edge_and_the_slack(beyond, fitting):
    """The far edge of the window, and the slack of a reported position."""
    session = _session()
    edge = session.touch.far + FACTS.position_slack
    assert fits(_met(session, edge + beyond)) is fitting


@pytest.mark.parametrize(("beyond", "fitting"), [(TINY, False), (-TINY, True)])
def test_the_tool_may_run_on_by_the_overtravel_and_the_slack(beyond, fitting):
    """Further past the contact than the plan allows, nothing is believed; nor a rest before the contact."""
    session = _session()
    middle, slack = (session.touch.near + session.touch.far) / 2.0, FACTS.position_slack
    most = session.touch.plan.overtravel + slack
    assert fits(_met(session, middle, ran_on=most + beyond)) is fitting
    assert fits(_met(session, middle, ran_on=-slack - beyond)) is fitting


@pytest.mark.parametrize(("beyond", "fitting"), [(TINY, False), (-TINY, True)])
def test_a_contact_beside_the_line_is_none(beyond, fitting):
    """The slack of a reported position is all that a contact may lie aside."""
    session = _session()
    middle = (session.touch.near + session.touch.far) / 2.0
    assert fits(_met(session, middle, aside=FACTS.position_slack + beyond)) is fitting


@pytest.mark.parametrize("which", ["contact", "rest"])
@pytest.mark.parametrize("aside", [0.05, 0.4])
def test_contact_and_rest_must_each_lie_on_the_line(which, aside):
    """One beside it is enough, a little or far: the tool has slipped off, or was pushed aside."""
    session = _session()
    middle, across = (session.touch.near + session.touch.far) / 2.0, Position(0.0, aside, 0.0)
    assert fits(_met(session, middle))
    if which == "contact":
        session.met = replace(session.met, position=session.met.position.plus(across))
    else:
        session.snapshot = replace(session.snapshot, position=session.snapshot.position.plus(across))
    assert not fits(session)


def test_one_slow_contact_must_agree_with_the_fast_one_too():
    """With a single re-touch there is no spread among the slow ones, but there are still two contacts."""
    session = _session(retouches=1, spread=0.01)
    session.contacts = (_at(session, 20.5, feed=600.0), _at(session, 20.0))
    assert not agree(session)
    session.contacts = (_at(session, 20.005, feed=600.0), _at(session, 20.0))
    assert agree(session)


@pytest.mark.parametrize(("more", "agreeing"), [(TINY, False), (-TINY, True)])
@pytest.mark.parametrize("latch_s", [0.001, 0.002])
def test_the_wider_side_of_what_the_latch_leaves_open_counts(more, agreeing, latch_s):
    """Taken as 1 (or 2) of 0.5 … 2.5 ms, 1.5 ms are open: 9 mm/s make 0.0135 of them, and 0.01 is the spread."""
    session = _session(replace(FACTS, latch_s=Limits(0.0005, 0.0025)), spread=0.01, latch_s=latch_s, slow_feed=60.0)
    session.contacts = (_at(session, 20.2735 + more, feed=600.0), _at(session, 20.25), _at(session, 20.25))
    assert agree(session) is agreeing


@pytest.mark.parametrize(("more", "agreeing"), [(TINY, False), (-TINY, True)])
def test_slow_contacts_agree_up_to_the_spread(more, agreeing):
    """The range of the contacts that count, and not a micrometre more."""
    session = _session(spread=0.01)
    session.contacts = (_at(session, 20.005), _at(session, 20.0), _at(session, 20.01 + more))
    assert agree(session) is agreeing


@pytest.mark.parametrize(("more", "agreeing"), [(TINY, False), (-TINY, True)])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_the_fast_contact_may_differ_by_what_the_latch_leaves_open(more, agreeing, side):
    """(600 − 60) mm/min over half of 2 ms are 0.009 mm; with the spread of 0.01 that makes 0.019."""
    session = _session(replace(FACTS, latch_s=Limits(0.0, 0.002)), spread=0.01, latch_s=0.001, slow_feed=60.0)
    fast = _at(session, 20.0 + side * (0.019 + more), feed=600.0)
    session.contacts = (fast, _at(session, 20.0), _at(session, 20.0))
    assert agree(session) is agreeing


def test_only_the_latest_slow_contacts_count():
    """One that did not agree earlier is left behind by as many new ones as planned."""
    session = _session(spread=0.01)
    session.contacts = tuple(_at(session, d) for d in (20.0, 20.2, 20.001, 20.003))
    assert [contact.distance for contact in counted(session)] == [20.001, 20.003]
    assert agree(session)
    assert concluded(session).position == pytest.approx(_at(session, 20.002).position)


def test_a_touch_without_retouches_counts_its_fast_contact():
    """A quick touch stands on one contact, whatever else was met."""
    session = _session(retouches=0)
    session.contacts = (_at(session, 20.0), _at(session, 25.0))
    assert counted(session) == session.contacts[:1]
    assert agree(session)


@pytest.mark.parametrize(
    ("distances", "marching"),
    [
        ((20.0, 20.01), False),
        ((20.0, 20.006, 20.012), True),
        ((20.0, 20.004, 20.008, 20.012), True),
        ((20.0, 20.004, 20.009), False),
        ((20.0, 20.02, 20.012), False),
        ((20.0, 20.0, 20.02), False),
        ((20.02, 20.01, 20.0), False),
    ],
)
def test_marching_means_three_at_least_all_onward_and_by_more_than_the_spread(distances, marching):
    """Two may be chance, one step back is scatter, and a total within the spread is agreement."""
    session = _session(spread=0.01)
    session.contacts = (_at(session, 19.9), *(_at(session, distance) for distance in distances))
    assert is_marching(session) is marching


def test_contacts_are_compared_by_difference_however_near_the_start_they_lie():
    """0.8 mm apart is no agreement within 0.5, at 0.5 mm from the start as at 20."""
    session = _session(spread=0.5)
    session.contacts = (_at(session, 0.9), _at(session, 0.5), _at(session, 1.3))
    assert not agree(session)
    session.contacts = (_at(session, 0.4), *(_at(session, distance) for distance in (0.5, 1.0, 1.6)))
    assert is_marching(session)


def test_contacts_that_differ_by_just_the_spread_agree():
    """Half a millimetre, where half a millimetre is allowed."""
    session = _session(spread=0.5)
    session.contacts = (_at(session, 20.25), _at(session, 20.0), _at(session, 20.5))
    assert agree(session)


def test_marching_by_just_the_spread_is_none():
    """Half a millimetre in all, where half a millimetre is allowed."""
    session = _session(spread=0.5)
    session.contacts = (_at(session, 19.0), *(_at(session, distance) for distance in (20.0, 20.25, 20.5)))
    assert not is_marching(session)


@pytest.mark.parametrize(
    ("extrapolated", "fast_feed", "found"), [(True, 600.0, 20.0), (False, 600.0, 20.002), (True, 60.0, 20.002)]
)
def test_two_feeds_lead_on_to_the_place_at_no_feed(extrapolated, fast_feed, found):
    """2 ms of lateness at 10 and at 1 mm/s are 0.02 and 0.002 mm: both lead back to 20 mm; one feed cannot."""
    session = _session(extrapolated=extrapolated)
    fast = _at(session, 20.02, feed=float(str(fast_feed)))
    session.contacts = (fast, _at(session, 20.0015, feed=60.0), _at(session, 20.0025, feed=60.0))
    assert concluded(session).position.z == pytest.approx(session.touch.start.z - found, abs=1e-9)


def test_a_fast_contact_that_lies_nearer_leads_further_on():
    """By scatter alone: 0.009 mm nearer at ten times the feed put the face 0.001 mm further."""
    session = _session(extrapolated=True)
    session.contacts = (_at(session, 19.991, feed=600.0), *(_at(session, 20.0, feed=60.0),) * 2)
    assert concluded(session).position.z == pytest.approx(session.touch.start.z - 20.001, abs=1e-9)


def test_a_single_contact_is_the_face_where_only_one_was_planned():
    """Nothing to extrapolate from, whatever the plan says."""
    session = _session(retouches=0, extrapolated=True)
    session.contacts = (_at(session, 20.02, feed=600.0),)
    assert concluded(session).position.z == pytest.approx(session.touch.start.z - 20.02, abs=1e-9)


@pytest.mark.parametrize(("more", "same"), [(TINY, False), (-TINY, True)])
@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_an_offset_is_the_same_within_three_quarters_of_its_storage_step(more, same, axis, side):
    """Rounding to the step is half of it; on every axis, to either side."""
    session = _session()
    moved = [1.0, 2.0, 3.0]
    moved[axis] += side * (0.75 * FACTS.offset_resolution + more)
    assert is_same_origin(session, Position(*moved), Position(1.0, 2.0, 3.0)) is same
    assert not is_same_origin(session, Position(*moved), None)


@pytest.mark.parametrize(("more", "kept"), [(TINY, False), (-TINY, True)])
def test_a_machine_may_stand_aside_by_the_slack(more, kept):
    """Standing further from where it was left than the slack is a jump."""
    session = _session()
    session.snapshot = Snapshot(HERE, True)
    there = HERE.plus(Position(FACTS.position_slack + more, 0.0, 0.0))
    found = triage(session, Seen(Snapshot(there, True)), None)
    assert isinstance(found, Seen if kept else Displaced)


@pytest.mark.parametrize(("more", "believed"), [(1e-4, True), (-1e-4, False)])
def test_an_arrival_is_believed_from_four_fifths_of_its_shortest_time_on(more, believed):
    """Distance over feed is the shortest that any motion takes; the rest is left to clocks and rounding."""
    session = _session()
    session.snapshot = Snapshot(HERE, True)
    to = HERE.plus(Position(10.0, 0.0, 0.0))
    session.command = Traverse(to, 300.0, 9.0)
    soonest = EARLIEST * 10.0 / speed_mm_s(300.0)
    assert soonest < move_time(10.0, feed=300.0, acceleration=FACTS.acceleration)
    found = triage(session, Arrived(Snapshot(to, True)), soonest + more)
    assert isinstance(found, Arrived if believed else Early)


def test_a_contact_is_timed_by_how_far_it_came():
    """A sense that meets something half-way may take half the time."""
    session = _session()
    session.snapshot = Snapshot(HERE, True)
    to, half = HERE.plus(Position(10.0, 0.0, 0.0)), HERE.plus(Position(5.0, 0.0, 0.0))
    session.command = Sense(to, 300.0, 9.0)
    touched = Touched(half, Snapshot(half, True))
    assert isinstance(triage(session, touched, 0.9), Touched)
    assert isinstance(triage(session, touched, 0.7), Early)


def test_a_rapid_is_timed_by_the_machines_own_feed():
    """A traverse without a feed cannot be quicker than the rapid in the facts."""
    session = _session()
    session.snapshot = Snapshot(HERE, True)
    to = HERE.plus(Position(40.0, 0.0, 0.0))
    session.command = Traverse(to, None, 9.0)
    least = EARLIEST * 40.0 / speed_mm_s(FACTS.rapid_feed)
    assert isinstance(triage(session, Arrived(Snapshot(to, True)), least + 1e-4), Arrived)
    assert isinstance(triage(session, Arrived(Snapshot(to, True)), least - 1e-4), Early)


def test_a_fork_changes_alone():
    """A copied run and the one it came from go on independently."""
    session = _session()
    twin = session.fork()
    cycle().advance(twin, paper_at().answer(twin.command))
    assert twin.state is not session.state
    assert session.snapshot is None
    twin.works = (Work(1, (), False),)
    assert session.works == ()
