"""What the adapter can be told, and what it will not believe."""

from __future__ import annotations

from typing import Any

import pytest

from gingerly import Guard, Home, SpindleKnowledge
from gingerly_serial import SerialAdapter
from gingerly_serial.port import check_url
from support.practice import FACTS, profile_of

PORT = "socket://127.0.0.1:9"


def adapter(shape: str = "practice", **more: Any) -> SerialAdapter:
    return SerialAdapter(**{"port": PORT, "profile": profile_of(shape), **FACTS, **more})


@pytest.mark.parametrize(
    ("shape", "circuit", "offsets", "in_force", "on_miss", "spindle", "guard"),
    [
        ("practice", True, True, True, False, SpindleKnowledge.MEASURED, Guard.POLLED),
        ("terse", True, True, True, True, SpindleKnowledge.COMMANDED, Guard.NONE),
        ("objects", True, True, True, False, SpindleKnowledge.COMMANDED, Guard.POLLED),
        ("chatter", True, False, False, False, SpindleKnowledge.BY_HAND, Guard.POLLED),
    ],
)
def test_facts_follow_from_what_the_profile_can_tell(
    shape: str,
    circuit: bool,
    offsets: bool,
    in_force: bool,
    on_miss: bool,
    spindle: SpindleKnowledge,
    guard: Guard,
) -> None:
    """A profile that cannot tell something says so, and the facts follow."""
    facts = adapter(shape).facts
    told = (facts.circuit_known, facts.offsets_readable, facts.in_force_known, facts.alarm_on_miss)
    assert told == (circuit, offsets, in_force, on_miss)
    assert (facts.spindle, facts.guard) == (spindle, guard)


@pytest.mark.parametrize("name", ["circuit_known", "offsets_readable", "alarm_on_miss"])
def test_nobody_can_claim_more_than_the_profile_tells(name: str) -> None:
    """What the controller can tell is no option."""
    with pytest.raises(TypeError, match=name):
        adapter("chatter", **{name: True})


def test_guard_cannot_be_polled_where_nothing_is_told_during_a_move() -> None:
    """A promise that the circuit is looked at needs a controller that tells it."""
    with pytest.raises(ValueError, match="polled"):
        adapter("terse", guard="polled")


def test_look_interval_is_never_shorter_than_the_state_is_told() -> None:
    """A state that comes every 0.1 s cannot be looked at every 0.02 s."""
    assert adapter("chatter", look_interval_s=0.02).facts.look_interval_s == 0.1


@pytest.mark.parametrize("missing", ["port", "profile", "envelope", "acceleration", "rapid_feed", "resolution"])
def test_what_is_missing_is_named(missing: str) -> None:
    """Machine facts have no defaults that could be wrong for a real machine."""
    options = {"port": PORT, "profile": "practice", **FACTS}
    del options[missing]
    with pytest.raises(TypeError, match=missing):
        SerialAdapter(**options)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("baud", "fast"),
        ("baud", 0),
        ("clock_scale", 0.0),
        ("top_feed", "12 furlongs"),
        ("envelope", [0, 1]),
        ("latch_s", 0.1),
        ("home", "sweet"),
        ("resolution", float("nan")),
    ],
)
def test_unusable_values_are_named(name: str, value: object) -> None:
    """A wrong value gives a sentence with its name."""
    with pytest.raises(ValueError, match=name.split("_")[0]):
        adapter(**{name: value})


def test_quantities_may_have_units() -> None:
    """Lengths and feeds are written as people write them."""
    facts = adapter(resolution="0.0001 in", rapid_feed="60 in/min", home="none").facts
    assert facts.resolution == pytest.approx(0.00254)
    assert facts.rapid_feed == pytest.approx(1524.0)
    assert facts.home is Home.NONE


@pytest.mark.parametrize(
    "url", ["/dev/ttyUSB0", "/dev/serial/by-id/usb-x_y-if00", "COM3", "socket://h:1", "rfc2217://h:1", "loop://"]
)
def test_ports_of_known_kinds_are_accepted(url: str) -> None:
    """Devices, sockets, remote ports, and the loop for tests."""
    assert check_url(url) == url


@pytest.mark.parametrize(
    "url",
    [
        "spy:///dev/ttyUSB0?file=/etc/passwd",
        "alt://x",
        "hwgrep://.*",
        "http://h",
        "/etc/passwd",
        "",
        None,
        "COM3\n",
        7,
    ],
)
def test_other_ports_are_refused(url: object) -> None:
    """Kinds of address that write files or guess are refused, and so is what is no port at all."""
    with pytest.raises(ValueError, match="port"):
        check_url(url)
