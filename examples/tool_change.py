"""Change the tool and let the work offsets follow its length: python tool_change.py

The face is touched with both tools; the difference is added to the Z of the offsets named, all or none.
"""

import asyncio
from dataclasses import replace

from gingerly import Position, Question, Stock, Surface, Tool, ToolChange, TopSpot, connect

pin = Tool.pin("4 mm", free_length="22 mm")
cutter = Tool(name="engraver", diameter=3.0, free_length=14.0, flutes=2, helix=0.5)
pad = Stock(size_x=30, size_y=30, thickness=20, conductive=True)
spot = TopSpot(tool=pin, stock=pad, place=Position(150, 100, -50))


async def main() -> None:
    async with connect("mock", seed=4, tool_length_range=0.6) as machine:
        await machine.stage(spot)  # on a real machine: leave this line out, and pass operator= to connect
        await machine.probe(Surface(spot=spot, offset=1))
        before = (await machine.probe(ToolChange(spot=spot))).outcome.faces[0].position.z

        machine.tool_changed()  # neither the circuit nor the tool's length is known any more
        if not await machine.ask(Question.CHANGE_TOOL):
            return
        await machine.stage(replace(spot, tool=cutter))
        change = ToolChange(spot=replace(spot, tool=cutter), before=before, offsets=(1,))
        result = await machine.probe(change, hand_over=True)
        (state,) = result.outcome.offsets
        print(f"work offset 1: Z {state.old.z:.3f} became {state.new.z:.3f}, {state.stands.value}")


asyncio.run(main())
