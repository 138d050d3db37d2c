"""The table is readable in 80 columns, and the progress lines tell what happened."""

from __future__ import annotations

import io

import pytest

from gingerly import Answer, Question
from gingerly.cli.progress import Teller
from gingerly.cli.table import clock, draw, plain
from gingerly.driver.events import Asked
from gingerly.report import Row

WIDEST = Row(
    part="a name that is much too long for a column",
    offset=9,
    axis="ΔZ",
    before=-1234.567,
    found=-1234.567,
    truth=-1234.567,
    error_um=-1234.0,
    touches=12,
    time_s=59999.0,
)


def test_even_a_wide_table_fits_into_80_columns() -> None:
    assert max(len(line) for line in plain([WIDEST])) <= 80


def test_a_name_that_is_too_long_is_cut_visibly() -> None:
    assert plain([WIDEST])[3].startswith("a name that is …")


def test_columns_line_up() -> None:
    lines = plain([Row(part="lid", axis="X", found=1.0), Row(axis="Y", found=-200.25)])
    assert lines[3].index("1.000") + 5 == lines[4].index("-200.250") + 8


def test_a_remark_takes_the_place_of_the_numbers_and_touches_stay() -> None:
    line = plain([Row(part="lid", offset=3, remark="skipped: NoContact", touches=2, time_s=61.0), WIDEST])[3]
    assert line.split("  ")[0] == "lid"
    assert "skipped: NoContact" in line
    assert line.endswith("1:01")


@pytest.mark.parametrize(("error_um", "shown"), [(0.4, " 0"), (-0.4, " 0"), (12.6, "+13"), (-12.6, "-13")])
def test_errors_are_whole_micrometres_with_their_sign(error_um: float, shown: str) -> None:
    assert plain([Row(axis="X", error_um=error_um)])[3].endswith(shown)


def test_nothing_is_drawn_where_there_is_no_terminal() -> None:
    stream = io.StringIO()
    draw([Row(part="lid")], stream)
    assert "\x1b" not in stream.getvalue()


def test_time_is_minutes_and_seconds() -> None:
    assert (clock(None), clock(0.0), clock(59.6), clock(3600.0)) == ("", "0:00", "1:00", "60:00")


def test_the_steps_of_a_circuit_check_are_one_line() -> None:
    teller = Teller()
    steps = (Question.CLOSE_AT_TIP, Question.OPEN, Question.CLOSE_AT_FLANK, Question.CLEAR)
    lines = [teller.line(Asked(question, Answer.YES, 0.0)) for question in steps]
    assert lines == ["", "", "", "    operator: close at tip, open, close at flank, clear"]


def test_a_refusal_of_the_operator_is_told_at_once() -> None:
    assert Teller().line(Asked(Question.CLEAR, Answer.NO, 0.0)) == "    operator: clear: no"
