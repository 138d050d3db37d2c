"""What the numbers of contacts and offsets say: pure arithmetic on what the session remembers.

Contacts are judged by their distance along the line of approach, corrected for the lateness at their feed: a
position latched t seconds after the touch at speed v lies v·t too far on.
"""

from __future__ import annotations

from itertools import pairwise

from gingerly.cycle.session import Session
from gingerly.geometry import Axis, Position, distance_to_line
from gingerly.kinematics import speed_mm_s
from gingerly.messages.touches import Contact, Face, Touch


def measured(touch: Touch, position: Position, *, feed: float) -> Contact:
    """Return a contact latched at `position` (mm) at `feed` mm/min, with its corrected distance in mm."""
    along = position.minus(touch.start).dot(touch.direction)
    return Contact(position, feed, along - speed_mm_s(feed) * touch.plan.latch_s)


def is_early(session: Session) -> bool:
    """Return whether the contact just met lies before its window."""
    assert session.met is not None
    return session.met.distance < session.touch.near - session.facts.position_slack


def fits(session: Session) -> bool:
    """Return whether the contact just met can be what was looked for.

    It lies on the line of approach and not beyond its window, and the tool came to rest not before it and not
    further past it than the overtravel.
    """
    met, touch, slack = session.met, session.touch, session.facts.position_slack
    assert met is not None
    assert session.snapshot is not None
    rest = session.snapshot.position
    ran_on = rest.minus(met.position).dot(touch.direction)
    return (
        distance_to_line(met.position, touch.start, touch.direction) <= slack
        and distance_to_line(rest, touch.start, touch.direction) <= slack
        and met.distance <= touch.far + slack
        and -slack <= ran_on <= touch.plan.overtravel + slack
    )


def counted(session: Session) -> tuple[Contact, ...]:
    """Return the contacts that count: the latest slow ones, as many as planned, or the single fast one."""
    wanted = session.touch.plan.retouches
    return session.contacts[1:][-wanted:] if wanted else session.contacts[:1]


def agree(session: Session) -> bool:
    """Return whether the contacts that count agree.

    They lie within the plan's spread of each other and do not march. The fast one differs from their mean by
    no more than the spread and what the facts leave open of the latch: (v_fast − v_slow) × its half width.
    """
    plan = session.touch.plan
    if plan.retouches == 0:
        return True
    slow = [contact.distance for contact in counted(session)]
    if max(slow) - min(slow) > plan.spread or is_marching(session):
        return False
    fast, latch = session.contacts[0], session.facts.latch_s
    open_s = max(latch.high - plan.latch_s, plan.latch_s - latch.low)
    open_mm = (speed_mm_s(fast.feed) - speed_mm_s(plan.slow_feed)) * open_s
    return abs(fast.distance - sum(slow) / len(slow)) <= plan.spread + open_mm


def is_marching(session: Session) -> bool:
    """Return whether the slow contacts, three at least, each lie further along, by more than the spread in all."""
    slow = [contact.distance for contact in session.contacts[1:]]
    steps = [later - former for former, later in pairwise(slow)]
    if len(steps) < 2:
        return False
    return all(step > 0.0 for step in steps) and slow[-1] - slow[0] > session.touch.plan.spread


def concluded(session: Session) -> Face:
    """Return the face that the contacts show: the mean distance of those that count, on the line of approach.

    Where the plan says so, the fast contact and that mean lead on to the place at no speed: a lateness common to
    both feeds v₁ > v₂ drops out of d₂ − (d₁ − d₂)·v₂/(v₁ − v₂).
    """
    touch, used = session.touch, counted(session)
    distance = sum(contact.distance for contact in used) / len(used)
    fast = session.contacts[0]
    if touch.plan.extrapolated and fast.feed > used[0].feed:
        distance -= (fast.distance - distance) * used[0].feed / (fast.feed - used[0].feed)
    return Face(touch.name, touch.start.plus(touch.direction.times(distance)), touch.direction, session.contacts)


def reads_as_meant(session: Session, origin: Position) -> bool:
    """Return whether a work offset reads as meant on every axis, to within its storage rounding."""
    return is_same_origin(session, origin, session.work.new)


def is_same_origin(session: Session, origin: Position, other: Position | None) -> bool:
    """Return whether two origins are the same to within the rounding with which offsets are stored."""
    if other is None:
        return False
    # Storage rounds by half a step at most; the other quarter is for sums in floating point. Our own choice.
    rounding = 0.75 * session.facts.offset_resolution
    return all(abs(origin[axis] - other[axis]) <= rounding for axis in Axis)
