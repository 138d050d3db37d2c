"""Lines into meanings: each shape of reply as a controller sends it, six lines each."""

from __future__ import annotations

import pytest

from gingerly import Circuit, Position, Spindle
from gingerly_serial.hearing import Ear
from gingerly_serial.profile import load
from gingerly_serial.report import Report, state
from support.practice import profile_of

CONVERSATIONS: dict[str, list[tuple[str, str | None]]] = {
    "practice": [
        ("good day, practice controller here, start 3", "greeting"),
        ("line 12 is taken", "accepted"),
        ("line 12 is declined for reason limit: beyond Z", "refused"),
        ("line 12 met metal at 1.0, -2.5, 0.125", "contact"),
        ("line 12 met metal at 1.0, -2.5", None),
        ("line twelve is taken", None),
    ],
    "terse": [
        ("* 3", "greeting"),
        ("+", "accepted"),
        ("- 17", "refused"),
        ("*** 31", "alarm"),
        ("T,0.1,0.2,-0.3", "contact"),
        ("S,0,0,0,0,0", None),
    ],
    "objects": [
        ('{"topic": "reply", "fine": true, "to": 7}', "accepted"),
        ('{"topic": "reply", "fine": false, "to": 7, "why": {"short": "no", "long": "never"}}', "refused"),
        ('{"to": 7, "topic": "feel", "at": [1, 2.5, -3], "felt": true}', "contact"),
        ('{"topic": "weather"}', None),
        ('{"topic": "feel", "at": [1, NaN, 3]}', None),
        ('{"topic": "feel", "at": [1e400, 0, 0]}', None),
        ('{"topic": "feel", "at": [1e12, 0, 0]}', None),
        ('{"topic": "feel", "at": ["1.5", "0", "0"]}', "contact"),
        ("[" * 4000, None),
    ],
    "chatter": [
        ("noted.", "accepted"),
        ("no way (void) nothing there", "refused"),
        ("felt z=3 yes=y x=1 y=2", "contact"),
        ("am flags=hc mode=asleep", "state"),
        ("place x=1 y=2 z=-3 extra=9", "state"),
        ("that is all folks", None),
    ],
}


@pytest.mark.parametrize(
    ("shape", "line", "means"), [(s, *pair) for s, lines in CONVERSATIONS.items() for pair in lines]
)
def test_line_means_what_the_profile_says_or_nothing(shape: str, line: str, means: str | None) -> None:
    """A reply is recognised by its form; what fits no form means nothing."""
    heard = Ear(load(profile_of(shape))).understand(line.encode())
    assert (heard.means if heard else None) == means


def told(shape: str, line: str) -> Report:
    profile = load(profile_of(shape))
    heard = Ear(profile).understand(line.encode())
    assert heard is not None
    found = state(profile, heard.fields)
    assert found is not None
    return found


def test_inches_become_millimetres_exactly() -> None:
    """Source: international inch, 1959: 25.4 mm exactly."""
    report = told("terse", "S,0,1.0,-0.5,0.25,1,0,1,0,0,0,0")
    assert report.at == pytest.approx(Position(25.4, -12.7, 6.35))
    assert (report.circuit, report.spindle, report.homed) == (Circuit.CLOSED, Spindle.STILL, True)


def test_unknown_word_tells_nothing_rather_than_something() -> None:
    """A mode and a circuit in words that the profile does not list are unknown, not at rest and open."""
    line = '{"topic": "mood", "is": "dizzy", "at": [0, 0, 0], "metal": "maybe", "knows": true}'
    report = told("objects", line)
    assert (report.resting, report.circuit, report.homed) == (None, None, True)


def test_what_is_in_force_is_told_part_by_part() -> None:
    """A shift and a slowed feed show; what the state leaves out is None, not harmless."""
    line = '{"topic": "mood", "is": "calm", "at": [0, 0, 0], "extra": {"shift": [1, 0, 0], "pace": 50}}'
    forced = told("objects", line).in_force
    assert forced is not None
    assert forced.shift == Position(1.0, 0.0, 0.0)
    assert (forced.override, forced.tool_length, forced.inch) == (0.5, None, None)


def test_flags_that_are_absent_mean_the_opposite() -> None:
    """Letters in a field: closed and homed where they stand there, open and not in alarm where they do not."""
    from gingerly_serial.ledger import Ledger

    profile = load(profile_of("chatter"))
    ear, book = Ear(profile), Ledger(profile)
    for line in (b"am mode=asleep flags=hc", b"place x=1 y=2 z=3", b"that is all"):
        heard = ear.understand(line)
        assert heard is not None
        book.take(heard, 0.0)
    assert book.latest is not None
    assert (book.latest.circuit, book.latest.homed, book.latest.alarm) == (Circuit.CLOSED, True, False)
