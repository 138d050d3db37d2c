"""Job files beyond what a job may hold, or of the wrong kind: told at the key, in words of a bounded length."""

from __future__ import annotations

import pytest

from support.jobs import SOUND, complaints, spoiled


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("height = 14", "height = true", "plates.corner.height: "),
        ("offset = 2", "offset = 2\nnew_blank = 1", "parts[2].new_blank: is 1; must be true or false"),
        ("offset = 2", "offset = 2\nwave = 1.5", "parts[2].wave: "),
        ("offset = 2", "offset = [2]", "parts[2].offset: "),
        (
            "offset = 2",
            'offset = "record only"\ngrid = { rows = 1000, columns = 1000, pitch_x = 1, pitch_y = 1 }',
            "parts[2]: the grid has more than 100000 places; split the job",
        ),
        (
            "place = { x = 170, y = 40, z = -45 }",
            'place = "here"\nheight = 6\ngrid = { rows = 1, columns = 2, pitch_x = 30 }',
            'a grid needs a place with x, y and z, not "here"',
        ),
        (
            "place = { x = 220, y = 150, z = -45 }",
            'place = "here"\nheight = 6',
            "'pad' has no place; give it x, y and z instead of \"here\"",
        ),
        ('compare_with = "pad"', 'compare_with = "pod"', "no earlier part is called 'pod'; did you mean 'pad'?"),
        ("diameter = 4\n", "diameter = -4\n", "tools.cutter.diameter: "),
    ],
)
def test_what_a_job_may_not_say_is_told_where_it_stands(old: str, new: str, told: str) -> None:
    found = complaints(spoiled(old, new))
    assert any(told in line for line in found), found


def test_of_a_spoiled_tool_only_the_tool_is_told_and_not_the_parts_that_use_it() -> None:
    """A tool change compares with a part whose tool could be read; its own could not."""
    (only,) = complaints(spoiled("free_length = 15", "free_length = -15"))
    assert "tools.cutter.free_length" in only


def test_a_job_without_any_tool_cannot_be_done() -> None:
    found = complaints(SOUND[: SOUND.index("[tools.")] + "[tools]\n\n" + SOUND[SOUND.index("[plates.") :])
    assert found[0] == "lids.toml: tools: is empty; must have at least one table"


def test_whatever_a_problem_quotes_is_kept_short() -> None:
    (only, *_) = complaints(spoiled('name = "lid 2"\nroutine = "surface"', f'name = "x"\nroutine = "{"s" * 3000}"'))
    assert len(only) < 500
    assert only.endswith("…")


def test_facts_are_said_once() -> None:
    text = spoiled("seed = 11", 'facts = "facts.toml"') + "\n[machine.facts]\nacceleration = 200\n"
    assert any("say them once" in line for line in complaints(text))
