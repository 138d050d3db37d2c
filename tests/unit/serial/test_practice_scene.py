"""The practice machine's table: what a scene may say, and what is said of one that cannot be."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from gingerly import Position
from gingerly.plate import Placement
from gingerly.tool import Tip
from gingerly_serial.practice.scene import USUAL, read, scene_of


def test_what_is_left_out_is_as_usual() -> None:
    assert scene_of({}).stock.size_x == USUAL["stock"]["size_x"]
    assert scene_of({"place": ["1 in", 2, 3]}).place == pytest.approx(Position(25.4, 2.0, 3.0))


def test_words_become_what_they_mean() -> None:
    tool = {"diameter": "1/4 in", "free_length": 20, "tip": "ball"}
    scene = scene_of({"tool": tool, "placement": "flat", "plate": {**USUAL["plate"], "bolt": BOLT}})
    assert (scene.tool.tip, scene.tool.diameter, scene.placement) == (Tip.BALL, pytest.approx(6.35), Placement.FLAT)
    assert scene.plate is not None
    assert scene.plate.bolt is not None


def test_without_a_plate_the_stock_itself_lies_bare() -> None:
    assert scene_of({"plate": {}}).plate is None
    assert scene_of({"plate": None}).plate is None


BOLT = {"a": 20, "b": 20, "radius": 2, "height": 3}
STOCK = {"size_x": 10, "size_y": 10, "thickness": 5}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (3, "the scene must be a table, not 3"),
        ({"plac": [1, 2, 3]}, "a scene has no 'plac'; the nearest is 'place'"),
        ({"place": [1, 2]}, "place must be three lengths"),
        ({"place": 3}, "place must be three lengths"),
        ({"corner": "front"}, "corner must be one of front left"),
        ({"corner": ["front left"]}, "corner must be one of front left"),
        ({"placement": "askew"}, "placement must be one of 'seated'"),
        ({"within": "a bit"}, "within 'a bit' is not a quantity"),
        ({"skew": "a bit"}, "skew must be a plain number"),
        ({"name": 3}, "the scene's name must be a text"),
        ({"lead_off_after": 1.5}, "lead_off_after must be a whole number"),
        ({"stock": 3}, "stock must be a table, not 3"),
        ({"stock": {"size_x": 10}}, "stock: missing size_y, thickness"),
        ({"stock": {**STOCK, "size_z": 1}}, "a stock has no 'size_z'"),
        ({"stock": {**STOCK, "size_x": "wide"}}, "stock size_x 'wide' is not a quantity"),
        ({"stock": {**STOCK, "conductive": "yes"}}, "stock conductive must be true or false"),
        ({"tool": {"diameter": 6}}, "tool: missing free_length"),
        ({"tool": {"diameter": 6, "free_length": 20, "tip": "sharp"}}, "tool tip must be one of 'flat'"),
        ({"plate": {"size_a": 50}}, "plate: missing size_b"),
        ({"plate": {**USUAL["plate"], "bolt": {"a": 3}}}, "bolt: missing b, radius, height"),
    ],
)
def test_a_scene_that_cannot_be_is_answered_in_a_sentence(given: Any, said: str) -> None:
    """With the key, and without a word of the interpreter's."""
    with pytest.raises((ValueError, TypeError), match=said) as caught:
        scene_of(given)
    assert "__" not in str(caught.value)
    assert "iterable" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[tabel]\n", "low.toml: a scene file has the tables machine and scene, and no 'tabel'"),
        ("machine = 3\n", "low.toml: machine must be a table, not 3"),
        ("x = \n", "low.toml' is not TOML"),
        ("\xff", "low.toml' cannot be read: it is not UTF-8 text"),
        (None, "low.toml' cannot be read: there is nothing of this name"),
    ],
)
def test_a_scene_file_that_is_none_is_named(tmp_path: Path, text: str | None, said: str) -> None:
    """A table that nobody would read is not passed over in silence."""
    path = tmp_path / "low.toml"
    if text is not None:
        path.write_bytes(text.encode("latin-1"))
    with pytest.raises(ValueError, match=said):
        read(path)


def test_without_a_scene_file_nothing_is_said() -> None:
    assert read(None) == {}
