"""What is ordered, and how long it may take: deadlines follow from distance, feed and acceleration."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly.cycle import State, cycle
from gingerly.cycle import orders as o
from gingerly.explore.scenarios import CORNER, FACTS, HERE, paper_at
from gingerly.geometry import Axis, Position
from gingerly.messages.commands import Ask, Finish, Look, Question, ReadOffset, Sense, Stop, Traverse, WriteOffset
from gingerly.messages.touches import Finding, Leg
from support.story import corner, deviating, surface, tell

ANSWER = FACTS.answer_s
TOP = CORNER.z + 6.0
"""Z of the plate's face on paper, 6 mm above the stock."""


def _senses():
    return tell(surface()).ordered(Sense)


def test_a_look_waits_for_an_answer_and_no_longer():
    assert cycle().start(surface())[1] == Look(0.0, ANSWER)


def test_a_look_after_a_contact_waits_until_it_has_settled():
    """The circuit may bounce; the deadline begins after the wait."""
    looks = [order for order in tell(surface()).ordered(Look) if order.after_s]
    assert set(looks) == {Look(FACTS.settle_s, FACTS.settle_s + ANSWER)}
    assert len(looks) == 3


def test_a_look_is_repeated_after_the_wait_that_the_run_was_set_up_with():
    story = tell(surface(proof=None, look_again_s=0.7))
    assert Look(0.7, 0.7 + ANSWER) in story.ordered(Look)


def test_a_stop_is_given_the_time_to_brake_from_the_rapid_feed():
    """2400 mm/min are 40 mm/s; at 250 mm/s² they are gone in 0.16 s."""
    (stop,) = tell(surface(), deviating(State.TRAVERSING, "timed out")).ordered(Stop)
    assert stop == Stop(pytest.approx(ANSWER + 0.16))


def test_a_stop_from_a_feed_that_is_no_whole_number_a_second_is_given_its_full_time():
    """2430 mm/min are 40.5 mm/s; at 250 mm/s² they are gone in 0.162 s."""
    session, _ = cycle().start(surface(facts=replace(FACTS, rapid_feed=2430.0)))
    assert o.stop(session).deadline_s == pytest.approx(ANSWER + 0.162)


def test_a_motion_may_take_half_as_long_again_as_it_ideally_does():
    """5 mm up at the rapid feed: 5/40 s and 0.16 s to speed up and slow down again, one and a half times."""
    rise = tell(surface()).ordered(Traverse)[0]
    assert (rise.to, rise.feed) == (HERE._replace(z=0.0), None)
    assert rise.deadline_s == pytest.approx(1.5 * 2.0 * (5.0 / 250.0) ** 0.5 + ANSWER)


def test_a_sense_is_timed_by_its_own_feed_from_where_the_tool_stands():
    """55.5 mm of approach at v mm/min take 55.5·60/v s and v/(60·250) s more."""
    fast = _senses()[0]
    feed = fast.feed / 60.0
    assert fast.deadline_s == pytest.approx(1.5 * (55.5 / feed + feed / 250.0) + ANSWER)


def test_the_slow_sense_goes_a_little_beyond_the_contacts_and_no_further():
    """The plan's reach past the deepest contact taken."""
    story = tell(surface())
    touch = story.session.setup.course.next(())
    for slow in story.ordered(Sense)[1:]:
        assert slow.to == pytest.approx((touch.start.x, touch.start.y, TOP - touch.plan.reach))


def test_a_back_off_goes_the_planned_way_back_from_where_the_tool_came_to_rest():
    """At rest 0.02 mm past the face on paper; at the feed for leaving metal."""
    story = tell(surface())
    plan = story.session.setup.course.next(()).plan
    backs = [c for s, c in zip(story.states, story.commands, strict=True) if s is State.BACKING_OFF]
    assert len(backs) == 3
    for back in backs:
        assert back.to.z == pytest.approx(TOP - 0.02 + plan.back_off)
        assert back.feed == plan.leave_feed


def test_a_back_off_ends_where_the_approach_began_at_the_latest():
    """However long the plan wants it."""
    setup = surface()
    touch = setup.course.next(())
    session, _ = cycle().start(setup)
    session.step = replace(touch, plan=replace(touch.plan, back_off=500.0))
    session.snapshot = replace(paper_at().snapshot(), position=touch.start.towards(touch.end, 54.0))
    assert o.back(session).to == touch.start


def test_the_way_back_has_the_feeds_of_the_way_there():
    """Off the metal at the leaving feed, each leg afterwards as it was made: after the top, the last is a rapid."""
    story = tell(corner())
    outs = [c for s, c in zip(story.states, story.commands, strict=True) if s is State.RETRACTING]
    plan = story.session.setup.course.next(()).plan
    assert outs[0].feed == plan.leave_feed
    assert outs[-1].to.z == FACTS.envelope.high.z


def test_once_all_touches_are_taken_the_way_out_begins_at_the_trails_end():
    """Not at its beginning: the straight line there is nowhere known to be free."""
    session, _ = cycle().start(surface())
    session.snapshot, session.coming = paper_at().snapshot(), Finding(())
    session.trail = (Leg(HERE), Leg(HERE.plus(Position(0.0, 0.0, -10.0))))
    assert o.out(session).to == session.trail[-1].to


def test_a_person_is_given_the_runs_patience():
    story = tell(corner(proof=None, patience_s=77.0))
    asked = story.ordered(Ask)
    assert {ask.deadline_s for ask in asked} == {77.0}
    assert [ask.question for ask in asked] == [
        Question.CLOSE_AT_TIP,
        Question.OPEN,
        Question.CLOSE_AT_FLANK,
        Question.CLEAR,
        Question.RELEASE,
    ]


def test_offsets_are_read_and_written_within_the_time_of_an_answer():
    """Read, written whole, read again; the write carries what stood and what shall stand."""
    paper = paper_at()
    paper.offsets[2] = Position(7.0, 8.0, 9.0)
    story = tell(surface(), paper=paper)
    assert story.ordered(ReadOffset) == [ReadOffset(2, ANSWER)] * 2
    new = Position(7.0, 8.0, CORNER.z)
    (write,) = story.ordered(WriteOffset)
    assert (write.number, write.old, write.deadline_s) == (2, Position(7.0, 8.0, 9.0), ANSWER)
    assert write.new == pytest.approx(new)
    assert dict(write.axes) == pytest.approx({Axis.Z: CORNER.z})


def test_what_is_written_back_are_the_old_values_of_the_touched_axes():
    """The untouched axes are not written at all; what is meant and what stood change places."""
    paper = paper_at()
    paper.offsets[2] = Position(7.0, 8.0, 9.0)
    story = tell(surface(), deviating(State.COMMITTING, "written wrong"), paper=paper)
    first, back = story.ordered(WriteOffset)
    assert back == WriteOffset(2, ((Axis.Z, 9.0),), first.new, first.old, ANSWER)


def test_the_last_order_is_to_finish():
    assert tell(surface()).commands[-1] == Finish()
