"""The budget of what a touch found: every source of doubt of a face, taken from facts, plan, contacts and doubts.

`Doubts` holds, in one place, what nobody measured: limits of plate, tool, seating and spindle, with honest
defaults for home-made parts. Whoever knows better says so there.

Signs. A face is touched along `inward` (+1 or −1 on its axis), and

    face = controlled point at contact + inward·(tool radius + lip + gap + …).

A source's sensitivity is how the face's *true* coordinate grows with the source's amount, so that what acts
alike on two opposite faces (the radius) cancels in their middle, and what acts along the axis (runout) does not.
Nothing here moves or knows an event loop.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gingerly.geometry import Axis, Limits
from gingerly.kinematics import speed_mm_s
from gingerly.messages.facts import MachineFacts
from gingerly.messages.touches import Face, TouchPlan
from gingerly.statistics.summary import Pooled, pooled
from gingerly.uncertainty.budget import Budget, Source, combined
from gingerly.uncertainty.shapes import Arcsine, Flat, Shape, Student, Triangular

ROUNDINGS = 2
"""A coordinate is rounded when it is reported and again when it is stored."""


def _around(half: float) -> Limits:
    return Limits(-half, half)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """Limits of what is not measured at the touch itself; mm, radians and seconds. Defaults: our own choice.

    `radius`: real less stated tool radius. `spring`: how far tool, plate or edge yield before the circuit closes.
    `runout`: distance of the tool's axis from the spindle's (not the reading of an indicator, which is twice
    that); it keeps its direction while the tool stays in. `thickness` and `lip`: real less stated metal of the
    plate. `seating`: gap between plate and stock, one-sided. `form`: the touched edge or face, real less ideal.
    `skew`: rotation of the stock about Z. `screw`: amplitude of the error within a full motor step.
    `spindle_growth`: by how much the spindle grows longer until the cut, one-sided, for Z. `rehoming`: what
    homing may differ by, if the machine is homed between this and the cut.
    `either_side`: whether the work may be approached from the other side than the touch, so that the machine's
    backlash counts. `calibrated_latch_s` limits the latch's lateness once it was measured; else the facts do.
    """

    radius: Limits = _around(0.005)
    spring: Limits = _around(0.002)
    runout: float = 0.015
    thickness: Limits = _around(0.01)
    lip: Limits = _around(0.01)
    seating: Limits = Limits(0.0, 0.02)
    form: Limits = _around(0.01)
    skew: Limits = _around(math.radians(0.1))
    screw: float = 0.00125
    spindle_growth: Limits = Limits(0.0, 0.01)
    rehoming: Limits = _around(0.0)
    either_side: bool = True
    calibrated_latch_s: Limits | None = None

    def __post_init__(self) -> None:
        for name in ("runout", "screw"):
            if not (math.isfinite(value := getattr(self, name)) and value >= 0.0):
                raise ValueError(f"{name} must be finite and not below 0, not {value}")


DEFAULTS = Doubts()


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedFace:
    """What a budget needs to know of one touch.

    `axis` and `inward` (+1 or −1) say which way it went. `plan` holds the feeds and repeats, `observed` the
    scatter of single contacts pooled over this machine and axis, where there are any. `lip` names the plate's
    lip that was touched; `plate` says that its flat was (Z). `beside` is the distance in mm along the wall from
    the corner to the touch, with its sign, which skew acts on. `shortfall` is by how much stationary flutes may
    read short (`Tool.flute_shortfall`).
    """

    axis: Axis
    inward: int
    plan: TouchPlan
    observed: Pooled | None = None
    lip: str | None = None
    plate: bool = False
    beside: float = 0.0
    shortfall: float = 0.0

    def __post_init__(self) -> None:
        if self.inward not in (-1, 1):
            raise ValueError(f"a face is touched along +1 or −1, not {self.inward}")


def face_budget(face: TouchedFace, facts: MachineFacts, doubts: Doubts = DEFAULTS) -> Budget:
    """Return the budget in mm of one face's coordinate, its sources signed as the module says."""
    return Budget(tuple(_of_the_machine(face, facts, doubts)) + tuple(_of_the_metal(face, doubts)))


def middle_budget(low: Budget, high: Budget) -> Budget:
    """Return the budget of the middle between two opposite faces: the tool's radius cancels, runout does not."""
    return combined(((0.5, low), (0.5, high)))


def width_budget(low: Budget, high: Budget) -> Budget:
    """Return the budget of the distance between two opposite faces: runout cancels, the radius counts twice."""
    return combined(((-1.0, low), (1.0, high)))


def pooled_scatter(faces: Sequence[Face], earlier: Sequence[Sequence[float]] = ()) -> Pooled | None:
    """Return the scatter of single slow contacts, pooled over faces of one machine and axis (mm).

    `earlier` adds contacts' distances from earlier touches of the same machine and axis: three contacts alone
    have two degrees of freedom, and t at 95 % is then 4.3. None where no face has two slow contacts.
    """
    samples = [[contact.distance for contact in face.contacts[1:]] for face in faces]
    usable = [sample for sample in (*samples, *earlier) if len(sample) >= 2]
    return pooled(usable) if usable else None


# ---- sources ------------------------------------------------------------------------------------------------


def _of_the_machine(face: TouchedFace, facts: MachineFacts, doubts: Doubts) -> Iterator[Source]:
    axis = face.axis.name
    yield from _scatter(face, facts)
    step = facts.offset_resolution
    yield Source(name="report and storage rounding", shape=Triangular(ROUNDINGS * step / 2.0))
    latch = doubts.calibrated_latch_s or facts.latch_s
    left = Flat.between(latch.low - face.plan.latch_s, latch.high - face.plan.latch_s)
    speed = speed_mm_s(_feed(face.plan))
    yield Source(
        name="reaction time left over",
        shape=left,
        sensitivity=-face.inward * speed,
        shared="reaction time",
        batch=True,
    )
    yield Source(name="screw within a full step", shape=Arcsine(doubts.screw))
    if doubts.either_side and facts.backlash > 0.0:
        gap = Flat.between(0.0, facts.backlash)
        yield _signed(f"{axis} backlash, work from the other side", gap, -face.inward, f"{axis} backlash")
    if doubts.rehoming.low != doubts.rehoming.high:
        yield _signed(f"{axis} re-homing", _flat(doubts.rehoming), 1, f"{axis} re-homing")


def _feed(plan: TouchPlan) -> float:
    return plan.slow_feed if plan.retouches else plan.fast_feed


def _scatter(face: TouchedFace, facts: MachineFacts) -> Iterator[Source]:
    """Yield the observed scatter of the mean, or what latching and resolution explain: the larger, not both.

    A contact latched at speed v by samples T apart lies anywhere within v·T, which repeats average out; within
    one step of resolution they may all fall on the same place, so that they do not.
    """
    repeats = max(1, face.plan.retouches)
    latching = speed_mm_s(_feed(face.plan)) * facts.sample_interval_s
    model = math.hypot(latching / math.sqrt(12.0 * repeats), facts.resolution / math.sqrt(12.0))
    seen = face.observed
    if seen is not None and seen.standard_deviation / math.sqrt(repeats) > model:
        shape = Student(seen.standard_deviation / math.sqrt(repeats), seen.dof)
        yield Source(name=f"scatter observed, mean of {repeats}", shape=shape)
        return
    each = Flat(latching / 2.0 / repeats)
    for number in range(1, repeats + 1):
        yield Source(name=f"latching, contact {number}", shape=each)
    yield Source(name="resolution", shape=Flat(facts.resolution / 2.0))


def _of_the_metal(face: TouchedFace, doubts: Doubts) -> Iterator[Source]:
    inward = face.inward
    yield _signed("spring", _flat(doubts.spring), inward, "spring")
    yield Source(name="form of the face", shape=_flat(doubts.form), sensitivity=inward)
    if face.lip is not None or face.plate:
        yield Source(name="seating", shape=_flat(doubts.seating), sensitivity=inward)
    if face.axis is Axis.Z:
        yield from _of_the_top(face, doubts)
    else:
        yield from _of_the_wall(face, doubts)


def _of_the_top(face: TouchedFace, doubts: Doubts) -> Iterator[Source]:
    if face.plate:
        yield _signed("plate thickness", _flat(doubts.thickness), face.inward, "plate thickness")
    # A longer spindle brings the tip down: the face's coordinate, as the controlled point reads it, rises.
    yield _signed("spindle growth", _flat(doubts.spindle_growth), 1, None)


def _of_the_wall(face: TouchedFace, doubts: Doubts) -> Iterator[Source]:
    inward = face.inward
    yield _signed("tool radius", _flat(doubts.radius), inward, "tool radius")
    yield Source(
        name="runout",
        shape=Arcsine(doubts.runout),
        sensitivity=1.0 if face.axis is Axis.X else 0.0,
        across=1.0 if face.axis is Axis.Y else 0.0,
        shared="runout",
        batch=True,
    )
    if face.shortfall > 0.0:
        yield Source(name="flutes reading short", shape=Flat.between(0.0, face.shortfall), sensitivity=-inward)
    if face.lip is not None:
        yield _signed(f"lip {face.lip}", _flat(doubts.lip), inward, f"lip {face.lip}")
    if face.beside != 0.0:
        # Turned by θ about the corner, a wall across X lies further by −θ·y, one across Y by +θ·x.
        arm = -face.beside if face.axis is Axis.X else face.beside
        yield Source(name="skew", shape=_flat(doubts.skew), sensitivity=-arm, shared="skew")


def _flat(limits: Limits) -> Flat:
    return Flat.between(limits.low, limits.high)


def _signed(name: str, shape: Shape, sign: float, shared: str | None) -> Source:
    """Return a source that stays the same for a whole batch, if it is shared at all."""
    return Source(name=name, shape=shape, sensitivity=sign, shared=shared, batch=shared is not None)
