"""What the tests of routines share: one machine, one blank, one plate, and where the tool stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from gingerly import Box, Guard, Limits, MachineFacts, Plate, Position, Stock, Tool, TopSpot
from gingerly.budgets.doubts import NOTHING, Doubts
from gingerly.routines import Site

FACTS = MachineFacts(
    name="drawing board",
    envelope=Box(Position(0.0, 0.0, -90.0), Position(400.0, 300.0, 0.0)),
    resolution=0.0025,
    acceleration=250.0,
    top_feed=1500.0,
    rapid_feed=2400.0,
    latch_s=Limits(0.0, 0.002),
    guard=Guard.POLLED,
)
PLATE = Plate(name="plate", size_a=52.0, size_b=55.0, height=12.0, recess_a=40.0, recess_b=41.0, recess_depth=6.0)
STOCK = Stock(size_x=120.0, size_y=90.0, thickness=25.0, jaw_height=8.0)
PIN = Tool.pin("6 mm", free_length="30 mm")
EXACT = Doubts(seating=NOTHING, spindle_growth=NOTHING)
"""Nothing one-sided, so that nothing is corrected for."""

PLACE = Position(150.0, 100.0, -60.0)


@pytest.fixture
def spot() -> Callable[..., TopSpot]:
    """Return a function that makes the spot on the plate, changed as asked."""

    def make(**changes: Any) -> TopSpot:
        return TopSpot(**{"tool": PIN, "stock": STOCK, "place": PLACE, "plate": PLATE, **changes})

    return make


@pytest.fixture
def bare(spot: Callable[..., TopSpot]) -> Callable[..., TopSpot]:
    """Return a function that makes the spot on bare, conductive stock."""

    def make(**changes: Any) -> TopSpot:
        stock = replace(changes.pop("stock", STOCK), conductive=True)
        return spot(**{"stock": stock, "plate": None, **changes})

    return make


@pytest.fixture
def site() -> Callable[..., Site]:
    """Return a function that makes the site with the tool near the front left of the table, changed as asked."""

    def make(**changes: Any) -> Site:
        plain = {"facts": FACTS, "here": Position(20.0, 20.0, -5.0), "doubts": EXACT}
        return Site(**{**plain, **changes})

    return make


@pytest.fixture
def facts() -> Callable[..., MachineFacts]:
    """Return a function that makes the machine's facts, changed as asked."""

    def make(**changes: Any) -> MachineFacts:
        return replace(FACTS, **changes)

    return make
