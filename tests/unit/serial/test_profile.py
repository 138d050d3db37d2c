"""Wire profiles: what is refused, and with which words."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

import gingerly_serial
from gingerly_serial.profile import FIELDS, ProfileError, load, parse
from support.practice import SHAPES, profile_of

SHIPPED = (Path(gingerly_serial.__file__).parent / "profiles" / "practice.toml").read_text("utf-8")


def refusal(old: str, new: str) -> str:
    """What is said of the shipped profile with one thing changed."""
    assert old in SHIPPED
    with pytest.raises(ProfileError) as caught:
        parse(SHIPPED.replace(old, new), "mine.toml")
    return str(caught.value)


@pytest.mark.parametrize("shape", SHAPES)
def test_every_profile_of_the_tests_is_usable(shape: str) -> None:
    """Four shapes: sentences, commas, JSON lines, key=value in several lines."""
    assert load(profile_of(shape)).name == shape


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('ending = "lf"', 'ending = "nl"', "line.ending: "),
        ('ending = "lf"', 'endings = "lf"', "line: there is no key 'endings'; did you mean 'ending'?"),
        ("longest = 400", "longest = 400000", "line.longest: must be a whole number of at most 4096"),
        ('name = "practice"', 'name = ""', "name: must be a text of at least 1 characters"),
        ('effect = "brakes"', 'effect = "breaks"', "stop.effect: must be one of brakes, restarts, not 'breaks'"),
        ('means = "contact"', 'means = "contakt"', "did you mean 'contact'?"),
        ('means = "accepted"', 'means = "taken"', "reply 2.means: must be one of accepted, alarm"),
        ("resting =", "resing =", "words.mode: must be one of alarm, moving, resting, not 'resing'; did you mean"),
        ("ask = { byte = 5 }", "ask = 5", "state.ask: must be a table, not a whole number"),
        ("decimals = 4", 'decimals = "4"', "line.decimals: must be a whole number, not a text"),
        ("wait_s = 1.0", "wait_s = nan", "opening.wait_s"),
        ("wait_s = 1.0", "wait_s = inf", "opening.wait_s"),
        ('answered = "on receipt"', 'answered = "whenever"', "commands.answered"),
        ("{number:whole} is taken", "is taken", "commands.numbered: "),
        ('means = "accepted"', 'means = "nothing"', "no reply means 'accepted'"),
        ('means = "done"', 'means = "nothing"', "moves.over: no reply means 'done'"),
        (
            'at {x:number}, {y:number}, {z:number}",\n    "tip',
            'at {x:number}, {y:number}",\n    "tip',
            "x, y and z",
        ),
        ("{mode:word}", "{mood:word}", "the field 'mood' is unknown"),
        ("ask = { byte = 5 }", "ask = { byte = 71 }", "could become part of a command"),
        ("ask = { byte = 5 }", "ask = { byte = 10 }", "a line ending"),
        ("ask = { byte = 5 }", "ask = { byte = 300 }", "state.ask.byte"),
        ("ask = { byte = 5 }", "", "state: give either ask, or every_s"),
        ('"TELL ORIGIN {offset}"', '"TELL ORIGIN"', "say which one"),
        ('"TELL ORIGIN {offset}"', '"TELL {depth}"', "only {offset} and {system} stand for something"),
        ('circuit = { open = ["apart"], closed = ["joined"] }', "", "words.circuit"),
        ('coordinates = "machine"   # or "work"', 'coordinates = "abroad"', "state.coordinates"),
        ('miss = "told"', 'miss = "refused"', "contact.miss_codes"),
    ],
)
def test_what_is_wrong_is_named_with_its_key(old: str, new: str, said: str) -> None:
    """Each mistake gives one sentence with the file and the key, never a traceback."""
    found = refusal(old, new)
    assert found.startswith("mine.toml: ")
    assert said in found


@pytest.mark.parametrize(
    "line",
    ["G0 X100", "g1x5", "X 10", "M3", "m 3 s1000", "Z-40", "go X10", "TELL\\nG0 X1", "TELL\\u0018", "S1000", "T1"],
)
def test_profile_cannot_send_a_motion(line: str) -> None:
    """A stranger's profile may ask with a line of its own, but never with one that could move anything."""
    assert "state.ask.line" in refusal("ask = { byte = 5 }", f'ask = {{ line = "{line}" }}')


@pytest.mark.parametrize("line", ["HOW ARE YOU", "M114", "STATUS", "?", "where? {offset}"])
def test_profile_may_ask_in_words_of_its_own(line: str) -> None:
    """A question that is none of the report's commands is allowed."""
    parse(SHIPPED.replace("ask = { byte = 5 }", f'ask = {{ line = "{line}" }}'))


def test_shipped_profile_shows_every_table_and_says_what_it_is() -> None:
    """The profile that ships is the example to copy: it has every table, and says that it is an invention."""
    table: dict[str, Any] = tomllib.loads(SHIPPED)
    assert {"line", "opening", "commands", "moves", "state", "contact", "offsets", "stop", "clear", "words"} <= set(
        table
    )
    assert "invention of this project" in SHIPPED


@pytest.mark.parametrize(
    "word", ["ok", "error", "idle", "hold", "run", "jog", "home", "status", "busy", "wait", "|", "<", "["]
)
def test_shipped_profile_sounds_like_no_controller_that_anybody_could_name(word: str) -> None:
    """No bare words, brackets or bars that practitioners would recognise."""
    replies = tomllib.loads(SHIPPED)["reply"]
    said = " ".join(str(form.get("text", "")) + " ".join(form.get("pieces", [])) for form in replies)
    literal = "".join(part.partition("}")[2] or part for part in said.split("{"))
    assert word not in literal.lower().replace(",", " ").split()
    assert word.isalpha() or word not in literal


def test_every_field_is_described() -> None:
    """The list of fields and its description agree."""
    from gingerly_serial import profile

    text = Path(profile.__file__).read_text("utf-8")
    described = text.split('"""The fields of a reply.')[1] if '"""The fields of a reply.' in text else text
    for field in FIELDS:
        stem = field.split("_")[0] + "_…" if field.startswith(("origin_", "shift_")) else field
        assert stem in described


def test_missing_file_is_said_to_be_missing(tmp_path: Path) -> None:
    """A profile that is not there gives its name."""
    with pytest.raises(ProfileError, match=r"none\.toml"):
        load(tmp_path / "none.toml")
