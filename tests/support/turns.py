"""Let the event loop take its turns: no time passes, everything that is ready gets to run."""

from __future__ import annotations

import asyncio
from collections.abc import Callable


async def turn() -> None:
    """Come back in the loop's next turn."""
    loop = asyncio.get_running_loop()
    comes = loop.create_future()
    loop.call_soon(comes.set_result, None)
    await comes


async def until(ready: Callable[[], object]) -> None:
    """Come back in the first turn in which `ready` holds."""
    while not ready():
        await turn()
