"""What an author tells the kit about the machine behind an adapter: where it may move, and what can be provoked.

Nothing here moves anything. Everything optional that is left out closes some checks, and the summary says which.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from gingerly.driver.clock import Clock
from gingerly.geometry import Axis, Box, Position

Hook = Callable[[Any, float], Awaitable[None] | None]
"""Called with the open adapter and a delay: the thing happens that many seconds later on the clock (0: at once)."""

LEAST_ROOM = 2.0
"""How much room the kit needs on one side of the safe point on every axis, in mm: our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """Where a contact will be found: a sense from `start` straight through `contact` (mm) meets metal there.

    The true contact lies within ± `within` mm of `contact` along the line. `give` is how far past it the tool may
    be pushed without harm, mm: it bounds the kit's feeds. The straight way from the free box to `start` is free,
    and the circuit is open at `start`. Choose a place whose coordinates are not round (Z-40.137 rather than Z-40): a
    contact that is rounded on its way shows there only. The defaults are our own choice. Raises `ValueError` for a
    wall too near to its start.
    """

    start: Position
    contact: Position
    within: float = 0.02
    give: float = 1.0

    def __post_init__(self) -> None:
        if self.distance <= self.within + 0.5:
            raise ValueError("a wall's start must lie at least 0.5 mm, and `within`, before its contact")
        if self.within < 0.0 or self.give <= 0.0:
            raise ValueError("a wall's `within` must be 0 or more, and its `give` above 0 mm")

    @property
    def way(self) -> Position:
        """The unit vector from start to contact."""
        return self.contact.minus(self.start).unit()

    @property
    def distance(self) -> float:
        """How far the contact lies from the start, in mm."""
        return self.start.distance(self.contact)

    @property
    def to(self) -> Position:
        """Where a sense is sent: as far past the contact as it may go."""
        return self.contact.plus(self.way.times(self.within + self.give))


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of the machine, learnt by a second way that does not pass through the adapter.

    `position` in machine coordinates (mm); the others are None where the second way cannot tell.
    """

    position: Position
    moving: bool | None = None
    offsets: Mapping[int, Position] | None = None
    homed: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """An adapter, the machine behind it, and what the kit may do there.

    `make` returns a new adapter, not opened yet (it may be asynchronous: to start a server, say), and `finish` is
    called with it once the check is over and the adapter closed. `safe` is where every check begins; all of `free`
    may be travelled, touches nothing, and holds `safe` with at least 2 mm of room on one side of each axis. The
    way to `safe` from wherever the machine stands when opened is free as well. Work offsets whose numbers are in
    `offsets` are overwritten, and restored where they can be read.

    `simulated` says that nothing real can move; otherwise the checks run only from the command line, which asks for
    hands clear. `clock` measures where neither the adapter's own clock nor the world's does.

    Hooks, each called with the open adapter and a delay in seconds: `alarm` (one stands from then on), `restart`
    (of the controller), `link_loss`, `silence` (the next command is never answered), `refusal` (the next command is
    refused), `closed_circuit` (closed where the tool stands), `turning_spindle`, `short_move` (the next move ends
    short of its target, and the controller knows where), `foreign_state` (a shift, an override or the like comes into
    force). `unreachable` returns an adapter whose controller is not there; `truth`, what is true by a second way.

    Raises `ValueError` where the safe point lies outside the free box or has no room.
    """

    make: Callable[[], Any]
    safe: Position
    free: Box
    walls: tuple[Wall, ...] = ()
    simulated: bool = False
    clock: Clock | None = None
    offsets: tuple[int, ...] = field(default=(1, 2, 3, 4, 5, 6, 7, 8, 9))
    finish: Callable[[Any], Awaitable[None] | None] | None = None
    truth: Callable[[Any], Awaitable[Truth] | Truth] | None = None
    alarm: Hook | None = None
    restart: Hook | None = None
    link_loss: Hook | None = None
    silence: Hook | None = None
    refusal: Hook | None = None
    closed_circuit: Hook | None = None
    turning_spindle: Hook | None = None
    short_move: Hook | None = None
    foreign_state: Hook | None = None
    unreachable: Callable[[], Any] | None = None

    def __post_init__(self) -> None:
        if self.free.excess(self.safe) is not None:
            raise ValueError(f"the safe point {self.safe} lies outside the free box")
        for axis in Axis:
            if self.room(axis, 1) < LEAST_ROOM and self.room(axis, -1) < LEAST_ROOM:
                raise ValueError(
                    f"the free box leaves less than {LEAST_ROOM:g} mm on {axis.name} beside the safe point"
                )
        if not set(self.offsets) <= set(range(1, 10)):
            raise ValueError(f"work offsets are numbered from 1 to 9, not {self.offsets}")

    def room(self, axis: Axis, sign: int) -> float:
        """Return how much free room lies beside the safe point on one side of an axis, in mm."""
        if sign > 0:
            return self.free.high[axis] - self.safe[axis]
        return self.safe[axis] - self.free.low[axis]
