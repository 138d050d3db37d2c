"""What the practice controller can be asked to do wrong, and how a wish that would do nothing is answered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args

import pytest

from gingerly_mock.faults import Happening
from gingerly_serial.commands import _table
from gingerly_serial.practice.mischief import KEYS, SAID, SUFFERED, Mischief
from gingerly_serial.practice.server import Server
from gingerly_serial.profile import Means


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(_table("practice"), speed=1000.0)
    yield made
    made.close()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (3, "mischief must be a JSON object"),
        ([], "mischief must be a JSON object"),
        ({}, "mischief must say what"),
        ({"what": 3}, "no mischief is called 3"),
        ({"what": []}, "no mischief is called a value of type list"),
        ({"what": "resett", "motion": 3}, "no mischief is called 'resett'; did you mean 'reset'"),
        ({"what": "restart"}, "no mischief is called 'restart'"),
        ({"what": "silence", "motion": 3}, "'silence' has no 'motion'; it takes in_s, times"),
        ({"what": "delay", "in_s": 0.5}, "'delay' has no 'in_s'"),
        ({"what": "delay", "whim": 1}, "'delay' has no 'whim'"),
        ({"what": "reset", "motion": 3, "in_s": 0.5}, "either in which motion"),
        ({"what": "reset", "motion": "3"}, "motion must be a whole number of 1 or more, not '3'"),
        ({"what": "reset", "motion": True}, "motion must be a whole number"),
        ({"what": "reset", "motion": 0}, "motion must be a whole number"),
        ({"what": "reset", "in_s": -1}, "in_s must not be negative"),
        ({"what": "reset", "in_s": "soon"}, "in_s must be a plain number"),
        ({"what": "reset", "share": 0.5}, "say which motion"),
        ({"what": "reset", "motion": 1, "share": 1.5}, "share must lie from 0 to 1"),
        ({"what": "drop", "which": "acepted"}, "which must be one of any, greeting, accepted"),
        ({"what": "drop", "nth": 0}, "nth must be a whole number of 1 or more"),
        ({"what": "noise", "amount": float("nan")}, "amount must be a finite number"),
        ({"what": "alarm", "detail": "two\nlines"}, "detail must be a short text"),
        ({"what": "foreign state"}, "detail must be one of shift, tool length"),
    ],
)
def test_mischief_that_could_not_happen_is_refused_when_it_is_given(given: Any, said: str) -> None:
    """Not in the middle of a job, where it would end the controller."""
    with pytest.raises(ValueError, match=said.replace("(", r"\(")):
        Mischief.from_plain(given)


def test_only_replies_that_a_profile_knows_can_be_spoilt() -> None:
    """Those that end a report or mean nothing are never said by themselves."""
    assert {*SAID, "end", "nothing"} == {*get_args(Means), "any"}


@pytest.mark.parametrize("what", SUFFERED)
def test_whatever_the_virtual_machine_is_made_to_suffer_it_can(what: str) -> None:
    """Each of them is a happening of the mock, so nothing fails only when its time comes."""
    detail = "shift" if what == "foreign state" else ""
    assert Happening.from_plain({"what": what, "time_s": 0.0, "detail": detail}).what.value == what


@pytest.mark.parametrize("what", sorted(KEYS))
def test_every_mischief_can_be_given_to_a_served_machine(server: Server, what: str) -> None:
    """By its name alone it is taken; those at a moment happen at once."""
    detail = {"detail": "shift"} if what == "foreign state" else {}
    assert server.hand(
        f'mischief {{"what": "{what}"{", " if detail else ""}{str(detail)[1:-1]}}}'.replace("'", '"')
    )


def test_a_motion_that_has_begun_does_not_come_again(server: Server) -> None:
    """Mischief for a motion of the past would never happen, and is refused."""
    server.controller.receive("N1 G90 G53 G1 X100 F600")
    with pytest.raises(ValueError, match="1 motions have begun already"):
        server.add_mischief({"what": "reset", "motion": 1})
    server.add_mischief({"what": "reset", "motion": 2})
    assert [one.motion for one in server.controller.mischief] == [2]
