"""Find where the work lies on a CNC machine, by touch, without hurting it, and say how far off that may be.

The names below are the public ones; everything else may change. What needs the state machine or an event loop is
loaded when it is first used, so that ``import gingerly`` stays quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from gingerly.geometry import Axis, Box, Corner, KeepOut, Limits, Position
from gingerly.messages.commands import Answer, Question
from gingerly.messages.facts import Guard, Home, MachineFacts, SpindleKnowledge
from gingerly.messages.faults import (
    AlarmActive,
    CircuitAlreadyClosed,
    CircuitNotChecked,
    CircuitUnknown,
    ContactsDisagree,
    ControllerRefused,
    ControllerRestarted,
    Declined,
    Fault,
    ForeignState,
    ImplausibleContact,
    Interrupted,
    KeepOutEntered,
    LinkLost,
    NoAnswer,
    NoContact,
    NotAsSet,
    NotRecorded,
    NotStopped,
    OffsetNotKept,
    OffsetState,
    OutsideEnvelope,
    PlateMoved,
    PositionJumped,
    PositionUnknown,
    SpindleTurning,
    Stands,
    Standstill,
    StartOutsideWindow,
    StillClosed,
    TooEarly,
    UnexpectedContact,
    UnsteadyContact,
    UnsuitablePlate,
    UnsuitableTool,
)
from gingerly.messages.replies import Missed, Touched
from gingerly.messages.snapshot import Circuit, InForce, Snapshot, Spindle
from gingerly.messages.touches import Face, Place
from gingerly.planner import Wishes
from gingerly.plate import Bolt, Placement, Plate
from gingerly.stock import Stock
from gingerly.tool import Tip, Tool

if TYPE_CHECKING:
    from gingerly.driver.adapter import Adapter, HasClock, Operator, Scene, Simulated
    from gingerly.driver.blocking import BlockingMachine, connect_blocking
    from gingerly.driver.clock import Clock
    from gingerly.driver.events import Event
    from gingerly.driver.jog import Jogger
    from gingerly.driver.machine import Machine, connect
    from gingerly.driver.result import Result
    from gingerly.routines import (
        Above,
        BlockMiddle,
        BoreCentre,
        BossCentre,
        EdgeSkew,
        InsideCorner,
        OutsideCorner,
        PlateCalibration,
        PocketMiddle,
        ReactionTime,
        Repeatability,
        RibMiddle,
        SingleEdge,
        SkewedCorner,
        SlotMiddle,
        StopTest,
        Surface,
        SurfaceGrid,
        ToolChange,
        ToolDiameter,
        TopSpot,
        Verify,
    )

_LATER = {
    "Above": "gingerly.routines",
    "Adapter": "gingerly.driver.adapter",
    "BlockMiddle": "gingerly.routines",
    "BlockingMachine": "gingerly.driver.blocking",
    "BoreCentre": "gingerly.routines",
    "BossCentre": "gingerly.routines",
    "Clock": "gingerly.driver.clock",
    "EdgeSkew": "gingerly.routines",
    "Event": "gingerly.driver.events",
    "HasClock": "gingerly.driver.adapter",
    "Jogger": "gingerly.driver.jog",
    "InsideCorner": "gingerly.routines",
    "Machine": "gingerly.driver.machine",
    "Operator": "gingerly.driver.adapter",
    "OutsideCorner": "gingerly.routines",
    "PlateCalibration": "gingerly.routines",
    "PocketMiddle": "gingerly.routines",
    "ReactionTime": "gingerly.routines",
    "Repeatability": "gingerly.routines",
    "Result": "gingerly.driver.result",
    "RibMiddle": "gingerly.routines",
    "Scene": "gingerly.driver.adapter",
    "Simulated": "gingerly.driver.adapter",
    "SingleEdge": "gingerly.routines",
    "SkewedCorner": "gingerly.routines",
    "SlotMiddle": "gingerly.routines",
    "StopTest": "gingerly.routines",
    "Surface": "gingerly.routines",
    "SurfaceGrid": "gingerly.routines",
    "ToolChange": "gingerly.routines",
    "ToolDiameter": "gingerly.routines",
    "TopSpot": "gingerly.routines",
    "Verify": "gingerly.routines",
    "connect": "gingerly.driver.machine",
    "connect_blocking": "gingerly.driver.blocking",
}


_MODULES = ("batch", "job", "journal", "report")


def __getattr__(name: str) -> Any:
    if name in _MODULES:
        return import_module(f"gingerly.{name}")
    if name not in _LATER:
        raise AttributeError(f"gingerly has no public name {name!r}")
    return getattr(import_module(_LATER[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)


__all__ = [
    "Above",
    "Adapter",
    "AlarmActive",
    "Answer",
    "Axis",
    "BlockMiddle",
    "BlockingMachine",
    "Bolt",
    "BoreCentre",
    "BossCentre",
    "Box",
    "Circuit",
    "CircuitAlreadyClosed",
    "CircuitNotChecked",
    "CircuitUnknown",
    "Clock",
    "ContactsDisagree",
    "ControllerRefused",
    "ControllerRestarted",
    "Corner",
    "Declined",
    "EdgeSkew",
    "Event",
    "Face",
    "Fault",
    "ForeignState",
    "Guard",
    "HasClock",
    "Home",
    "ImplausibleContact",
    "InForce",
    "InsideCorner",
    "Interrupted",
    "Jogger",
    "KeepOut",
    "KeepOutEntered",
    "Limits",
    "LinkLost",
    "Machine",
    "MachineFacts",
    "Missed",
    "NoAnswer",
    "NoContact",
    "NotAsSet",
    "NotRecorded",
    "NotStopped",
    "OffsetNotKept",
    "OffsetState",
    "Operator",
    "OutsideCorner",
    "OutsideEnvelope",
    "Place",
    "Placement",
    "Plate",
    "PlateCalibration",
    "PlateMoved",
    "PocketMiddle",
    "Position",
    "PositionJumped",
    "PositionUnknown",
    "Question",
    "ReactionTime",
    "Repeatability",
    "Result",
    "RibMiddle",
    "Scene",
    "Simulated",
    "SingleEdge",
    "SkewedCorner",
    "SlotMiddle",
    "Snapshot",
    "Spindle",
    "SpindleKnowledge",
    "SpindleTurning",
    "Stands",
    "Standstill",
    "StartOutsideWindow",
    "StillClosed",
    "Stock",
    "StopTest",
    "Surface",
    "SurfaceGrid",
    "Tip",
    "TooEarly",
    "Tool",
    "ToolChange",
    "ToolDiameter",
    "TopSpot",
    "Touched",
    "UnexpectedContact",
    "UnsteadyContact",
    "UnsuitablePlate",
    "UnsuitableTool",
    "Verify",
    "Wishes",
    "connect",
    "connect_blocking",
]
