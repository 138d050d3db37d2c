"""What people write for a length or a feed, and what is refused."""

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from gingerly.units import FEED_LIMIT, LENGTH_LIMIT, TEXT_LIMIT, feed, length, number, positive_length, shown

LENGTHS = {
    6: 6.0,
    6.5: 6.5,
    "6": 6.0,
    "6 mm": 6.0,
    "6mm": 6.0,
    " 6. mm ": 6.0,
    ".5 mm": 0.5,
    "-2.5 mm": -2.5,
    "+2 mm": 2.0,
    "1/4 in": 6.35,
    "0.25in": 6.35,
    "1 1/2 in": 38.1,
    "-1/8 in": -3.175,
    "1/4 mm": 0.25,
}

FEEDS = {300: 300.0, "300 mm/min": 300.0, "300": 300.0, "12 in/min": 304.8, "5 mm/s": 300.0, "1/2 in/min": 12.7}

NO_LENGTHS = [
    "",
    " ",
    "mm",
    "six mm",
    "6 mm 2",
    "1/2/3 in",
    "1 2 mm",
    "--6 mm",
    "6e3 mm",
    "0x10 mm",
    "1_000 mm",
    "٦ mm",
    "6 mm\nG0 X0",
    "nan",
    "inf",
    "NaN mm",
    "1/0 in",
    "1/4",
    "6 MM",
    "6 cm",
    "6 mm/min",
    '6"',
]

NO_QUANTITIES = [
    None,
    True,
    False,
    [],
    [6],
    (6,),
    {},
    {"mm": 6},
    b"6 mm",
    6j,
    object(),
    np.array(6.0),
    np.bool_(True),
]

NOT_FINITE = [
    float("nan"),
    float("inf"),
    float("-inf"),
    np.float64("nan"),
    Decimal("NaN"),
    Decimal("sNaN"),
    Decimal("Infinity"),
    10**400,
    -(10**5000),
    Fraction(10**400, 3),
]


def kind(value):
    """Name a case by its type: some of the values are too long to print."""
    return type(value).__name__


@pytest.mark.parametrize(("written", "mm"), LENGTHS.items())
def test_length_reads_what_people_write(written, mm):
    assert length(written) == pytest.approx(mm, rel=1e-15)


@pytest.mark.parametrize(("written", "mm_min"), FEEDS.items())
def test_feed_reads_what_people_write(written, mm_min):
    assert feed(written) == pytest.approx(mm_min, rel=1e-15)


@pytest.mark.parametrize("value", [np.int64(6), np.float32(6), np.float64(6), Decimal("6.0"), Fraction(12, 2)])
def test_any_real_number_is_a_length_in_millimetres(value):
    found = length(value)
    assert (found, type(found)) == (6.0, float)


@pytest.mark.parametrize("text", NO_LENGTHS)
def test_text_that_is_no_length_is_refused_with_an_example_of_one(text):
    with pytest.raises(ValueError, match=r'^wall .*"6 mm" or "1/4 in"$'):
        length(text, name="wall")


@pytest.mark.parametrize("value", NO_QUANTITIES, ids=kind)
@pytest.mark.parametrize("read", [length, positive_length, feed])
def test_a_value_that_is_neither_number_nor_text_is_refused_by_its_kind(read, value):
    with pytest.raises(ValueError, match=r'^depth must be a number or a text such as .*", not '):
        read(value, name="depth")


@pytest.mark.parametrize("value", NOT_FINITE, ids=kind)
@pytest.mark.parametrize("read", [length, positive_length, feed, number])
def test_numbers_that_are_not_finite_are_refused(read, value):
    with pytest.raises(ValueError, match="finite number"):
        read(value, name="depth")


@pytest.mark.parametrize("value", [0, -1, "0 mm", "-0", "-1/4 in", -0.0])
def test_a_positive_length_is_never_zero_or_less(value):
    with pytest.raises(ValueError, match=r"^pin diameter must be greater than 0 mm, not "):
        positive_length(value, name="pin diameter")


@pytest.mark.parametrize("value", [0, -300, "0 mm/min", "-5 mm/s"])
def test_a_feed_is_never_zero_or_less(value):
    with pytest.raises(ValueError, match=r"^feed must be greater than 0 mm/min, not "):
        feed(value)


@pytest.mark.parametrize(
    ("read", "limit"), [(length, LENGTH_LIMIT), (positive_length, LENGTH_LIMIT), (feed, FEED_LIMIT)]
)
def test_a_number_beyond_any_machine_is_refused_and_the_largest_is_not(read, limit):
    assert read(limit) == limit
    with pytest.raises(ValueError, match="far beyond any machine"):
        read(limit * 1.001)


def test_an_unknown_unit_is_named_together_with_the_known_ones():
    with pytest.raises(ValueError, match=r"has the unit 'cm'; known are mm, in,"):
        length("6 cm")


def test_a_length_is_no_feed_and_a_feed_is_no_length():
    with pytest.raises(ValueError, match=r"has the unit 'mm'; known are mm/min, in/min, mm/s"):
        feed("6 mm")
    with pytest.raises(ValueError, match=r"has the unit 'mm/s'; known are mm, in"):
        length("6 mm/s")


def test_a_fraction_without_a_unit_is_refused_since_it_may_mean_inches():
    with pytest.raises(ValueError, match=r"'1/4' is a fraction of what\? Write its unit"):
        length("1/4")


def test_a_decimal_comma_is_refused_with_the_reason():
    with pytest.raises(ValueError, match="the decimal sign is a point"):
        length("6,35 mm")


def test_a_fraction_by_zero_is_refused():
    with pytest.raises(ValueError, match="'1/0 in' divides by zero"):
        length("1/0 in")


@pytest.mark.parametrize(
    "value", ["9" * 10_000, "x" * 10_000, 10**400, 7**9000, ["x" * 10_000], "\n" * 500], ids=kind
)
def test_no_message_quotes_more_than_a_line_of_what_it_was_given(value):
    with pytest.raises(ValueError, match=r"^length ") as refusal:
        length(value)
    assert len(str(refusal.value)) < 300
    assert "\n" not in str(refusal.value)


def test_a_value_that_fails_to_print_is_refused_like_any_other():
    class Hostile:
        def __repr__(self):
            raise RuntimeError("never asked to print")

    with pytest.raises(ValueError, match="not a value of type Hostile"):
        length(Hostile())


def test_a_long_whole_number_is_quoted_by_its_size():
    assert shown(10**400) == "a whole number of about 401 digits"


def test_short_values_are_quoted_as_they_are():
    assert [shown(value) for value in (3, 2.5, "6 cm", None, True)] == ["3", "2.5", "'6 cm'", "None", "True"]


def test_long_text_is_cut_and_its_length_given():
    assert shown("x" * 100) == f"'{'x' * TEXT_LIMIT}'… (100 characters)"


@pytest.mark.parametrize("value", ["0.5", None, True, [0.5]])
def test_a_plain_number_is_never_read_from_text(value):
    with pytest.raises(ValueError, match=r"^tool core must be a plain number such as 0\.5, not "):
        number(value, name="tool core")
