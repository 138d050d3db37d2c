"""Inch sizes against the table: one inch is 25.4 mm exactly (international inch, 1959)."""

import csv
from pathlib import Path

import pytest

from gingerly.units import INCH, length

with (Path(__file__).parent / "data" / "inch_diameters.csv").open(newline="") as file:
    ROWS = [(row["inch_fraction"], row["inch"], float(row["mm"])) for row in csv.DictReader(file)]


def test_the_table_holds_every_size_it_should():
    """37 sizes: 1/64 … 11/64 in part, then by 32nds up to one inch."""
    assert (len(ROWS), ROWS[0][0], ROWS[-1][0]) == (37, "1/64", "1")


def test_an_inch_is_25_4_millimetres():
    assert length("1 in") == INCH == 25.4


@pytest.mark.parametrize(("fraction", "inch", "mm"), ROWS)
def test_fractions_and_decimals_of_an_inch_agree_with_the_table(fraction, inch, mm):
    assert length(f"{fraction} in") == pytest.approx(mm, abs=1e-12)
    assert length(f"{inch}in") == pytest.approx(mm, abs=1e-12)
