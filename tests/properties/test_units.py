"""Quantities written out and read back, and text that nobody would write."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from gingerly.units import FEED_LIMIT, LENGTH_LIMIT, feed, length, shown

MICROMETRES = st.integers(-(10**8), 10**8)
BLANKS = st.sampled_from(["", " ", "  "])


@given(MICROMETRES, BLANKS)
def test_a_length_written_in_millimetres_reads_back_the_same(micrometres, blank):
    value = micrometres / 1000.0
    assert length(f"{value:.3f}{blank}mm") == value


@given(st.integers(1, 10**9), BLANKS)
def test_a_feed_written_in_millimetres_a_minute_reads_back_the_same(thousandths, blank):
    value = thousandths / 1000.0
    assert feed(f"{value:.3f}{blank}mm/min") == value


@given(st.floats(-LENGTH_LIMIT, LENGTH_LIMIT))
def test_a_bare_number_is_itself(value):
    assert length(value) == value


@given(st.integers(0, 99), st.integers(1, 127), st.integers(1, 128), st.booleans())
def test_a_mixed_fraction_of_an_inch_is_rounded_once_only(whole, over, under, negative):
    """The nearest double to the exact fraction times 127/5 (25.4)."""
    text = f"{'-' if negative else ''}{whole} {over}/{under} in"
    exact = (whole + Fraction(over, under)) * Fraction(127, 5)
    assert length(text) == float(-exact if negative else exact)


@given(st.integers(1, 10**6))
def test_the_same_feed_in_seconds_and_minutes_is_the_same(per_second):
    assert (
        feed(f"{per_second / 100:.2f} mm/s") == feed(f"{per_second * 60 / 100:.2f} mm/min")
        or per_second > FEED_LIMIT
    )


@given(
    st.text(max_size=200)
    | st.binary(max_size=20)
    | st.none()
    | st.lists(st.integers())
    | st.floats()
    | st.integers()
)
def test_whatever_comes_in_gives_a_finite_number_or_one_short_line(value):
    """Nothing but `ValueError` ever comes out, and what it says fits a terminal."""
    found, refusal = None, ""
    try:
        found = length(value)
    except ValueError as error:
        refusal = str(error)
    assert (found is None) == refusal.startswith("length ")
    assert abs(found or 0.0) <= LENGTH_LIMIT
    assert "\n" not in refusal
    assert len(refusal) < 900


@given(st.from_regex(r"[0-9./ +-]{1,12}(mm|in|mm/min)?", fullmatch=True))
def test_text_of_the_right_letters_is_read_or_refused_but_never_misread(text):
    """Whatever is accepted agrees with Python's own exact reading of number and unit."""
    try:
        found = length(text)
    except ValueError:
        return
    factor = Fraction(127, 5) if text.endswith("in") else 1
    terms = text.strip().removesuffix("mm").removesuffix("in").replace(" /", "/").replace("/ ", "/").split()
    sign = -1 if terms[0].startswith("-") else 1
    exact = sum(Fraction(term.lstrip("+-").rstrip(".") or 0) for term in terms)
    assert found == float(sign * exact * factor)


@given(st.integers() | st.text() | st.floats() | st.binary() | st.lists(st.text()))
def test_what_a_message_quotes_is_one_line(value):
    assert len(shown(value).splitlines()) == 1
