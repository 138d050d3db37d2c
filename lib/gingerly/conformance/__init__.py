"""Find out whether an adapter keeps the contract between the library and a motion controller.

An author describes the machine behind the adapter in a few lines, a `Subject`, and runs a hundred small checks::

    import pytest
    from gingerly import Box, Position
    from gingerly.conformance import AdapterConformance, Subject, Wall

    class TestMine(AdapterConformance):
        @pytest.fixture
        def subject(self) -> Subject:
            return Subject(
                make=lambda: MyAdapter("socket://localhost:7000"),
                simulated=True,
                safe=Position(50, 50, -10),
                free=Box(Position(40, 40, -15), Position(60, 60, -5)),
                walls=(Wall(start=Position(50, 50, -20), contact=Position(50, 50, -22), within=0.05),),
            )

The same checks run without pytest, and then on a real machine too, after asking for hands clear::

    python -m gingerly.conformance my_package.conformance:subject

Every further hook that the subject brings (an alarm, a restart, a lost link, silence, the truth by a second way …)
opens more checks; what stays closed is listed in the closing summary with the reason. An adapter of a program that
serves a port, such as the practice controller, starts that program in `make` and ends it in `finish`; where the
program runs n times faster than the world, `clock` says whose seconds count.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from gingerly.conformance.subject import Subject, Truth, Wall

if TYPE_CHECKING:
    from gingerly.conformance.case import Case
    from gingerly.conformance.catalogue import Check, Failure
    from gingerly.conformance.pytest_layer import AdapterConformance
    from gingerly.conformance.report import Report, Result, Verdict
    from gingerly.conformance.run import all_checks, exercise, run_all

KIT = 2
"""The kit's version; it grows whenever a check is added that an adapter which passed before may fail."""

_LATER = {
    "AdapterConformance": "gingerly.conformance.pytest_layer",
    "Case": "gingerly.conformance.case",
    "Check": "gingerly.conformance.catalogue",
    "Failure": "gingerly.conformance.catalogue",
    "Report": "gingerly.conformance.report",
    "Result": "gingerly.conformance.report",
    "Verdict": "gingerly.conformance.report",
    "all_checks": "gingerly.conformance.run",
    "exercise": "gingerly.conformance.run",
    "run_all": "gingerly.conformance.run",
}


def __getattr__(name: str) -> Any:
    if name not in _LATER:
        raise AttributeError(f"gingerly.conformance has no public name {name!r}")
    return getattr(import_module(_LATER[name]), name)


__all__ = [
    "KIT",
    "AdapterConformance",
    "Case",
    "Check",
    "Failure",
    "Report",
    "Result",
    "Subject",
    "Truth",
    "Verdict",
    "Wall",
    "all_checks",
    "exercise",
    "run_all",
]
