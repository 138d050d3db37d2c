"""The lines that are sent, each as it stands."""

from __future__ import annotations

import pytest

from gingerly import Axis, Position
from gingerly_serial import rs274

HOSTILE = ["1\nG0 X9", "G0X9", "1\r", "\x18", "\x05", "٣", "１", "1e3", "nan", "1;M3", "(", b"1", None, [1.0], True]
"""Line ends, control characters, G-code, Unicode digits, and other things that are no number."""


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_values_are_refused_wherever_a_number_belongs(what: object) -> None:
    """I8: no text that a person or a file supplied reaches a controller."""
    for make in (
        lambda: rs274.number(what, 4),  # type: ignore[arg-type]
        lambda: rs274.set_offset(what, {Axis.X: 1.0}, decimals=4),  # type: ignore[arg-type]
        lambda: rs274.set_offset(1, {Axis.X: what}, decimals=4),  # type: ignore[dict-item]
        lambda: rs274.traverse(Position(what, 0.0, 0.0), 100.0, decimals=4),  # type: ignore[arg-type]
        lambda: rs274.traverse(Position(0.0, 0.0, 0.0), what or "", decimals=4),  # type: ignore[arg-type]
    ):
        with pytest.raises((TypeError, ValueError)):
            make()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (-0.00004, "0"),
        (1e-9, "0"),
        (12.5, "12.5"),
        (-3.0, "-3"),
        (123456.7891, "123456.7891"),
    ],
)
def test_number_is_written_as_the_report_reads_it(value: float, text: str) -> None:
    """Source: NISTIR 6556, 3.3.2.1: plain decimals, no exponent."""
    assert rs274.number(value, 4) == text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1e6, 1e300])
def test_number_beyond_any_machine_is_refused(value: float) -> None:
    """A slip of a factor must not become a motion."""
    with pytest.raises(ValueError, match="no number"):
        rs274.number(value, 4)


def test_traverse_is_in_machine_coordinates_and_sets_its_own_distance_mode() -> None:
    """A traverse does not rely on a distance mode that an interrupted sense may have left."""
    assert rs274.traverse(Position(1.0, -2.5, 0.0), None, decimals=4) == "G90 G53 G0 X1 Y-2.5 Z0"
    assert rs274.traverse(Position(1.0, -2.5, 0.0), 120.0, decimals=4) == "G90 G53 G1 X1 Y-2.5 Z0 F120"


def test_sense_is_relative_or_in_a_work_system_never_in_machine_coordinates() -> None:
    """Sources: NISTIR 6556, 3.5.9 and 3.5.12."""
    assert rs274.sense_relative(Position(0.0, 0.0, -12.5), 150.0, decimals=4) == "G91 G38.2 X0 Y0 Z-12.5 F150"
    assert rs274.sense_in_work(Position(1.0, 2.0, -3.0), 150.0, decimals=4) == "G90 G38.2 X1 Y2 Z-3 F150"


def test_offset_line_names_only_what_changes() -> None:
    """Source: NISTIR 6556, 3.5.5: axes that are not named keep their values."""
    assert rs274.set_offset(3, {Axis.Z: -1.25, Axis.X: 4.0}, decimals=4) == "G10 L2 P3 X4 Z-1.25"


def test_feed_that_would_be_written_as_zero_is_refused() -> None:
    """G1 or G38.2 with F0 is an error, or no motion at all."""
    with pytest.raises(ValueError, match="feed"):
        rs274.sense_relative(Position(0.0, 0.0, -1.0), 0.001, decimals=4)


def test_line_number_has_at_most_five_digits() -> None:
    """Source: NISTIR 6556, 3.3.1."""
    assert rs274.numbered(99_999, "G90") == "N99999 G90"
    with pytest.raises(ValueError, match="99999"):
        rs274.numbered(100_000, "G90")


def test_fixed_modal_state_touches_nothing_that_could_falsify_or_hurt() -> None:
    """No shift, tool length offset, spindle, coolant or work system is changed by setting the modal state."""
    words = rs274.MODAL_STATE.split()
    assert words == ["G17", "G21", "G40", "G80", "G90", "G94"]
