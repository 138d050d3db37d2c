"""A planned course: a step for the faces found so far, and what is one-sided corrected for in the last one alone."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from gingerly.budgets import DEFAULTS
from gingerly.explore.scenarios import SITE, SPOT
from gingerly.geometry import Axis
from gingerly.messages.touches import Change, Finding, Place, Setting, Touch
from gingerly.routines import OutsideCorner, Site
from gingerly.routines.course import CircuitCheck, Faces, PlannedCourse, foreseen_face, settled

PLAN = OutsideCorner(spot=SPOT, offset=1).plan(replace(SITE, doubts=DEFAULTS))


class Watched:
    """A course whose steps note what they were made of."""

    def __init__(self, course: PlannedCourse, **changes: object) -> None:
        self.made_of: list[Faces] = []
        steps = tuple(self._watch(maker) for maker in course.steps)
        self.course = replace(course, steps=steps, **changes)

    def _watch(self, maker):  # type: ignore[no-untyped-def]
        def made(faces: Faces):  # type: ignore[no-untyped-def]
            self.made_of.append(faces)
            return maker(faces)

        return made

    def walked(self) -> Faces:
        """Ask for every step, each contact where it is expected, and return all faces."""
        faces: Faces = ()
        while isinstance(step := self.course.next(faces), Touch):
            faces = (*faces, foreseen_face(step))
        return faces


def test_only_what_follows_from_all_faces_is_made_of_corrected_ones() -> None:
    """Where the next touch is made depends on where the last one was found."""
    watched = Watched(PLAN)
    faces = watched.walked()
    *touches, last = watched.made_of
    assert touches[: len(faces)] == [faces[:number] for number in range(len(faces))]
    assert last == watched.course.corrected(faces) != faces


@pytest.mark.parametrize("changes", [{"as_found": True}, {"judge": None}])
def test_faces_that_are_only_compared_and_faces_that_nobody_judges_are_taken_as_found(changes) -> None:  # type: ignore[no-untyped-def]
    watched = Watched(PLAN, **changes)
    faces = watched.walked()
    assert watched.made_of[-1] == faces == watched.course.corrected(faces)


def test_a_step_is_made_once_for_the_same_faces_and_anew_for_others() -> None:
    watched = Watched(PLAN)
    faces = watched.walked()
    watched.made_of.clear()
    same, other = (replace(faces[0]),), (replace(faces[0], touch="another"),)
    assert watched.course.step(same) is watched.course.step(faces[:1])
    assert watched.made_of == []
    watched.course.step(other)
    assert watched.made_of == [other]


def test_a_course_that_was_asked_is_the_same_as_one_that_was_not() -> None:
    asked = replace(PLAN)
    asked.next(())
    assert asked == PLAN
    assert "_made" not in repr(asked)
    assert not next(entry for entry in fields(PlannedCourse) if entry.name == "_made").init


def test_unless_it_says_otherwise_a_course_corrects_for_what_is_one_sided() -> None:
    course = PlannedCourse(name="plain", tool=PLAN.tool, places=PLAN.places, steps=PLAN.steps)
    assert (course.as_found, course.judge, course.fitted) == (False, None, None)


def test_courses_and_sites_are_made_by_name_only() -> None:
    with pytest.raises(TypeError):
        PlannedCourse("plain", PLAN.tool, PLAN.places, PLAN.steps)  # type: ignore[misc]
    with pytest.raises(TypeError):
        Site(SITE.facts, SITE.here)  # type: ignore[misc]


def test_all_steps_are_foreseen_from_wherever_a_run_stands() -> None:
    steps = list(PLAN.foreseen())
    assert [isinstance(step, Touch) for step in steps] == [True] * (len(PLAN.steps) - 1) + [False]
    first = foreseen_face(steps[0])  # type: ignore[arg-type]
    assert list(PLAN.foreseen((first,))) == steps[1:]


@pytest.mark.parametrize("late", [False, True])
def test_a_contact_is_foreseen_in_the_middle_of_its_window_or_at_its_end(late: bool) -> None:
    touch = PLAN.next(())
    assert isinstance(touch, Touch)
    along = touch.far if late else (touch.near + touch.far) / 2.0
    face = foreseen_face(touch, late=late)
    assert face.position == touch.start.plus(touch.direction.times(along))
    assert [contact.distance for contact in face.contacts] == [along]
    assert foreseen_face(touch) == foreseen_face(touch, late=False)


def test_what_is_found_is_set_only_where_an_offset_is_named_and_an_axis_was_found() -> None:
    axes, sizes = ((Axis.X, 12.5),), (("width X", 20.0),)
    assert settled(3, axes, sizes) == Setting((Change(3, axes),), sizes)
    assert settled(None, axes, sizes) == Finding(axes, sizes)
    assert settled(3, (), sizes) == Finding((), sizes)


def test_a_circuit_check_alone_has_its_places_and_nothing_to_touch() -> None:
    check = CircuitCheck((Place.TIP, Place.FLANK))
    assert check == CircuitCheck((Place.TIP, Place.FLANK)) != CircuitCheck((Place.TIP,))
    assert (check.places, check.next(())) == ((Place.TIP, Place.FLANK), Finding(()))
