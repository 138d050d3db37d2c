"""What is milled into a virtual blank, and what should be found there, follow from the drawing by plain geometry."""

from __future__ import annotations

import math
from typing import Any

import pytest

from gingerly import (
    Axis,
    BlockMiddle,
    BoreCentre,
    BossCentre,
    Corner,
    InsideCorner,
    OutsideCorner,
    PocketMiddle,
    Position,
    Repeatability,
    RibMiddle,
    SingleEdge,
    SkewedCorner,
    SlotMiddle,
    Stock,
    Surface,
    Tool,
    TopSpot,
)
from gingerly.batch.truth import feature_for, truth_for

STOCK = Stock(size_x=120, size_y=90, thickness=25, jaw_height=8, conductive=True)
SPOT = TopSpot(tool=Tool.pin(4, free_length=30), stock=STOCK, place=Position(100, 80, -50))
TRUE = Position(100.0, 80.0, -50.0)
QUARTER = math.pi / 2.0


def routine(kind: type, **given: Any) -> Any:
    return kind(**{"spot": SPOT, **given})


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (routine(BoreCentre, centre=(60, 45), diameter=20, deep=12), ("bore", (60, 45), (20, 20), 12)),
        (routine(BossCentre, centre=(60, 45), diameter=20, height=6), ("boss", (60, 45), (20, 20), 6)),
        (
            routine(SlotMiddle, centre=(60, 45), axis=Axis.X, width=14, length=40, deep=9),
            ("pocket", (60, 45), (14, 40), 9),
        ),
        (
            routine(SlotMiddle, centre=(60, 45), axis=Axis.Y, width=14, length=40, deep=9),
            ("pocket", (60, 45), (40, 14), 9),
        ),
        (
            routine(RibMiddle, centre=(60, 45), axis=Axis.X, width=14, length=40, height=9),
            ("island", (60, 45), (14, 40), 9),
        ),
        (routine(PocketMiddle, centre=(60, 45), sizes=(30, 20), deep=9), ("pocket", (60, 45), (30, 20), 9)),
        (routine(BlockMiddle, centre=(60, 45), sizes=(30, 20), height=5), ("island", (60, 45), (30, 20), 5)),
    ],
)
def test_a_virtual_blank_is_milled_as_the_drawing_says(made: Any, expected: tuple[object, ...]) -> None:
    """A slot or rib across Y lies with its length along X."""
    found = feature_for(made)
    assert found is not None
    assert (found.kind, found.centre, found.sizes, found.deep) == expected


def test_a_pocket_lies_inward_from_the_corner_that_is_looked_for() -> None:
    """The front left corner of a pocket: its middle is half its sizes to the right and behind."""
    found = feature_for(routine(InsideCorner, at=(30, 20), which=Corner.FRONT_LEFT, sizes=(40, 30), deep=8))
    assert found is not None
    assert found.centre == (50.0, 35.0)


@pytest.mark.parametrize("made", [routine(OutsideCorner), routine(Surface), routine(BlockMiddle)])
def test_for_the_blank_itself_nothing_is_milled(made: Any) -> None:
    assert feature_for(made) is None


@pytest.mark.parametrize(
    ("made", "axes"),
    [
        (routine(OutsideCorner), {"X": 100, "Y": 80, "Z": -50}),
        (routine(Surface, reads=2.0), {"Z": -52}),
        (routine(SingleEdge, axis=Axis.X, with_top=True), {"X": 100, "Z": -50}),
        (
            routine(SlotMiddle, centre=(60, 45), axis=Axis.Y, width=14, length=40, deep=9, with_top=True),
            {"Y": 125, "Z": -50},
        ),
        (routine(BoreCentre, centre=(60, 45), diameter=20, deep=12, with_top=True), {"X": 160, "Y": 125, "Z": -50}),
        (routine(BlockMiddle, with_top=False), {"X": 160, "Y": 125}),
        (
            routine(InsideCorner, at=(30, 20), which=Corner.FRONT_LEFT, sizes=(40, 30), deep=8, with_top=True),
            {"X": 130, "Y": 100, "Z": -50},
        ),
        (routine(Repeatability), {}),
    ],
)
def test_what_should_be_found_lies_where_the_drawing_puts_it(made: Any, axes: dict[str, float]) -> None:
    """On a blank that is not turned: the corner, plus the way on the drawing, less what it should read."""
    found = {axis.name: value for axis, value in truth_for(made, TRUE, 0.0)}
    assert found == pytest.approx(axes, abs=1e-9)


def test_on_a_blank_turned_by_a_quarter_what_lay_along_x_lies_along_y() -> None:
    found = dict(truth_for(routine(BoreCentre, centre=(60, 45), diameter=20, deep=12), TRUE, QUARTER))
    assert (found[Axis.X], found[Axis.Y]) == pytest.approx((100.0 - 45.0, 80.0 + 60.0), abs=1e-9)


def test_the_origin_of_a_skewed_corner_turns_with_the_blank() -> None:
    found = dict(truth_for(routine(SkewedCorner, reads=Position(10.0, 0.0, 0.0)), TRUE, QUARTER))
    assert (found[Axis.X], found[Axis.Y]) == pytest.approx((100.0, 70.0), abs=1e-9)
