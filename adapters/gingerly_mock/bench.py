"""The virtual machine with its table, its operator and its happenings, as tests see it: the side of the truth.

Nothing here is part of the library's contract but `stage`, `operator`, `clock` and `deepest_penetration`.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping
from typing import Any

from gingerly.driver.adapter import Scene
from gingerly.geometry import Axis, Position
from gingerly.messages.commands import Question
from gingerly.messages.facts import MachineFacts
from gingerly.messages.faults import ControllerRefused
from gingerly_mock.clock import VirtualClock
from gingerly_mock.faults import Happening, Schedule, What
from gingerly_mock.features import Feature
from gingerly_mock.hands import do
from gingerly_mock.machine import Machine
from gingerly_mock.memory import Memory, Remembered
from gingerly_mock.mishaps import suffer
from gingerly_mock.operator import SimulatedOperator
from gingerly_mock.options import parse
from gingerly_mock.truth import CallMade, MotionMade

TOUCHES_FOR_S = 1000.0
"""How long a person keeps lead and plate together in a stop test, at the most, in virtual seconds: our own choice."""


class Bench:
    """A machine that exists in memory only, whoever is in front of it, and what truly happens there."""

    def __init__(self, **options: Any) -> None:
        self._facts, self._options = parse(options)
        self._clock = VirtualClock()
        self._schedule = Schedule(self._options.faults)
        self._machine = Machine(self._facts, self._options, self._clock)
        self._machine.at_contact = self._note_contact
        self._operator = SimulatedOperator(self._options.operator, self._clock, self._do)
        self._lost = False
        self._memory = Memory(self._options.memory) if self._options.memory is not None else None
        if self._memory is not None:
            self._recall(self._memory.recalled())
        self._log: deque[tuple[float, str, tuple[object, ...], object]] = deque(maxlen=self._options.history)
        self._stand()

    def _recall(self, kept: Remembered | None) -> None:
        """Go on as the controller was left."""
        if kept is None:
            return
        machine = self._machine
        machine.position = machine.axes.snap(kept.position)
        machine.offsets = dict(kept.offsets)
        machine.restarts, machine.homed = kept.restarts, kept.homed
        machine.world.first_tool = kept.first_tool

    def _remember(self) -> None:
        """Keep what outlives this process; raises `ControllerRefused` where that cannot be."""
        if self._memory is None:
            return
        machine = self._machine
        try:
            self._memory.keep(
                Remembered(
                    position=machine.position,
                    offsets=dict(machine.offsets),
                    restarts=machine.restarts,
                    homed=machine.homed,
                    first_tool=machine.world.first_tool,
                )
            )
        except OSError as error:
            what = f"its memory {str(self._memory.path)!r} cannot be kept: {error.strerror or error}"
            raise ControllerRefused(what, code="memory") from error

    @property
    def facts(self) -> MachineFacts:
        """What is known of the virtual machine."""
        return self._facts

    @property
    def clock(self) -> VirtualClock:
        """The virtual clock that this machine lives by."""
        return self._clock

    @property
    def operator(self) -> SimulatedOperator:
        """Whoever stands at the virtual machine."""
        return self._operator

    # ---- the truth ------------------------------------------------------------------------------------

    def stage(self, scene: Scene) -> Position:
        """Return where the stock's corner truly is (mm), after clamping the scene's blank and loading its tool.

        The test lead is on, the plate seated, and the counts per blank begin anew. Raises `RuntimeError` while a
        motion is under way.
        """
        machine = self._machine
        machine.settle()
        if machine.run is not None:
            raise RuntimeError(f"cannot stage {scene.name!r} while a motion is under way")
        corner = machine.world.stage(scene)
        machine.wiring.connect()
        machine.wiring.lead_on = scene.lead_off_after != 0
        machine.slide = 0.0
        self._schedule.begin_scene(scene.name)
        self._stand()
        machine.begin_blank()
        self._remember()
        return corner

    def mill(self, feature: Feature) -> None:
        """Give the blank that was staged last a feature; raises `RuntimeError` while a motion is under way."""
        self._machine.settle()
        if self._machine.run is not None:
            raise RuntimeError("cannot mill while a motion is under way")
        self._machine.world.mill(feature)
        self._machine.forget_touch()

    @property
    def true_corner(self) -> Position:
        """Where the staged stock's corner truly is, as the controlled point for the tool now loaded, in mm."""
        return self._machine.world.true_corner

    @property
    def true_faces(self) -> dict[Axis, float]:
        """The staged stock's true faces where they meet in the corner, as `true_corner` tells them, in mm."""
        return dict(zip(Axis, self.true_corner, strict=True))

    @property
    def true_skew(self) -> float:
        """How far the staged stock is truly turned about Z, in rad."""
        return self._machine.world.true_yaw

    @property
    def true_backlash(self) -> Position:
        """How much play each axis truly has, in mm: the tool stands in the middle of it for `true_corner`."""
        return self._machine.axes.play

    @property
    def true_plate(self) -> tuple[float, float, float]:
        """The true top, lip A and lip B of the staged plate in mm; zeros where there is none."""
        return self._machine.world.true_plate

    @property
    def true_tool_radius(self) -> float:
        """The true radius of the tool now loaded in mm; raises `RuntimeError` where there is none."""
        tool = self._machine.world.true_tool
        if tool is None:
            raise RuntimeError("no tool is loaded: nothing was staged")
        return tool.true_radius

    @property
    def true_runout(self) -> Position:
        """How far the loaded tool's axis truly stands beside the spindle's as it is turned now, in mm."""
        return self._machine.world.true_runout

    @property
    def true_position(self) -> Position:
        """Where the controlled point truly is, backlash and lost steps included, the machine standing; in mm."""
        self._machine.settle()
        return self._machine.true_position

    @property
    def true_moving(self) -> bool:
        """Whether an axis truly moves now, whatever anybody was told."""
        self._machine.settle()
        return self._machine.run is not None

    def true_contact(self, start: Position, to: Position) -> Position | None:
        """Return where the tool would first meet anything solid on the line from `start` to `to`, or None (mm).

        Raises `ValueError` where the line has no length.
        """
        way = to.minus(start).unit()
        spans = self._machine.world.spans(start, way, start.distance(to))
        return start.plus(way.times(max(0.0, spans[0][0]))) if spans else None

    @property
    def deepest_penetration(self) -> float:
        """The deepest that the tool was pushed past any surface since the last `stage`, in mm."""
        machine = self._machine
        machine.settle()
        return machine.deepest

    @property
    def motions(self) -> tuple[MotionMade, ...]:
        """Every motion that has ended, in order, as far back as `history` goes."""
        self._machine.settle()
        return tuple(run.made() for run in self._machine.runs)

    @property
    def log(self) -> tuple[CallMade, ...]:
        """Every call of a method, in order, with its answer or the name of its error."""
        return tuple(CallMade(*entry) for entry in self._log)

    @property
    def deepened_while_closed(self) -> bool:
        """Whether any motion drove the tool further into what it touched while the circuit was closed."""
        return any(made.deepened and made.closed_at_start for made in self.motions)

    # ---- what happens ---------------------------------------------------------------------------------

    def expect(self, what: str | What | Mapping[str, Any] | Happening, **when: Any) -> None:
        """Put one more happening on the list, as ``expect("lead off", contact=2)`` does; moves nothing.

        Counts begin with the machine, not now. Raises `TypeError` or `ValueError` for an unusable one.
        """
        plain = {"what": what, **when} if isinstance(what, str | What) else what
        happening = Happening.from_plain(plain)
        if self._schedule.add(happening):
            self._suffer(happening)

    def _suffer(self, happening: Happening) -> None:
        if happening.what is What.LINK_LOST:
            self._lost = True
        suffer(self._machine, happening)

    def _stand(self) -> None:
        for happening in self._schedule.standing:
            self._suffer(happening)

    def _note_contact(self) -> None:
        for happening in self._schedule.begin_contact():
            self._suffer(happening)

    def _do(self, question: Question) -> None:
        """Do in the virtual world what a yes to the question says, and what a stop test then asks for."""
        do(self._machine, question)
        habits = self._options.operator
        if question is Question.RISE and self._machine.wiring.lead_on:
            self._later(What.NOISE, habits.touches_after_s, amount=TOUCHES_FOR_S)
        elif question is Question.PRESS_STOP:
            self._later(What.ALARM, habits.presses_after_s, detail="the machine's own stop was pressed")

    def _later(self, what: What, after_s: float, **more: Any) -> None:
        if after_s < math.inf:
            self.expect(what, time_s=self._clock.now() + after_s, **more)
