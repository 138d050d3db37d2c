"""Stopping distances and move times against tables of uniform acceleration.

The tables hold v·t, v²/(2a), d/v + v/a and 2·√(d/a), computed apart from this code and rounded to six places.
"""

import csv
from pathlib import Path

import pytest

from gingerly.kinematics import fastest_feed, move_time, stopping_distance


def rows(name):
    """Return a table's rows as dicts of numbers, words left as they are."""
    with (Path(__file__).parent / "data" / name).open(newline="") as file:
        return [
            {key: value if value.isalpha() else float(value) for key, value in row.items()}
            for row in csv.DictReader(file)
        ]


STOPS = rows("kinematics.csv")
MOVES = rows("move_times.csv")
ROUNDING = 0.5e-6 * 1.001


def test_the_tables_are_whole():
    assert (len(STOPS), len(MOVES)) == (108, 8)
    assert {row["profile"] for row in MOVES} == {"trapezoid", "triangle"}


@pytest.mark.parametrize(
    "row", STOPS, ids=lambda row: "{feed_mm_min:g}-{accel_mm_s2:g}-{latency_ms:g}".format(**row)
)
def test_a_move_runs_on_as_the_table_says(row):
    acceleration, reaction_s = row["accel_mm_s2"], row["latency_ms"] / 1000.0
    braking = stopping_distance(row["feed_mm_min"], acceleration=acceleration)
    whole = stopping_distance(row["feed_mm_min"], acceleration=acceleration, reaction_s=reaction_s)
    assert braking == pytest.approx(row["braking_mm"], abs=ROUNDING)
    assert whole == pytest.approx(row["total_overtravel_mm"], abs=ROUNDING)


@pytest.mark.parametrize(
    "row", STOPS, ids=lambda row: "{feed_mm_min:g}-{accel_mm_s2:g}-{latency_ms:g}".format(**row)
)
def test_the_fastest_feed_for_the_tables_overtravel_is_the_tables_feed(row):
    """A rounded overtravel changes the feed by no more than its rounding over the steepness dδ/dv = t + v/a."""
    acceleration, reaction_s = row["accel_mm_s2"], row["latency_ms"] / 1000.0
    feed = fastest_feed(row["total_overtravel_mm"], acceleration=acceleration, reaction_s=reaction_s)
    steepness = reaction_s + row["feed_mm_min"] / 60.0 / acceleration
    assert feed == pytest.approx(row["feed_mm_min"], abs=1.1 * 60.0 * ROUNDING / steepness)


@pytest.mark.parametrize("row", MOVES, ids=lambda row: "{distance_mm:g}-{feed_mm_min:g}-{profile}".format(**row))
def test_a_move_takes_as_long_as_the_table_says(row):
    found = move_time(row["distance_mm"], feed=row["feed_mm_min"], acceleration=row["accel_mm_s2"])
    assert found == pytest.approx(row["time_s"], abs=ROUNDING)


@pytest.mark.parametrize(
    ("feed", "braking", "whole"),
    [(25, 0.000174, 0.004340), (300, 0.025, 0.075), (600, 0.1, 0.2), (1000, 0.277778, 0.444444), (3000, 2.5, 3.0)],
)
def test_ten_milliseconds_of_reaction_cost_what_shop_tables_say(feed, braking, whole):
    """At 500 mm/s²; the same formulas, six places, worked out by hand for feeds outside the table."""
    assert stopping_distance(feed, acceleration=500.0) == pytest.approx(braking, abs=ROUNDING)
    assert stopping_distance(feed, acceleration=500.0, reaction_s=0.010) == pytest.approx(whole, abs=ROUNDING)
