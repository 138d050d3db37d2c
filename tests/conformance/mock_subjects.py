"""The virtual machine as subjects of the conformance kit: as it comes, and with other facts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from gingerly import Corner, Position, Stock, Tool
from gingerly.conformance import Subject, Truth, Wall
from gingerly.driver.adapter import Scene
from gingerly.geometry import Box
from gingerly_mock import MockAdapter

SCENE = Scene(
    name="conformance",
    place=Position(150.0, 100.0, -60.0),
    corner=Corner.FRONT_LEFT,
    stock=Stock(size_x=60.0, size_y=50.0, thickness=20.0, conductive=True),
    tool=Tool.pin("6 mm", free_length="30 mm", name="pin"),
)
SAFE = Position(130.0, 110.0, -30.0)


def mock_subject(**options: Any) -> Subject:
    """A mock with these options, a bare conductive block on its table, and a hook for everything it can do."""

    def make() -> MockAdapter:
        mock = MockAdapter(**{"seed": 4, "position": (130.0, 110.0, -20.0), **options})
        mock.stage(SCENE)
        return mock

    staged = make()
    return Subject(
        make=make,
        simulated=True,
        safe=SAFE,
        free=Box(Position(110.0, 100.0, -35.0), Position(140.0, 130.0, -5.0)),
        walls=(_wall(staged, (175.0, 125.0, -55.0), (175.0, 125.0, -65.0)), _wall(staged, (140.0, 120.0, -70.0))),
        truth=lambda mock: Truth(position=mock.true_position, moving=mock.true_moving),
        alarm=_soon("alarm"),
        restart=_soon("restart"),
        link_loss=_soon("link lost"),
        silence=_next("request lost"),
        refusal=_next("refused", detail="not now"),
        closed_circuit=lambda mock, in_s: mock.expect("chip"),
        turning_spindle=lambda mock, in_s: mock.expect("spindle starts"),
        short_move=_next("stops short", amount=1.0),
        foreign_state=lambda mock, in_s: mock.expect("foreign state", detail="override", amount=0.5),
        unreachable=lambda: MockAdapter(faults=[{"what": "link lost unsent", "call": "open"}]),
    )


def _wall(
    mock: MockAdapter, start: tuple[float, float, float], to: tuple[float, float, float] | None = None
) -> Wall:
    begin = Position(*start)
    end = Position(*to) if to else begin.plus(Position(20.0, 0.0, 0.0))
    contact = mock.true_contact(begin, end)
    assert contact is not None
    return Wall(
        start=contact.plus(begin.minus(contact).unit().times(2.0)),
        contact=contact,
        within=0.02 + mock.facts.backlash,
    )


def _soon(what: str) -> Callable[[MockAdapter, float], None]:
    return lambda mock, in_s: mock.expect(what, time_s=mock.clock.now() + in_s)


def _next(what: str, **more: Any) -> Callable[[MockAdapter, float], None]:
    return lambda mock, in_s: mock.expect(what, call="any", nth=len(mock.log) + 1, **more)
