"""Patterns: literal text with typed fields, read in one pass."""

from __future__ import annotations

import pytest

from gingerly_serial.grammar import Fields, PatternError, compile_pattern


@pytest.mark.parametrize(
    ("pattern", "line", "fields"),
    [
        ("at {x:number}, {y:number}", "at 1.5, -2", {"x": 1.5, "y": -2.0}),
        ("at {x:number}", "at  +.5 ", {"x": 0.5}),
        ("{n:whole}|{w:word}", "007|G59.1", {"n": 7, "w": "G59.1"}),
        ("no {why:rest}", "no such luck", {"why": "such luck"}),
        ("no {why:rest}", "no", {"why": ""}),
        ("{{{x:number}}}", "{3}", {"x": 3.0}),
        ("{_:word} {x:number}", "whatever 4", {"x": 4.0}),
        ("at {x:number}", "at 1.2.3", None),
        ("at {x:number}", "at 1e3", None),
        ("at {x:number}", "at ١", None),
        ("at {x:number}", "at nan", None),
        ("at {x:number}", "at 1 or so", None),
        ("at {x:number}", "At 1", None),
        ("{n:whole}", "-1", None),
        ("{x:number}", "9" * 25, None),
        ("", "", "an empty pattern"),
        ("{x:number}{y:number}", "", "nothing between"),
        ("{x:number} {x:number}", "", "a field twice"),
        ("{why:rest} {x:number}", "", "something after the rest"),
        ("{x}", "", "no kind"),
        ("{x:regex}", "", "no such kind"),
        ("{x:number", "", "never closed"),
        ("x:number}", "", "never opened"),
        ("tab\there", "", "not printable"),
        ("größe {x:number}", "", "not ASCII"),
        ("x" * 513, "", "too long"),
    ],
)
def test_pattern_reads_just_what_it_spells(pattern: str, line: str, fields: Fields | str | None) -> None:
    """A line fits or does not; a pattern that could be read in more ways than one is refused (reason as text)."""
    if isinstance(fields, str):
        with pytest.raises(PatternError):
            compile_pattern(pattern)
    else:
        assert compile_pattern(pattern).match(line) == fields


def test_unknown_field_is_named_with_the_known_ones() -> None:
    """A slip in a profile is answered with what would have been right."""
    with pytest.raises(PatternError, match="'xx' is unknown; known are x, y"):
        compile_pattern("{xx:number}", known=frozenset({"x", "y"}))
