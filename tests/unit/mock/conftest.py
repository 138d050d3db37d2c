"""What the tests of the virtual machine share: one plate, one pin, one blank, and a way to run a call."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from gingerly.driver.adapter import Scene
from gingerly.geometry import Corner, Position
from gingerly.plate import Plate
from gingerly.stock import Stock
from gingerly.tool import Tool
from gingerly_mock import MockAdapter

PLACE = Position(100.0, 80.0, -40.0)
PLATE = Plate(
    name="61 x 61 x 10", size_a=61.0, size_b=61.0, height=10.0, recess_a=50.0, recess_b=50.0, recess_depth=4.0
)
PIN = Tool.pin(3.175, free_length=25.0)


def run_to_end(work: Coroutine[Any, Any, Any]) -> Any:
    """Return what a coroutine returns; fails if it ever suspends, since virtual time needs no event loop."""
    try:
        work.send(None)
    except StopIteration as end:
        return end.value
    finally:
        work.close()
    raise AssertionError("the call waited on the event loop")


class Shop:
    """A mock adapter with blocking calls, opened, with one blank staged."""

    def __init__(self, scene: Scene | None, **options: Any) -> None:
        self.adapter = MockAdapter(**options)
        run_to_end(self.adapter.open())
        self.corner = self.adapter.stage(scene) if scene is not None else None

    def __getattr__(self, name: str) -> Any:
        found = getattr(self.adapter, name)
        if name in ("look", "traverse", "sense", "stop", "read_offset", "write_offset", "close", "open"):
            return lambda *given: run_to_end(found(*given))
        return found

    def ask(self, question: Any) -> Any:
        return run_to_end(self.adapter.operator.ask(question, "bench"))

    def go(self, *places: Position) -> Any:
        """Traverse from place to place as fast as it goes; return the last snapshot."""
        answers = [self.traverse(place, None) for place in places]
        return answers[-1]

    def bounded(self, seconds: float, call: str, *given: Any) -> Any:
        work = getattr(self.adapter, call)(*given)
        return run_to_end(self.adapter.clock.bounded(work, seconds))


@pytest.fixture
def make_scene() -> Callable[..., Scene]:
    def make(**changes: Any) -> Scene:
        given: dict[str, Any] = {
            "name": "blank",
            "place": PLACE,
            "corner": Corner.FRONT_LEFT,
            "stock": Stock(size_x=100.0, size_y=80.0, thickness=20.0),
            "tool": PIN,
            "plate": PLATE,
        }
        return Scene(**(given | changes))

    return make


@pytest.fixture
def open_shop(make_scene: Callable[..., Scene]) -> Callable[..., Shop]:
    """Return a function that opens a mock with one blank; ideal unless told otherwise."""

    def make(scene: Scene | None = None, **options: Any) -> Shop:
        return Shop(scene or make_scene(), **({"ideal": True} | options))

    return make


@pytest.fixture
def beside_lip() -> tuple[Position, Position]:
    """A line that leads a pin from outside into lip A: its start and its end, 6 mm below the plate's top."""
    return Position(84.0, 110.0, -40.0), Position(92.0, 110.0, -40.0)


@pytest.fixture
def drive() -> Callable[[Coroutine[Any, Any, Any]], Any]:
    return run_to_end
