"""The conformance kit at the serial adapter, with a practice controller behind it: the contract, check by check."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from gingerly import Box, Position
from gingerly.conformance import AdapterConformance, Subject, Truth, Wall
from gingerly_serial import SerialAdapter
from support.practice import SHAPES, Practice

SPEED = 20.0
BARE = {
    "plate": None,
    "within": 0.0,
    "stock": {"size_x": 120.0, "size_y": 90.0, "thickness": 25.0, "conductive": True},
}
"""Bare stock that conducts, just where it is expected: its top is a wall for the kit."""

SAFE = Position(150.0, 100.0, -20.0)
TOP = Position(150.0, 100.0, -50.0)
NOWHERE = "socket://127.0.0.1:1"
"""A port that nobody serves: listening on it takes rights that no test has."""


def subject_of(practice: Practice, **options: Any) -> Subject:
    """A practice controller as a subject of the kit, with a hook for everything that it can do."""

    def make() -> SerialAdapter:
        practice.hand("set up")
        practice.hand("scene " + json.dumps(BARE))
        return SerialAdapter(**practice.options(**{"answer_s": 40.0, "look_interval_s": 0.1, **options}))

    def soon(what: str, **more: Any) -> Callable[[SerialAdapter, float], None]:
        return lambda adapter, in_s: practice.mischief(what=what, in_s=in_s, **more)

    def truth(adapter: SerialAdapter) -> Truth:
        found = practice.truth()
        offsets = {int(number): Position(*origin) for number, origin in found["offsets"].items()}
        return Truth(position=Position(*found["position"]), moving=found["moving"], offsets=offsets)

    told_unasked, restarts_told = practice.shape == "chatter", practice.shape != "chatter"
    return Subject(
        make=make,
        simulated=True,
        safe=SAFE,
        free=Box(Position(120.0, 80.0, -40.0), Position(180.0, 120.0, -1.0)),
        walls=(Wall(start=TOP.plus(Position(0.0, 0.0, 3.0)), contact=TOP, within=0.02, give=1.0),),
        truth=truth,
        alarm=soon("alarm", detail="on request"),
        restart=soon("reset") if restarts_told else None,
        link_loss=soon("hang up"),
        silence=None if told_unasked else soon("silence", times=4),
        refusal=soon("refuse"),
        closed_circuit=soon("chip", amount=0.0),
        turning_spindle=soon("spindle starts"),
        short_move=soon("stops short", amount=1.0),
        foreign_state=soon("foreign state", detail="override", amount=0.5),
        unreachable=lambda: SerialAdapter(**practice.options(port=NOWHERE)),
    )


@pytest.fixture(scope="module", params=SHAPES)
def practice(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    with Practice(tmp_path_factory.mktemp("conformance"), shape=request.param, speed=SPEED) as served:
        yield served


class TestSerialAdapter(AdapterConformance):
    """Every check of the contract that a practice controller can exercise, on every shape of profile.

    A controller that tells its state unasked cannot be silenced, and one without a greeting tells no restart.
    """

    @pytest.fixture
    def subject(self, practice: Practice) -> Subject:
        return subject_of(practice)
