"""A worked example: an adapter for an invented controller that is reached over TCP and speaks in plain words."""

import asyncio
import contextlib

import gingerly as g

FAULTS = {"cannot": g.ControllerRefused, "alarmed": g.AlarmActive, "restarted": g.ControllerRestarted}


class PlainAdapter:
    facts = g.MachineFacts(
        name="plain mill",
        envelope=g.Box(g.Position(0, 0, -60), g.Position(200, 150, 0)),
        resolution=0.001,
        acceleration=500.0,
        top_feed=3000.0,
        rapid_feed=3000.0,
    )

    def __init__(self, host="localhost", port=7117):
        self._address, self._writer, self._waiting, self._count = (host, port), None, {}, 0

    async def open(self):
        if self._writer is not None:
            raise RuntimeError("this adapter is open already")
        try:
            reader, self._writer = await asyncio.open_connection(*self._address)
        except OSError as error:
            raise g.LinkLost(f"nobody answers at {self._address}: {error}") from error
        self._listener = asyncio.create_task(self._listen(reader))
        await self._ask("tell")

    async def close(self):
        if self._writer is not None:
            with contextlib.suppress(g.Fault, TimeoutError):
                async with asyncio.timeout(self.facts.answer_s):
                    await self._ask("halt")
            self._writer.close()
            self._writer = None
            await self._listener  # which tells whoever still waits that the link is gone

    async def look(self):
        return snapshot(await self._ask("tell"))

    async def traverse(self, to, feed):
        return snapshot(await self._ask("go", x=to.x, y=to.y, z=to.z, feed=feed))

    async def sense(self, to, feed):
        found = await self._ask("feel", x=to.x, y=to.y, z=to.z, feed=feed)
        return g.Touched(place(found["felt"]), snapshot(found)) if "felt" in found else g.Missed(snapshot(found))

    async def stop(self):
        return snapshot(await self._ask("halt"))

    async def read_offset(self, number):
        return place((await self._ask("recall", n=number))["kept"])

    async def write_offset(self, number, axes):
        await self._ask("keep", n=number, **{axis.name.lower(): value for axis, value in axes.items()})

    async def _ask(self, order, **numbers):
        if self._writer is None:
            raise RuntimeError("this adapter is not open")
        if self._listener.done():
            raise g.LinkLost("the controller has hung up")
        self._count += 1
        mine = str(self._count)  # the answer repeats it: one that nobody waits for any more is dropped
        answer = self._waiting[mine] = asyncio.get_running_loop().create_future()
        try:
            words = [mine, order, *(f"{name}={value:.4f}" for name, value in numbers.items() if value is not None)]
            self._writer.write(" ".join(words).encode() + b"\n")
            word, found = await answer
        finally:
            del self._waiting[mine]
        if word in FAULTS:
            raise FAULTS[word](f"{order}: {found['why']}", code=found["why"])
        return found

    async def _listen(self, reader):
        with contextlib.suppress(OSError):
            while line := await reader.readline():
                number, word, *pairs = line.decode().split()
                if number in self._waiting and not self._waiting[number].done():
                    self._waiting[number].set_result((word, dict(pair.split("=") for pair in pairs)))
        for answer in self._waiting.values():
            if not answer.done():
                answer.set_exception(g.LinkLost("the controller has hung up"))


def place(text):
    return g.Position(*map(float, text.split(",")))


def snapshot(found):
    moves, alarm, homed = (found[name] == "yes" for name in ("moves", "alarm", "homed"))
    where, starts, pace = place(found["at"]), int(found["starts"]), g.InForce(override=float(found["pace"]))
    circuit, spindle = g.Circuit(found["circuit"]), g.Spindle(found["spindle"])
    return g.Snapshot(where, not moves, starts, alarm, circuit, spindle, homed, pace)
