"""Every source of doubt about one face, with the sign that the metal gives it.

A face is touched along `inward`, and face = controlled point + inward·(tool radius + lip + gap + …). A source's
sensitivity is how the face's *true* coordinate grows with the source's amount.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from gingerly.budgets.doubts import EITHER, LEAST_BACKLASH, Doubts
from gingerly.budgets.touched import TouchedFace
from gingerly.geometry import Axis
from gingerly.kinematics import speed_mm_s
from gingerly.messages.facts import MachineFacts
from gingerly.messages.touches import TouchPlan
from gingerly.statistics.rounding import rounding_kept
from gingerly.statistics.summary import Pooled
from gingerly.statistics.tails import f_tail
from gingerly.uncertainty.bounded import Flat, Triangular, TwoValued
from gingerly.uncertainty.budget import Source
from gingerly.uncertainty.shapes import Normal, Shape, Student

ONE_IN = 100
"""How rarely chance alone may pass for scatter that the model does not explain. Our own choice."""

MANY = 1_000_000
"""Degrees of freedom of what is known from facts: as good as infinitely many. Our own choice."""


def of_the_machine(face: TouchedFace, facts: MachineFacts, doubts: Doubts) -> Iterator[Source]:
    """Yield what the machine leaves open: scatter, rounding, lateness, screw, backlash, homing."""
    yield from _scatter(face, facts)
    if not _is_extrapolated(face.plan):
        left = _lateness(face.plan, facts, doubts)
        yield _common("reaction time left over", left, -face.inward * speed_mm_s(_feed(face.plan)), "reaction time")
    amount = doubts.backlash or Flat.between(LEAST_BACKLASH * facts.backlash, facts.backlash)
    rounding = Flat(facts.offset_resolution / 2.0)
    for axis, share in face.parts:
        yield Source(name="report rounding", shape=rounding, sensitivity=share)
        yield Source(name="screw within a full step", shape=doubts.screw, sensitivity=share)
        yield from _backlash(axis, share, face.inward, amount, doubts.approach[axis])
        if doubts.rehoming.u > 0.0:
            yield _common(f"{axis.name} re-homing", doubts.rehoming, share, f"{axis.name} re-homing")


def of_the_storage(facts: MachineFacts) -> Source:
    """Return what is open in a coordinate because a work offset keeps it rounded: once, whatever it is made of."""
    return Source(name="storage rounding", shape=Flat(facts.offset_resolution / 2.0))


def _lateness(plan: TouchPlan, facts: MachineFacts, doubts: Doubts) -> Shape:
    """Return by how many seconds the mean lateness of a latch may differ from what the plan corrects for.

    The facts bound every single latch. Of that range the sampling takes its own interval T, anew at each
    contact, and that counts as latching; what is left for the mean is narrower by T/2 at either end.
    """
    low, high = facts.latch_s.low, facts.latch_s.high
    if doubts.latch_s is not None:
        low, high = doubts.latch_s.low, doubts.latch_s.high
    else:
        half = min(facts.sample_interval_s / 2.0, facts.latch_s.half_width)
        low, high = low + half, high - half
    return Flat.between(low - plan.latch_s, high - plan.latch_s)


def _backlash(axis: Axis, share: float, inward: int, amount: Shape, approach: int) -> Iterator[Source]:
    """Yield what a backlash B means for work approached along s, where the touch went along d: B·(s − d)/2.

    For s = d nothing, for s = −d the whole B. With s unknown, −d·B/2 and beside it s·B/2, which is either of
    two values; what is unknown of B acts through both. s is the same for both faces of a slot, so that its part
    cancels in the width and stays in the middle. `share` is this axis' share in the coordinate.
    """
    went = inward if share > 0.0 else -inward
    if amount.middle == 0.0 or approach == went:
        return
    name, key = f"{axis.name} backlash", f"{axis.name} side"
    yield _common(name, amount, share * (approach - went) / 2.0, name)
    if approach == EITHER:
        yield _common(f"{name}, which side", TwoValued(abs(amount.middle) / 2.0), share, key)
        yield _common(f"{name}, how much", amount.centred(), 0.5 * share, f"{key}, how much")


def _feed(plan: TouchPlan) -> float:
    return plan.slow_feed if plan.retouches else plan.fast_feed


def _is_extrapolated(plan: TouchPlan) -> bool:
    return plan.extrapolated and plan.retouches > 0 and plan.fast_feed > plan.slow_feed


def _scatter(face: TouchedFace, facts: MachineFacts) -> Iterator[Source]:
    """Yield the observed scatter of the mean, or what latching and resolution explain: the larger, not both.

    A contact latched at speed v by samples T apart lies anywhere within v·T, which repeats average out; what it is
    rounded by does so only as far as that scatters over whole steps (`rounding_kept`). Extrapolated to no speed,
    the mean at v₂ counts v₁/(v₁ − v₂) times and the single contact at v₁ v₂/(v₁ − v₂) times.
    """
    plan, repeats = face.plan, max(1, face.plan.retouches)
    slow, fast = (speed_mm_s(feed) * facts.sample_interval_s for feed in (_feed(plan), plan.fast_feed))
    mean_counts, fast_counts = 1.0, 0.0
    if _is_extrapolated(plan):
        mean_counts, fast_counts = fast / (fast - slow), slow / (fast - slow)
    rounded = facts.resolution / 2.0 * rounding_kept(slow / facts.resolution, repeats)
    model = math.hypot(slow / math.sqrt(12.0 * repeats), rounded / math.sqrt(3.0))
    seen = face.observed
    observed = seen is not None and is_beyond(seen, model, repeats)
    if observed and seen is not None:
        scatter = Student(seen.standard_deviation / math.sqrt(repeats), seen.dof)
        yield Source(name=f"scatter observed, mean of {repeats}", shape=scatter, sensitivity=mean_counts)
    else:
        mean = _mean_of_flat(slow / 2.0, repeats)
        yield Source(name=f"latching, mean of {repeats}", shape=mean, sensitivity=mean_counts)
        for _, share in face.parts:
            yield Source(name="resolution", shape=Flat(rounded), sensitivity=share * mean_counts)
    if fast_counts:
        yield Source(name="latching at the approach", shape=Flat(fast / 2.0), sensitivity=fast_counts)
        alone = Student(seen.standard_deviation, seen.dof) if observed and seen else Flat(facts.resolution / 2.0)
        yield Source(name="the approach's single contact", shape=alone, sensitivity=fast_counts)


def is_beyond(seen: Pooled, model: float, repeats: int) -> bool:
    """Return whether the scatter seen, of means of `repeats`, is more than a `model` (mm) explains, not by chance.

    The variance seen over that of the model follows F with ν and ∞ degrees of freedom; a chance of 1 in
    `ONE_IN` or less is none. Without this test a lucky pair of contacts would spoil every second budget.
    """
    ratio = seen.standard_deviation**2 / repeats / model**2
    return ratio > 1.0 and f_tail(ratio, seen.dof, MANY) < 1.0 / ONE_IN


def _mean_of_flat(half: float, count: int) -> Shape:
    """Return the shape of a mean of `count` flat values within ±`half`: normal in all but name from three on."""
    if count <= 2:
        return Flat(half) if count == 1 else Triangular(half)
    return Normal(half / math.sqrt(3.0 * count))


def of_the_metal(face: TouchedFace, doubts: Doubts) -> Iterator[Source]:
    """Yield what tool, plate and stock leave open: radius, runout, thickness, seating, form, skew, growth."""
    inward = face.inward / abs(face.lean)
    # What yields before the circuit closes lets the tool go too far inward.
    yield _common("spring", doubts.spring, -inward, "spring")
    # A lip sits on the stock's edge once, however often it is touched.
    once = f" at lip {face.lip}" if face.lip is not None else None
    yield Source(name="form of the face", shape=doubts.form, sensitivity=inward, shared=once and f"form{once}")
    if face.lip is not None or face.plate:
        yield Source(name="seating", shape=doubts.seating, sensitivity=inward, shared=once and f"seating{once}")
    if face.axis is Axis.Z:
        if face.plate:
            yield _common("plate thickness", doubts.thickness, inward, "plate thickness")
        # A longer spindle brings the tip down: read at the controlled point, the face then lies higher.
        yield Source(name="spindle growth", shape=doubts.spindle_growth)
    else:
        yield from _of_the_wall(face, doubts)


def _of_the_wall(face: TouchedFace, doubts: Doubts) -> Iterator[Source]:
    inward = face.inward / abs(face.lean)
    yield _common("tool radius", doubts.radius, inward, "tool radius")
    yield Source(
        name="runout",
        shape=doubts.runout,
        sensitivity=face.across[0],
        across=face.across[1],
        shared="runout",
        batch=True,
    )
    if face.shortfall > 0.0:
        yield Source(name="flutes reading short", shape=Flat.between(0.0, face.shortfall), sensitivity=-inward)
    if face.lip is not None:
        yield _common(f"lip {face.lip}", doubts.lip, inward, f"lip {face.lip}")
    if face.beside != 0.0:
        # Turned by θ about the corner, a wall across X lies −θ·y further, one across Y +θ·x: the corner back again.
        arm = face.beside if face.axis is Axis.X else -face.beside
        yield Source(name="skew", shape=doubts.skew, sensitivity=arm, shared="skew")


def _common(name: str, shape: Shape, sensitivity: float, shared: str) -> Source:
    """Return a source that stays the same for a whole batch."""
    return Source(name=name, shape=shape, sensitivity=sensitivity, shared=shared, batch=True)
