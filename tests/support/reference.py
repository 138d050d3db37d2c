"""Published check values, as they lie beside the tests that use them."""

import csv
import json
from pathlib import Path

DATA = Path(__file__).parents[1] / "reference" / "data"


def read_json(name):
    """Return the content of a JSON file of check values."""
    return json.loads((DATA / name).read_text(encoding="utf-8"))


def read_rows(name):
    """Return the rows of a table of check values, as dicts of text."""
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def digits(found, certified):
    """Return to how many significant digits `found` agrees with `certified`; 17 at most."""
    from math import log10

    found, certified = float(found), float(certified)
    if found == certified:
        return 17.0
    scale = abs(certified) if certified else 1.0
    return min(17.0, -log10(abs(found - certified) / scale))
