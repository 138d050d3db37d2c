"""Plain data into facts, for adapters: names are known, values have their kind, and messages name the option."""

from __future__ import annotations

import pytest

from gingerly import Guard, MachineFacts, Position
from gingerly.geometry import Box, Limits
from gingerly.options import FACTS, between, box, check_known, fact, flag, limits, member, position, stated, whole

BENCH = Box(Position(0.0, 0.0, -80.0), Position(300.0, 200.0, 0.0))


def test_every_fact_of_a_machine_can_be_stated_and_comes_back_as_it_is() -> None:
    facts = MachineFacts(
        name="attic mill", envelope=BENCH, resolution=0.01, acceleration=9, top_feed=90, rapid_feed=99
    )
    values = stated(facts, FACTS, "no")
    assert {name: fact(name, value) for name, value in values.items()} == values
    assert MachineFacts(**values) == facts


def test_facts_are_written_as_people_write_them() -> None:
    table = {"envelope": {"low": ["-1 in", 0, 0], "high": {"x": 1, "y": 2, "z": 3}}, "guard": "polled"}
    values = stated(table, FACTS, "no")
    assert values == {"envelope": Box(Position(-25.4, 0.0, 0.0), Position(1.0, 2.0, 3.0)), "guard": Guard.POLLED}


def test_a_name_that_is_not_known_is_told_with_the_nearest_one() -> None:
    with pytest.raises(TypeError, match=r"has no 'guad'; the nearest is 'guard'"):
        stated({"guad": "none"}, FACTS, "this machine has no")
    with pytest.raises(KeyError):
        fact("colour", "blue")
    check_known([], [], "nothing is asked")


@pytest.mark.parametrize(
    ("read", "named"),
    [
        (lambda: position([1, 2], "place"), "place must be three lengths"),
        (lambda: position({"x": 1}, "place"), "place must be"),
        (lambda: box([1, 2], "room"), "room must be a table with low and high"),
        (lambda: box({"low": [0, 0, 0], "high": 1}, "room"), "room high must be"),
        (lambda: limits(1.0, "latch_s"), "latch_s must be two numbers"),
        (lambda: member(Guard, "maybe", "guard"), "guard must be one of 'none', 'polled', 'sensed', not 'maybe'"),
        (lambda: flag("ideal", 1), "ideal must be true or false, not 1"),
        (lambda: whole("baud", True, 0, 9), "baud must be a whole number from 0 to 9, not True"),
        (lambda: between("clock_scale", 11.0, 0.1, 10.0), "clock_scale must lie from 0.1 to 10, not 11"),
        (lambda: stated(7, FACTS, "no"), "facts must be machine facts or a table"),
    ],
)
def test_a_value_that_cannot_be_used_is_refused_by_name(read, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        read()


def test_limits_are_a_pair_or_a_table() -> None:
    assert limits([0, 0.003], "latch_s") == limits({"low": 0, "high": 0.003}, "latch_s") == Limits(0.0, 0.003)
