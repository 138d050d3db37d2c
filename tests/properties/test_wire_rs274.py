"""Everything that can be sent, read back by a small reader written from the report alone (NISTIR 6556, 3.3)."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gingerly import Axis, Position
from gingerly_serial import rs274

WORD = re.compile(r"([A-Z])([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
"""A word: a letter and a real number without exponent. Source: NISTIR 6556, 3.3.2 and 3.3.2.1."""

MOTION = {"0", "1", "2", "3", "38.2", "80"}
GROUPS = [MOTION, {"17", "18", "19"}, {"90", "91"}, {"93", "94"}, {"20", "21"}, {"40", "41", "42"}, {"43", "49"}]
GROUPS += [{"54", "55", "56", "57", "58", "59", "59.1", "59.2", "59.3"}, {"4", "10", "28", "30", "53", "92"}]
"""The modal groups that matter here. Source: NISTIR 6556, Table 4."""

coordinates = st.floats(-5000.0, 5000.0)
positions = st.builds(Position, coordinates, coordinates, coordinates)
feeds = st.floats(0.01, 100_000.0)
places = st.integers(2, 6)
anything = st.one_of(st.text(), st.binary(), st.none(), st.floats(), st.integers(), st.lists(st.text()))


def read(line: str) -> list[tuple[str, str]]:
    """The words of a line, letter and number as they stand; fails for anything that is not one."""
    assert len(line) <= 256
    assert line.isascii()
    assert line.isprintable()
    words, at = [], 0
    text = line.replace(" ", "")
    while at < len(text):
        match = WORD.match(text, at)
        assert match, text[at:]
        words.append((match[1], match[2]))
        at = match.end()
    return words


def checked(line: str) -> dict[str, float]:
    """The other words of a line by letter, after looking at what the report forbids."""
    words = read(line)
    codes = [number for letter, number in words if letter == "G"]
    for group in GROUPS:
        assert len(group.intersection(codes)) <= 1
    others = [letter for letter, _ in words if letter != "G"]
    assert len(others) == len(set(others))
    assert not any(number in ("-0", "-0.0") for _, number in words)
    if "53" in codes:
        assert {"0", "1"}.intersection(codes)
    return {letter: float(number) for letter, number in words if letter != "G"}


@given(positions, st.none() | feeds, places)
def test_traverse_reads_back_as_the_target_in_machine_coordinates(
    to: Position, feed: float | None, decimals: int
) -> None:
    """A traverse holds G53 with G0 or G1, all axes to the decimals asked for, and the feed where there is one."""
    line = rs274.traverse(to, feed, decimals=decimals)
    words = checked(line)
    assert (words["X"], words["Y"], words["Z"]) == pytest.approx(tuple(to), abs=0.51 * 10.0**-decimals)
    assert ("F" in words) == (feed is not None)
    assert feed is None or words["F"] == pytest.approx(feed, abs=0.0051)


@given(positions, feeds, places)
def test_sense_is_a_probe_with_a_feed_and_without_machine_coordinates(
    way: Position, feed: float, decimals: int
) -> None:
    """G38.2 never stands with G53, which the report allows with G0 and G1 only, and always has its feed."""
    for line in (
        rs274.sense_relative(way, feed, decimals=decimals),
        rs274.sense_in_work(way, feed, decimals=decimals),
    ):
        words = checked(line)
        assert ("G", "38.2") in read(line)
        assert ("G", "53") not in read(line)
        assert words["F"] > 0.0
        assert (words["X"], words["Y"], words["Z"]) == pytest.approx(tuple(way), abs=0.51 * 10.0**-decimals)


@given(st.integers(1, 9), st.dictionaries(st.sampled_from(Axis), coordinates, min_size=1), places)
def test_offset_is_set_in_one_line_with_just_the_axes_named(
    number: int, axes: dict[Axis, float], decimals: int
) -> None:
    """G10 L2 names the system and exactly the axes that are to change."""
    words = checked(rs274.set_offset(number, axes, decimals=decimals))
    assert (words.pop("L"), words.pop("P")) == (2.0, float(number))
    assert set(words) == {axis.name for axis in axes}


@given(st.floats(-999_999.0, 999_999.0), st.integers(0, 6))
def test_number_is_plain_never_negative_zero_and_reads_back(value: float, decimals: int) -> None:
    """A number has no exponent, no sign on zero, and is within half a last digit of what was meant."""
    text = rs274.number(value, decimals)
    assert re.fullmatch(r"-?[0-9]+(\.[0-9]*[1-9])?", text)
    assert text != "-0"
    assert float(text) == pytest.approx(value, abs=0.51 * 10.0**-decimals, rel=1e-15)


@given(anything)
def test_nothing_but_numbers_gets_into_a_line(what: Any) -> None:
    """Names with line ends, control characters, G-code or Unicode digits raise, or are finite numbers."""
    try:
        text = rs274.number(what, 4)
    except (TypeError, ValueError):
        return
    assert isinstance(what, int | float)
    assert re.fullmatch(r"-?[0-9.]+", text)


@given(anything)
def test_nothing_but_one_to_nine_names_a_work_offset(what: Any) -> None:
    """A work offset's number is a whole number from 1 to 9, or refused."""
    try:
        line = rs274.set_offset(what, {Axis.X: 1.0}, decimals=3)
    except (TypeError, ValueError):
        return
    assert what in range(1, 10)
    assert line == f"G10 L2 P{what} X1"


@given(st.text())
def test_text_that_is_not_plain_never_leaves(text: str) -> None:
    """The last gate lets printable ASCII of at most 256 characters pass and nothing else."""
    try:
        rs274.checked(text)
    except ValueError:
        return
    assert len(text) <= 256
    assert all(" " <= char <= "~" for char in text)
