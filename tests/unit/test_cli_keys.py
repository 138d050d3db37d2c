"""What a terminal sends becomes keys, and a place that is kept changes one line of a job and no other."""

from __future__ import annotations

import pytest

from gingerly import Position
from gingerly import job as jobs
from gingerly.cli.keys import split
from gingerly.cli.place import as_toml, with_place
from support.jobs import SOUND

PLACE = Position(12.3456, -7.0, -40.25)


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        ("\x1b[A", ["up"]),
        ("\x1bOB", ["down"]),
        ("\x1b[C\x1b[Dx", ["right", "left", "x"]),
        ("\x1b[5~\x1b[6~", ["page up", "page down"]),
        ("zZ \n", ["z", "Z", " ", "enter"]),
        ("\x1b[15~", ["\x1b[15~"]),
        ("\x1b", ["\x1b"]),
        ("", []),
    ],
)
def test_keys_are_told_by_what_terminals_send_for_them(sent: str, keys: list[str]) -> None:
    """Arrow keys: ECMA-48 cursor sequences and their application form; page keys: common practice, no source."""
    assert split(sent) == keys


def test_a_place_is_written_to_a_micrometre() -> None:
    assert as_toml(PLACE) == "{ x = 12.346, y = -7.000, z = -40.250 }"


def test_only_the_line_of_that_part_changes_and_what_stands_behind_it_stays() -> None:
    text = SOUND.replace("place = { x = 170, y = 40, z = -45 }", "  place   = { x = 170, y = 40, z = -45 } # lid")
    changed = with_place(text, "lid 2", PLACE)
    assert changed is not None
    before, after = text.split("\n"), changed.split("\n")
    differing = [new for old, new in zip(before, after, strict=True) if old != new]
    assert differing == [f"  place   = {as_toml(PLACE)} # lid"]


def test_the_height_of_a_part_that_lay_here_becomes_a_comment() -> None:
    text = SOUND.replace("place = { x = 170, y = 40, z = -45 }", 'place = "here"\nheight = "6 mm"')
    changed = with_place(text, "lid 2", PLACE)
    assert changed is not None
    assert '# height = "6 mm"' in changed
    assert jobs.loads(changed).parts[2].spot.place == Position(12.346, -7.0, -40.25)


@pytest.mark.parametrize(
    "text",
    [
        SOUND.replace("lid 2", "lid 9"),
        SOUND.replace("place = { x = 170, y = 40, z = -45 }", "place.x = 170\nplace.y = 40\nplace.z = -45"),
        SOUND.replace("place = { x = 170, y = 40, z = -45 }", "") + "\n[parts.place]\nx = 1\ny = 2\nz = 3\n",
    ],
    ids=["no such part", "dotted keys", "a table of its own"],
)
def test_a_place_whose_line_cannot_be_told_for_sure_is_left_alone(text: str) -> None:
    assert with_place(text, "lid 2", PLACE) is None
