"""Bring the tool down onto a block step by step, stopped by the contact: python jog_by_script.py"""

import asyncio

from gingerly import Axis, Circuit, Jogger, Place, Position, Stock, Tool, TopSpot, connect

pin = Tool.pin("4 mm", free_length="22 mm")
block = Stock(size_x=60, size_y=60, thickness=20, conductive=True)
spot = TopSpot(tool=pin, stock=block, place=Position(120, 70, -25))


async def main() -> None:
    async with connect("mock", seed=2, guard="polled", position=[150, 100, -10]) as machine:
        await machine.stage(spot)  # on a real machine: leave this line out, and pass operator= to connect
        await machine.continuity((Place.STOCK,))  # without it a step below clearance is 0.5 mm at most
        jogger = Jogger(machine, tool=pin)
        snapshot = await jogger.look()
        while snapshot.circuit is Circuit.OPEN:
            snapshot = await jogger.step(Axis.Z, -2.0)
            print(f"{snapshot.position}  circuit {snapshot.circuit.value}")
        snapshot = await jogger.step(Axis.Z, 2.0)
        print(f"{snapshot.position}  circuit {snapshot.circuit.value}, back where that step began")
        await machine.release()


asyncio.run(main())
