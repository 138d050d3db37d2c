"""The mock is held to the contract, as it comes and as other machines that it can play."""

from __future__ import annotations

from typing import Any

import pytest

from conformance.mock_subjects import mock_subject
from gingerly.conformance import AdapterConformance, Subject, Verdict, run_all


class TestMock(AdapterConformance):
    """The virtual machine as it comes keeps the contract."""

    @pytest.fixture
    def subject(self) -> Subject:
        return mock_subject()


@pytest.mark.parametrize(
    "options",
    [
        {"ideal": True},
        {"guard": "sensed"},
        {"guard": "polled"},
        {"circuit_known": False},
        {"alarm_on_miss": True},
        {"offsets_readable": False},
        {"spindle": "by hand", "alarm_known": False, "in_force_known": False},
        {"home": "none", "resolution": 0.02, "backlash": 0.05, "offset_resolution": 0.01},
        {"seed": 9, "top_feed": 6000, "rapid_feed": 9000, "acceleration": 2000},
    ],
    ids=lambda options: ",".join(options),
)
def test_a_mock_that_plays_another_machine_conforms(options: dict[str, Any]) -> None:
    """Whatever facts the mock is given, it keeps every rule that they leave."""
    report = run_all(mock_subject(**options), name=str(options))
    assert report.conforms, report.summary()


@pytest.mark.parametrize(
    ("fault", "check"),
    [
        ({"what": "stop ignored", "call": "stop", "times": 0}, "a_stop_ends_a_traverse"),
        ({"what": "write ignored", "call": "write_offset", "times": 0}, "an_offset_reads_as_written"),
        ({"what": "write wrong", "call": "write_offset", "times": 0}, "axes_not_named_stay_as_they_were"),
        ({"what": "answer early", "call": "traverse", "nth": 2, "times": 0}, "a_traverse_returns_after_standstill"),
        ({"what": "lost steps", "call": "traverse"}, "reported_position_is_the_true_one"),
        ({"what": "lead off"}, "a_contact_is_found_in_every_wall"),
        ({"what": "chip"}, "circuit_is_open_in_free_air"),
    ],
    ids=lambda value: value if isinstance(value, str) else value["what"],
)
def test_a_mock_with_a_fault_is_caught(fault: dict[str, Any], check: str) -> None:
    """What the mock can be made to do wrong all the time, the kit sees."""
    report = run_all(mock_subject(faults=[fault]))
    assert check in {result.check for result in report.of(Verdict.FAILED)}, report.summary()
