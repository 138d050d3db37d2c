"""The contract between the library and a motion controller.

An adapter is any object with these methods; nothing has to be inherited. It raises only
`ControllerRefused`, `AlarmActive`, `ControllerRestarted`, `LinkLost` and `NoAnswer`, re-raises cancellation,
and leaves `None` in a snapshot what its controller cannot tell. A wrong argument (an offset outside 1–9, a target
that is no finite number) may also be a `ValueError`, and a call on a closed adapter a `RuntimeError`; both before
anything moves. Nothing but a person ever clears an alarm.

The library never makes two calls at once: it cancels the outstanding one, waits a grace time, and then calls
`stop()`, which must be served even where the abandoned call still lingers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, Protocol, runtime_checkable

from gingerly.driver.clock import Clock
from gingerly.geometry import Axis, Corner, Position
from gingerly.messages.commands import Answer, Question
from gingerly.messages.facts import MachineFacts
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Snapshot
from gingerly.plate import Placement, Plate
from gingerly.stock import Stock
from gingerly.tool import Tool


class Adapter(Protocol):
    """A motion controller as the library sees it. Machine coordinates in mm, feeds in mm/min."""

    @property
    def facts(self) -> MachineFacts:
        """What is known of the machine; valid once `open` has returned."""
        ...

    async def open(self) -> None:
        """Connect, and put the controller into a known modal state; moves nothing.

        Opening an open adapter is an error (`RuntimeError`). Raises `LinkLost` or `NoAnswer`.
        """
        ...

    async def close(self) -> None:
        """Let go of the controller; may be called in any state, more than once. Stops a motion that goes on."""
        ...

    async def look(self) -> Snapshot:
        """Return what the machine says about itself now, moving or not."""
        ...

    async def traverse(self, to: Position, feed: float | None) -> Snapshot:
        """Move straight to `to`, as fast as the machine goes where `feed` is None.

        Returns after standstill with a snapshot taken then. A target not reached (the guard stopped the
        motion) is no error: the snapshot says so. A traverse may begin with the circuit closed, and keeps its
        feed along the whole path.
        """
        ...

    async def sense(self, to: Position, feed: float) -> Touched | Missed:
        """Move straight towards `to` until contact; return after standstill.

        `Touched.contact` is the position latched at contact, not where the machine came to rest. With the circuit
        closed already it is refused (`ControllerRefused`) without motion.
        """
        ...

    async def stop(self) -> Snapshot:
        """Stop all motion, at any time and as often as wanted; return a snapshot after standstill.

        Leaves the link so that no abandoned answer can be taken for a later one.
        """
        ...

    async def read_offset(self, number: int) -> Position:
        """Return the origin of work offset `number` (1–9) in machine coordinates.

        Raises `ControllerRefused` where the facts say that offsets cannot be read.
        """
        ...

    async def write_offset(self, number: int, axes: Mapping[Axis, float]) -> None:
        """Set the named axes of work offset `number` in one command; leave the others as they are.

        A cancelled write has happened whole or not at all.
        """
        ...


@runtime_checkable
class HasClock(Protocol):
    """An adapter that brings its own clock, as a machine in virtual time does."""

    @property
    def clock(self) -> Clock:
        """The clock that the adapter's machine lives by; deadlines are measured on it."""
        ...


@runtime_checkable
class Operator(Protocol):
    """Whoever answers questions at the machine: a person at a terminal, a script, a simulation."""

    async def ask(self, question: Question, machine: str) -> Answer:
        """Put `question` to the operator of the machine called `machine`, and return the answer."""
        ...


@dataclass(frozen=True, slots=True)
class Feature:
    """What is milled into a simulated blank, or left standing on it: the rest of its top is lower then.

    `centre` counts in mm inward from the stock's corner along X and Y, `sizes` are along X and Y (of what is round:
    its diameter), and `deep` is how deep or how high it is, all in mm.
    """

    kind: Literal["bore", "boss", "pocket", "island"]
    centre: tuple[float, float]
    sizes: tuple[float, float]
    deep: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What a simulated machine is to find on its table for one part.

    `place` is where the job expects the stock's corner (its top face in Z, mm); the truth is drawn around it,
    within `within` mm on each axis and `skew` rad, from the simulation's own seed. `lead_off_after` makes the
    test lead fall off once that many contacts have been made on this part; `feature` is what the blank has besides
    its corner.
    """

    name: str
    place: Position
    corner: Corner
    stock: Stock
    tool: Tool
    plate: Plate | None = None
    placement: Placement = Placement.SEATED
    within: float = 0.0
    skew: float = 0.0
    lead_off_after: int | None = None
    feature: Feature | None = None


@runtime_checkable
class Simulated(Protocol):
    """An adapter whose machine exists in memory only, so that truth can be set and known."""

    @property
    def operator(self) -> Operator:
        """A simulated operator that does in the simulated world whatever it is asked to do."""
        ...

    def stage(self, scene: Scene) -> Position:
        """Clamp the scene's blank and load its tool; return where the stock's corner truly is, in mm."""
        ...

    @property
    def deepest_penetration(self) -> float:
        """The deepest that the tool was pushed past a touched surface since the last `stage`, in mm."""
        ...
