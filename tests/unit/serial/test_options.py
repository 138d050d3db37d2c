"""What the adapter can be told, and what it will not believe."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from gingerly import Guard, Home, LinkLost, SpindleKnowledge
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
        ("profile", 3),
        ("profile", ""),
        ("transcript", 3),
        ("transcript", "a\0b"),
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
        "socket://h",
        "socket://:4000",
        "socket://h:99999",
        "socket://h:http",
        "rfc2217://h",
    ],
)
def test_other_ports_are_refused(url: object) -> None:
    """Kinds of address that write files or guess are refused, and so is what is no port at all."""
    with pytest.raises(ValueError, match="port"):
        check_url(url)


def test_a_transcript_that_cannot_be_kept_is_bad_input(tmp_path: Path) -> None:
    """Its folder is missing, or it is a folder itself: said before anything is opened, and no file is made."""
    with pytest.raises(
        ValueError, match=r"the transcript '.*none/t\.jsonl' cannot be kept: its folder does not exist"
    ):
        adapter(transcript=str(tmp_path / "none" / "t.jsonl"))
    with pytest.raises(ValueError, match="cannot be kept: it is a folder"):
        adapter(transcript=str(tmp_path))
    assert adapter(transcript=str(tmp_path / "t.jsonl")) is not None
    assert list(tmp_path.iterdir()) == []


@pytest.mark.asyncio
async def test_a_transcript_that_can_no_longer_be_kept_ends_the_opening_as_a_fault(tmp_path: Path) -> None:
    """The folder goes away in between: nothing is sent, nothing was moved, and the file is named."""
    (tmp_path / "folder").mkdir()
    opened = adapter(transcript=tmp_path / "folder" / "t.jsonl")
    (tmp_path / "folder").rmdir()
    with pytest.raises(
        LinkLost, match=r"the transcript '.*t\.jsonl' cannot be kept: there is nothing of this name"
    ):
        await opened.open()
    assert opened.exchanges == 0


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("port", "reason"),
    [
        ("/dev/no-such-device", "there is nothing of this name"),
        ("/dev/null", "it is no serial port"),
        ("socket://127.0.0.1:1", "nobody serves there"),
        ("rfc2217://127.0.0.1:1", "nobody serves there"),
    ],
)
async def test_a_port_that_cannot_be_opened_is_no_link_that_has_gone(port: str, reason: str) -> None:
    """It says so, with the reason in words, and asks for the name and for other programs."""
    with pytest.raises(LinkLost) as caught:
        await adapter(port=port).open()
    story = caught.value.story()
    assert story.startswith("NotConnected: the controller could not be connected to\n")
    assert f"the port {port} cannot be opened: {reason}\n" in story
    assert "does another program hold the port?" in story
