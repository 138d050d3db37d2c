"""The virtual controller: motion over virtual time, contact sampling, work offsets, alarms.

A motion is planned whole when it is ordered, contact and all, and is then a pure function of time; whoever asks
in between sees it where it truly is. Nothing here waits: letting time pass is for whoever calls.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly.messages.facts import Guard, MachineFacts, SpindleKnowledge
from gingerly.messages.faults import AlarmActive, ControllerRefused
from gingerly.messages.snapshot import AS_PROGRAMMED, Circuit, InForce, Snapshot, Spindle
from gingerly.uncertainty.dice import drawn
from gingerly_mock.axes import Axes, as_position
from gingerly_mock.clock import VirtualClock
from gingerly_mock.imperfections import FULL_STEP, imperfections
from gingerly_mock.motion import Motion
from gingerly_mock.options import Options
from gingerly_mock.run import Run
from gingerly_mock.solids import EPS
from gingerly_mock.wiring import Wiring
from gingerly_mock.world import Metal, Span, World, chance

NEAREST_TARGET = 0.254
"""A sense to a target nearer than this is an error. Source: NISTIR 6556 (RS274/NGC), 3.5.9.1: 0.254 mm."""

TRAVERSE = "traverse"
SENSE = "sense"


class Machine:
    """The virtual machine as its controller runs it, and as it truly is."""

    def __init__(self, facts: MachineFacts, options: Options, clock: VirtualClock) -> None:
        self.facts = facts
        self.options = options
        self.clock = clock
        self.world = World(options)
        self.wiring = Wiring()
        self._events = chance(options.seed, "events")
        self._draw_habits()
        self._spindle_told = facts.spindle is not SpindleKnowledge.BY_HAND
        self._guarded = facts.guard is not Guard.NONE
        self._low, self._high = facts.envelope.low, facts.envelope.high
        middle = facts.envelope.low.plus(facts.envelope.high).times(0.5)
        start = options.position or Position(middle.x, middle.y, facts.envelope.high.z)
        self.position = self.axes.snap(start)
        self.run: Run | None = None
        self.deepest = 0.0
        """The deepest that the tool was pushed past any surface since the last blank was staged, in mm."""
        self.offsets = dict(options.offsets)
        self.restarts = 0
        self.alarm = ""
        self.homed = True
        self.turning = False
        self.in_force: InForce = AS_PROGRAMMED
        self.circuit_told = facts.circuit_known
        self.alarm_on_miss = facts.alarm_on_miss
        self.runs: deque[Run] = deque(maxlen=options.history)
        self.slide = 0.0
        self._sunk = 0.0
        self._push = ORIGIN
        self.bounce_next = False
        self.at_contact: Callable[[], None] | None = None
        """Called at each contact of a sense, before anybody can see it."""
        self.contacts = 0
        """Contacts of senses since the last blank was staged."""
        self.forget_touch()

    def _draw_habits(self) -> None:
        """Draw what this machine does every time: within its facts, so that the facts are true of it.

        How far below its facts a machine may be (0.4 of the stop reaction, half the backlash) is our own choice.
        """
        facts, options = self.facts, self.options
        dice = chance(options.seed, "machine")
        sample = facts.sample_interval_s if options.sample_s is None else options.sample_s
        latch = dice.uniform(facts.latch_s.low, max(facts.latch_s.low, facts.latch_s.high - sample))
        stop = dice.uniform(0.4, 1.0) * max(0.0, facts.stop_reaction_s - sample)
        plays = Position(*(facts.backlash * dice.uniform(0.5, 1.0) for _ in range(3)))
        true = imperfections(options)
        if true.backlash is not None:
            plays = Position(*(drawn(dice, true.backlash) for _ in range(3)))
        if true.latch_s is not None:
            latch = max(0.0, dice.uniform(true.latch_s.low, true.latch_s.high) - sample / 2.0)
        self.true_spring = drawn(dice, true.spring)
        """How far the tool goes on after it has met metal, before the circuit closes, in mm."""
        self.true_screw = true.screw
        self._screw_rad = tuple(dice.uniform(0.0, 2.0 * math.pi) for _ in range(3))
        self._feels = any((self.true_spring, self.true_screw, options.contact_noise, true.form.u))
        if options.true_backlash is not None:
            plays = Position(options.true_backlash, options.true_backlash, options.true_backlash)
        self.sample_s = sample
        self.latch_lag_s = latch if options.latch_lag_s is None else options.latch_lag_s
        self.stop_delay_s = stop if options.stop_delay_s is None else options.stop_delay_s
        self.axes = Axes(facts.resolution, plays)

    # ---- what it says about itself --------------------------------------------------------------------

    def snapshot(self) -> Snapshot:
        """Return what the controller tells just now, None where it cannot."""
        run, now, facts = self.run, self.clock.now(), self.facts
        if run is not None:
            self.settle()
            run = self.run
        position, touching = self.position, self.touching
        if run is not None:
            position = self.axes.snap(run.position(now - run.began))
            touching = _inside(run.spans, run.motion.travelled(now - run.began))
        circuit: Circuit | None = None
        if self.circuit_told:
            closed = self.wiring.closed(now, position, touching)
            circuit = Circuit.CLOSED if closed else Circuit.OPEN
        spindle: Spindle | None = Spindle.TURNING if self.turning else Spindle.STILL
        return Snapshot(
            position,
            run is None,
            self.restarts,
            self.alarm != "" if facts.alarm_known else None,
            circuit,
            spindle if self._spindle_told else None,
            self.homed,
            self.in_force if facts.in_force_known else None,
            self.alarm,
        )

    @property
    def true_position(self) -> Position:
        """Where the controlled point truly is, the machine standing, in mm."""
        return self.axes.true(self.position)

    # ---- motion ---------------------------------------------------------------------------------------

    def launch(self, kind: str, to: Position, feed: float | None) -> Run:
        """Begin a motion and return it; the clock has not moved yet.

        Raises `AlarmActive` while an alarm stands, and `ControllerRefused` for what no controller would do.
        """
        if self.run is not None:
            self.settle()
        start, wiring, now = self.position, self.wiring, self.clock.now()
        closed = wiring.closed(now, start, self.touching)
        self._check(kind, to, closed)
        target = self.axes.snap(to)
        if self.world.turn_before_next_wall and kind is SENSE and target.z == start.z:
            self.world.turn_to_wall(*self.true_position, direction=target.minus(start))
        dx, dy, dz = target.x - start.x, target.y - start.y, target.z - start.z
        length = math.sqrt(dx * dx + dy * dy + dz * dz)
        way = as_position(Position, (dx / length, dy / length, dz / length)) if length else ORIGIN
        speed = self.facts.rapid_feed if feed is None else min(feed, self.facts.top_feed)
        override = self.in_force.override
        speed_mm_s = speed / 60.0 if override is None or feed is None else speed / 60.0 * override
        run = Run(kind, start, target, way, speed, Motion(length, speed_mm_s, self.facts.acceleration), now)
        run.closed_at_start = closed
        wiring.flaky = False
        wiring.bounce_until = 0.0
        if not length:  # a line without direction crosses nothing: what is touched, stays so
            run.spans = tuple(self._dead_spans(self.true_position))
        elif self.axes.true_to_motor:
            run.spans = self.world.spans(start, way, length)
        else:
            run.spans = self._spans(start, way, length)
        if self._feels and kind is SENSE:
            run.spans = self._felt(run)
        self.run = run
        if kind is SENSE or self._guarded:
            self.plan(run, 0.0)
        return run

    def _check(self, kind: str, to: Position, closed: bool) -> None:
        if self.alarm:
            raise AlarmActive(f"no motion while an alarm stands: {self.alarm}")
        if self.run is not None:
            raise ControllerRefused("a motion is still under way", code="busy")
        (low_x, low_y, low_z), (high_x, high_y, high_z) = self._low, self._high
        x, y, z = to
        if not (low_x <= x <= high_x and low_y <= y <= high_y and low_z <= z <= high_z):
            beyond = self.facts.envelope.excess(to)
            if beyond is not None:
                axis, excess = beyond
                raise ControllerRefused(f"the target lies {excess:.3f} mm beyond {axis.name}'s limit", code="limit")
        if kind is SENSE:
            self._check_sense(to, closed)

    def _check_sense(self, to: Position, closed: bool) -> None:
        """Refuse what the RS274/NGC report calls errors (NISTIR 6556, 3.5.9.1 and 4.3.6.6)."""
        distance = self.position.distance(to)
        if distance < NEAREST_TARGET:
            raise ControllerRefused(
                f"the target is {distance:.4f} mm away and must be {NEAREST_TARGET} mm or more", code="too near"
            )
        if self.turning:
            raise ControllerRefused("the spindle turns", code="spindle")
        if closed:
            raise ControllerRefused("the circuit is closed before the motion begins", code="closed")

    def _spans(self, start: Position, way: Position, length: float) -> tuple[Span, ...]:
        axes = self.axes
        # A lagging tool stands half the play below its motor at most; above everything, nothing is met.
        if start.z + min(0.0, way.z * length) + axes.slip.z - axes.play.z / 2.0 >= self.world.height:
            return ()
        found: list[Span] = []
        for begin, end, place, true_way in self.axes.stretches(start, way, length):
            if true_way == ORIGIN:
                pieces: Sequence[Span] = self._dead_spans(place)
            else:
                pieces = self.world.spans(place, true_way, end - begin)
            for low, high, metal in pieces:
                # The line of one stretch is endless; only its own part belongs to the move.
                first = low if begin == 0.0 else begin + max(0.0, low)
                last = begin + high if end == length else min(end, begin + high)
                _append(found, first, last, metal)
        return tuple(sorted(found))

    def _felt(self, run: Run) -> tuple[Span, ...]:
        """Return where metal is felt: spring, form, the screw's own error and noise shift where it begins."""
        if not run.spans:
            return run.spans
        noise = self._events.gauss(0.0, self.options.contact_noise) if self.options.contact_noise else 0.0
        late = self.true_spring + noise + self.world.bulge(run.way)
        turns = 2.0 * math.pi / (FULL_STEP * self.facts.resolution)
        # Only the axes that move have a part in it.
        moving = [(way, x, phase) for x, way, phase in zip(run.start, run.way, self._screw_rad, strict=True) if way]

        def felt(low: float) -> float:
            if low <= 0.0 or not self.true_screw:
                return low + late if low > 0.0 else low
            error = sum(way * math.sin((x + way * low) * turns + phase) for way, x, phase in moving)
            return low + late - self.true_screw * error

        return tuple((felt(low), high, metal) for low, high, metal in run.spans)

    def _dead_spans(self, place: Position) -> list[Span]:
        stock, plate = self.world.touching(*place)
        if not (stock or plate):
            return []
        touching = [metal for metal, closed in ((Metal.STOCK, stock), (Metal.PLATE, plate)) if closed]
        return [(-math.inf, math.inf, metal) for metal in touching]

    def plan(self, run: Run, since_s: float) -> None:
        """Work out when the circuit will be seen closed from `since_s` on, and brake the motion accordingly.

        A sense is stopped by the controller; a traverse by whatever guards it, and only once the circuit was
        open. May be asked again when something has changed before a contact was seen.
        """
        if run.seen_s <= since_s:
            return
        guard = Guard.SENSED if run.kind is SENSE else self.facts.guard
        if guard is Guard.NONE:
            return
        nominal = run.nominal
        every = self.sample_s if guard is Guard.SENSED else self.facts.look_interval_s
        run.motion, run.seen_s = nominal, math.inf
        for closes_s, opens_s in self._closings(run, since_s):
            # A controller looks once more when a motion has ended, so nothing that still touches is overlooked.
            seen = min(nominal.end_s, _next_sample(closes_s, every, self._events.random() * every))
            if seen <= opens_s:
                run.seen_s = seen
                run.motion = nominal.brake(seen + self.stop_delay_s)
                return

    def _closings(self, run: Run, since_s: float) -> list[tuple[float, float]]:
        """Return when the circuit closes and opens again during the move, from `since_s` on, in order."""
        found, nominal, now = [], run.nominal, run.began + since_s
        wiring = self.wiring
        if wiring.forced(now, run.position(since_s)) and not run.closed_at_start:
            lasts = wiring.noise_until - run.began if wiring.noise_until > now else math.inf
            found.append((since_s, lasts))
        if wiring.live:
            done = nominal.travelled(since_s)
            for low, high, metal in run.spans:
                if metal and low >= 0.0 and high > done:
                    opens = math.inf if high >= nominal.length else nominal.time_at(high)
                    found.append((max(since_s, nominal.time_at(low)), opens))
        return found

    def plan_again(self, run: Run) -> None:
        """Work a motion under way out again, after something in the world has changed."""
        run.spans = self._spans(run.start, run.way, run.nominal.length)
        self.plan(run, self.clock.now() - run.began)

    def settle(self) -> None:
        """Bring a motion to its end if its time is up."""
        run = self.run
        if run is not None and self.clock.now() >= run.began + run.motion.end_s - 1e-12:
            self.finish(run)

    def finish(self, run: Run) -> None:
        """Let a motion end where its trajectory ends: on a step, in touch with whatever is there."""
        self.run = None
        motion, start = run.motion, run.start
        if motion is run.nominal:
            rest, moved = run.target, motion.length
        else:
            rest = self.axes.rest(start, run.way, motion.length)
            moved = start.distance(rest)
        self.position = run.end = rest
        if not self.axes.true_to_motor:
            self.axes.follow(rest.minus(start))
        self.touching = False
        if run.spans or self._sunk:
            run.deepened = self._note_depth(run, moved)
            self.touching = _inside(run.spans, moved)
        if run.kind is SENSE:
            self._note_sense(run)
        scene = self.world.scene
        if scene is not None and scene.lead_off_after is not None and not self.touching:
            self.wiring.lead_on = self.wiring.lead_on and self.contacts < scene.lead_off_after
        run.closed_at_end = self.wiring.closed(run.began + motion.end_s, rest, self.touching)
        self.runs.append(run)

    def latched(self, run: Run) -> Position:
        """Return the position that a sense latched: at the sample plus the machine's own lag, on a step."""
        return self.axes.snap(run.position(run.seen_s + self.latch_lag_s))

    def stop(self) -> Run | None:
        """Make a motion brake; return it, or None where the machine stands already."""
        self.settle()
        run = self.run
        if run is not None:
            run.motion = run.motion.brake(self.clock.now() - run.began + self.stop_delay_s)
        return run

    def halt(self) -> None:
        """Stop a motion dead, as a restart does, and let it end there."""
        self.settle()
        run = self.run
        if run is not None:
            run.motion = run.motion.halt(self.clock.now() - run.began)
            self.finish(run)

    # ---- depth and touch ------------------------------------------------------------------------------

    def forget_touch(self) -> None:
        """Look afresh at what the tool at rest touches, after something was moved; it counts as not sunk in."""
        if self.run is not None:
            return
        self.touching = any(self.world.touching(*self.true_position))
        self._sunk = 0.0
        self._push = ORIGIN

    def begin_blank(self) -> None:
        """Start the counts that belong to one blank."""
        self.contacts = 0
        self.deepest = 0.0
        self.forget_touch()

    def _note_depth(self, run: Run, moved: float) -> bool:
        """Keep the depth up to date; return whether the tool was driven further into what it touched."""
        sunk, deepened = 0.0, False
        for low, high, _ in run.spans:
            if low >= moved:
                continue
            depth = min(moved, high) - max(low, 0.0)
            if low < 0.0:
                # It began inside: what counts is how far it went on along the push that brought it there.
                onward = depth * run.way.dot(self._push)
                deepened = deepened or onward > EPS
                depth = max(0.0, self._sunk + onward)
            elif depth > sunk:
                self._push = run.way
            self.deepest = max(self.deepest, depth)
            if high > moved:
                sunk = max(sunk, depth)
        self._sunk = sunk
        return deepened

    def _note_sense(self, run: Run) -> None:
        if run.seen_s == math.inf:
            if self.alarm_on_miss and run.motion is run.nominal:
                self.alarm = "no contact"
            return
        self.contacts += 1
        self.wiring.flaky, self.bounce_next = self.bounce_next, False
        bounce = self.options.bounce_s
        if bounce and self.touching:
            seen = run.began + run.seen_s
            lasts = bounce * self._events.random()
            self.wiring.bounce_from = seen + lasts * self._events.random()
            self.wiring.bounce_until = seen + lasts
        if self.slide:
            self.world.push_plate(run.way, self.slide)
        if self.at_contact is not None:
            self.at_contact()

    # ---- work offsets ---------------------------------------------------------------------------------

    def write(self, number: int, values: dict[Axis, float]) -> None:
        """Store the named axes of a work offset, rounded as the controller keeps them."""
        per_mm = 1.0 / self.facts.offset_resolution if self.facts.offset_resolution else 0.0
        kept = {axis: round(value * per_mm) / per_mm if per_mm else value for axis, value in values.items()}
        self.offsets[number] = self.offsets[number].with_axes(kept)


def _next_sample(at_s: float, every: float, phase: float) -> float:
    if every <= 0.0:
        return at_s
    return phase + math.ceil((at_s - phase) / every) * every


def _inside(spans: tuple[Span, ...], moved: float) -> bool:
    """Return whether a point of the line lies inside conducting metal, by more than float noise."""
    for low, high, metal in spans:  # noqa: SIM110 (asked thousands of times: a generator costs twice as much)
        if metal and low + EPS < moved < high - EPS:
            return True
    return False


def _append(found: list[Span], low: float, high: float, metal: int) -> None:
    """Add a span, or lengthen the one of the same metal that it continues."""
    if low >= high:
        return
    for at, (first, last, kind) in enumerate(found):
        if kind == metal and first <= low <= last + EPS:
            found[at] = (first, max(last, high), kind)
            return
    found.append((low, high, metal))
