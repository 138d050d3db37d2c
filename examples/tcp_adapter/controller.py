"""An invented controller on a TCP port, with a small virtual mill behind it: what the example adapter talks to.

Requests are lines of ``number order name=value …``; the orders are tell, go, feel, halt, recall and keep. Answers
are ``number word name=value …`` and come once the order is carried out; the words are done, cannot, alarmed and
restarted. The mill is ideal: exact axes, a floor below and a wall on the right that close the circuit, both where
no coordinate is round, and a knob that sets the pace of every feed.
To try it, in the folder ``examples``::

    python -m tcp_adapter.controller
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable
from dataclasses import dataclass

from gingerly.geometry import Box, Position

ENVELOPE = Box(Position(0, 0, -60), Position(200, 150, 0))
ACCELERATION = 500.0
RAPID = 3000.0
LATCH_S, REACTION_S = 0.0005, 0.003
FLOOR, WALL = -40.137, 120.263
MIDDLE = Position(100, 75, -10)
PORT = 7117


@dataclass
class Travel:
    """A straight move from rest, in mm and seconds; `brake` ends it early."""

    length: float
    speed: float
    braked_s: float = math.inf

    def brake(self, at_s: float) -> None:
        """Begin to slow down at a moment, unless it does so already."""
        self.braked_s = min(self.braked_s, at_s)

    @property
    def end_s(self) -> float:
        """When it stands."""
        if self.braked_s < self._whole_s:
            return min(self._whole_s, self.braked_s + self._free(self.braked_s)[1] / ACCELERATION)
        return self._whole_s

    def at(self, now_s: float) -> float:
        """Return how far it has come."""
        if now_s <= self.braked_s or self.braked_s >= self._whole_s:
            return self._free(now_s)[0]
        distance, speed = self._free(self.braked_s)
        slowing_s = min(now_s - self.braked_s, speed / ACCELERATION)
        return min(self.length, distance + speed * slowing_s - 0.5 * ACCELERATION * slowing_s**2)

    def reached_s(self, distance: float) -> float:
        """Return when an undisturbed move has come so far, by halving."""
        low, high = 0.0, self._whole_s
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self._free(middle)[0] < distance else (low, middle)
        return high

    @property
    def _peak(self) -> float:
        return min(self.speed, math.sqrt(ACCELERATION * self.length))

    @property
    def _whole_s(self) -> float:
        return self.length / self._peak + self._peak / ACCELERATION if self.length else 0.0

    def _free(self, now_s: float) -> tuple[float, float]:
        """Return distance and speed at a moment of the undisturbed move."""
        now_s, ramp_s = min(max(now_s, 0.0), self._whole_s), self._peak / ACCELERATION
        if now_s < ramp_s:
            return 0.5 * ACCELERATION * now_s**2, ACCELERATION * now_s
        left_s = self._whole_s - now_s
        if left_s < ramp_s:
            return self.length - 0.5 * ACCELERATION * left_s**2, ACCELERATION * left_s
        return self._peak * (now_s - 0.5 * ramp_s), self._peak


class Cannot(Exception):
    """A refusal; its text is the reason, in one word."""


class Controller:
    """The controller and its mill. Attributes that begin with ``true_`` are for tests."""

    def __init__(self, position: Position = MIDDLE) -> None:
        self.offsets = {number: Position(0, 0, 0) for number in range(1, 10)}
        self.alarm = self.turning = self.bridged = False
        self.homed = True
        self.starts = 0
        self.hushed = self.refusing = self.shortened = 0
        self.pace = 1.0
        self._position, self._start, self._way = position, position, Position(0, 0, 0)
        self._travel: Travel | None = None
        self._began = 0.0
        self._changed = asyncio.Event()
        self._links: set[asyncio.StreamWriter] = set()
        self._jobs: set[asyncio.Task[None]] = set()

    # ---- the mill ---------------------------------------------------------------------------------------

    @property
    def true_moving(self) -> bool:
        """Whether anything moves just now."""
        return self._travel is not None and self._now() < self._travel.end_s

    @property
    def true_position(self) -> Position:
        """Where the tool is just now."""
        if self._travel is None:
            return self._position
        return self._start.plus(self._way.times(self._travel.at(self._now())))

    @property
    def touching(self) -> bool:
        """Whether the circuit is closed just now."""
        at = self.true_position
        return self.bridged or at.z <= FLOOR or at.x >= WALL

    def halt(self) -> None:
        """Let a motion slow down to a stop."""
        if self._travel is not None:
            self._travel.brake(self._now())
            self._changed.set()

    def restart(self) -> None:
        """Restart the motion board: everything stops dead, homing is lost, and no order is remembered."""
        self._position, self._travel = self.true_position, None
        self.starts, self.homed = self.starts + 1, False
        self._changed.set()

    def raise_alarm(self) -> None:
        """Go into alarm, and stop."""
        self.alarm = True
        self.halt()

    def hang_up(self) -> None:
        """Cut every link; a motion goes on."""
        for writer in self._links:
            writer.close()

    async def power_off(self) -> None:
        """Cut every link and forget every job, so that nothing is left running."""
        self.hang_up()
        for job in self._jobs:
            job.cancel()
        await asyncio.gather(*self._jobs, return_exceptions=True)
        while self._links:  # noqa: ASYNC110 (a few turns of the loop, until each talk has seen its end)
            await asyncio.sleep(0)

    def _now(self) -> float:
        return asyncio.get_running_loop().time() - self._began

    def _contact_at(self, length: float) -> float:
        """Return how far along the move the circuit will close."""
        found = [math.inf]
        if self._way.z < 0:
            found.append((FLOOR - self._start.z) / self._way.z)
        if self._way.x > 0:
            found.append((WALL - self._start.x) / self._way.x)
        return min((distance for distance in found if 0.0 <= distance <= length), default=math.inf)

    async def _move(self, order: str, to: Position, feed: float) -> str:
        """Move, and return what was felt on the way, as a piece of the answer."""
        if not to.is_finite() or ENVELOPE.excess(to) is not None:
            raise Cannot("limits")
        if not 0.0 < feed < math.inf:
            raise Cannot("feed")
        if self.alarm or self._travel is not None or (order == "feel" and (self.touching or self.turning)):
            raise Cannot("alarm" if self.alarm else "busy" if self._travel else "circuit")
        if self.shortened:
            self.shortened, to = 0, self._position.towards(to, 0.5 * self._position.distance(to))
        length = self._position.distance(to)
        if length == 0.0:
            return ""
        self._start, self._way = self._position, to.minus(self._position).unit()
        self._began = asyncio.get_running_loop().time()
        travel = self._travel = Travel(length, feed * self.pace / 60.0)
        felt = self._contact_at(length) if order == "feel" else math.inf
        felt_s = travel.reached_s(felt) if felt < math.inf else math.inf
        travel.brake(felt_s + REACTION_S)
        latched = self._start.plus(self._way.times(travel.at(felt_s + LATCH_S))) if felt < math.inf else None
        if await self._arrived(travel):
            raise Cannot("restarted")
        self._position, self._travel = (to if travel.braked_s == math.inf else self.true_position), None
        return f"felt={_text(latched)} " if latched and felt_s < travel.end_s else ""

    async def _arrived(self, travel: Travel) -> bool:
        """Wait until a motion is over, and return whether a restart ended it."""
        while self._travel is travel and (left_s := travel.end_s - self._now()) > 1e-9:
            self._changed.clear()
            try:
                await asyncio.wait_for(self._changed.wait(), left_s)
            except TimeoutError:
                continue
        return self._travel is not travel

    # ---- the talk ---------------------------------------------------------------------------------------

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Answer one client until it hangs up."""
        self._links.add(writer)
        try:
            while line := await reader.readline():
                job = asyncio.ensure_future(self._answer(line.decode(), writer))
                self._jobs.add(job)
                job.add_done_callback(self._jobs.discard)
        except OSError:
            pass
        finally:
            self._links.discard(writer)
            writer.close()

    async def _answer(self, line: str, writer: asyncio.StreamWriter) -> None:
        number, order, *pairs = line.split()
        words = dict(pair.split("=") for pair in pairs)
        hushed, self.hushed = self.hushed, 0
        try:
            if self.refusing:
                self.refusing = 0
                raise Cannot("told-to")
            text = f"done {await self._do(order, {name: float(value) for name, value in words.items()})}"
            if self.alarm and order in ("go", "feel"):
                text = "alarmed why=alarm "
        except Cannot as reason:
            text = "restarted why=restart " if str(reason) == "restarted" else f"cannot why={reason} "
        if not hushed and not writer.is_closing():
            writer.write(f"{number} {text}{self._state()}\n".encode())

    async def _do(self, order: str, given: dict[str, float]) -> str:
        if order in ("go", "feel"):
            return await self._move(order, Position(given["x"], given["y"], given["z"]), given.get("feed", RAPID))
        if order == "halt":
            self.halt()
            while self._travel is not None:  # noqa: ASYNC110 (the end may move)
                await asyncio.sleep(max(0.0, self._travel.end_s - self._now()))
        if order in ("recall", "keep"):
            number = int(given["n"])
            if number not in self.offsets:
                raise Cannot("number")
            if not all(map(math.isfinite, given.values())):
                raise Cannot("value")
            if order == "recall":
                return f"kept={_text(self.offsets[number])} "
            old = self.offsets[number]
            self.offsets[number] = Position(*(given.get(axis, old[at]) for at, axis in enumerate("xyz")))
        return ""

    def _state(self) -> str:
        yes: Callable[[bool], str] = lambda true: "yes" if true else "no"  # noqa: E731
        return (
            f"at={_text(self.true_position)} moves={yes(self.true_moving)}"
            f" circuit={'closed' if self.touching else 'open'} alarm={yes(self.alarm)} homed={yes(self.homed)}"
            f" spindle={'turning' if self.turning else 'still'} starts={self.starts} pace={self.pace}"
        )


def _text(place: Position) -> str:
    return f"{place.x:.4f},{place.y:.4f},{place.z:.4f}"


async def main() -> None:
    """Serve until interrupted; moves nothing real."""
    server = await asyncio.start_server(Controller().serve, "localhost", PORT)
    print(f"the plain mill listens on port {PORT}; Ctrl-C ends it")
    async with server:
        await server.serve_forever()


if __name__ == "__main__":
    try:
        asyncio.run(main())
    except KeyboardInterrupt:
        print("ended")
