"""The plain data of the driver: it cannot be changed afterwards, and says nothing that was not said."""

from __future__ import annotations

import dataclasses

import pytest

from gingerly import Position
from gingerly.driver.adapter import Feature, Scene
from gingerly.driver.result import Result, refused
from gingerly.driver.scene import scene_for
from gingerly.messages.faults import UnsuitablePlate
from support.bench import spot

HERE = Position(10.0, 20.0, 30.0)
OUTCOME = refused(UnsuitablePlate("too thin"))


def result(**more: object) -> Result:
    return Result("a mill", "a routine", 1.0, OUTCOME, **more)  # type: ignore[arg-type]


BORE = Feature("bore", (10.0, 10.0), (8.0, 8.0), 5.0)
SCENE = scene_for(spot(), HERE, name="a blank")


@pytest.mark.parametrize("one", [BORE, SCENE, result()], ids=lambda one: type(one).__name__)
def test_it_cannot_be_changed(one: object) -> None:
    (name, *_) = (entry.name for entry in dataclasses.fields(one))  # type: ignore[arg-type]
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(one, name, "another")


def test_two_features_of_one_kind_and_size_are_the_same() -> None:
    assert Feature("bore", (10.0, 10.0), (8.0, 8.0), 5.0) == BORE


def test_a_scene_is_told_by_name_only() -> None:
    with pytest.raises(TypeError):
        Scene("a blank", SCENE.place, SCENE.corner, SCENE.stock, SCENE.tool)  # type: ignore[misc]


def test_a_blank_lies_square_and_where_it_is_expected_unless_more_is_said() -> None:
    plain = Scene(name="a blank", place=HERE, corner=SCENE.corner, stock=SCENE.stock, tool=SCENE.tool)
    assert (plain.within, plain.skew, SCENE.skew) == (0.0, 0.0, 0.0)


def test_results_are_compared_and_shown_by_how_they_ended_and_not_by_what_was_planned() -> None:
    planned = result(course=object(), scatter=object())
    assert planned == result()
    assert repr(planned) == repr(result())


def test_a_run_without_a_planned_course_has_no_budgets() -> None:
    ended = dataclasses.replace(result(), outcome=dataclasses.replace(OUTCOME, fault=None))
    assert ended.budgets == {}
