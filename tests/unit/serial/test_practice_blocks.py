"""The practice controller's own reader of RS274/NGC, against the report's rules and examples (NISTIR 6556)."""

from __future__ import annotations

import pytest

from gingerly_serial.practice.blocks import BadBlock, read_block


def test_blanks_mean_nothing() -> None:
    """Source: 3.3: ``g0x +0. 12 34y 7`` is the same as ``g0 x+0.1234 y7``."""
    block = read_block("g0x +0. 12 34y 7")
    assert block.g == {"motion": "0"}
    assert block.words == {"X": 0.1234, "Y": 7.0}


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("G0 G1 X1", "group"),
        ("G20 G21", "group"),
        ("X1 X2", "twice"),
        ("N000009 G0 X1", "number"),
        ("G0 X1e3", "letter"),
        ("G38.3 Z-1", "unknown"),
        ("G0 X--1", "number"),
        ("(a (b) c)", "comment"),
        ("G0 X1 (open", "comment"),
        ("G0 X1 ; words", "letter"),
        ("M99", "unknown"),
        ("G0 X" + "1" * 300, "long"),
    ],
)
def test_what_the_report_does_not_allow_is_an_error(line: str, code: str) -> None:
    """Sources: 3.3, 3.3.1, 3.3.2.1, 3.3.4, 3.3.5, and Table 4."""
    with pytest.raises(BadBlock) as caught:
        read_block(line)
    assert caught.value.code == code


def test_line_number_comment_and_block_delete_are_passed_over() -> None:
    """Sources: 2.2.2, 3.3.1, 3.3.4."""
    block = read_block("/N12 G90 (MSG, hello) G53 G1 Z-1.5 F60")
    assert block.g == {"distance": "90", "other": "53", "motion": "1"}
    assert block.axes == {"Z": -1.5}
