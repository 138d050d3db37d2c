"""What the numbers of a run are worth: a budget for each axis found, and for each length or angle found besides.

Any routine is a function from faces to numbers. How much a number follows each face is found by shifting that face
a little, so that a routine needs to say nothing of its own uncertainty, and what acts alike on several faces
cancels or adds up as it does in the metal. Pure; nothing moves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from gingerly.budgets import Judge, TouchedFace, change_budget, shifted
from gingerly.budgets.form import Fitted, form_budget
from gingerly.budgets.scatter import Scatter
from gingerly.geometry import Axis, Point
from gingerly.messages.touches import Finding, Setting, Step, Touch
from gingerly.routines.course import Faces, PlannedCourse
from gingerly.routines.walls import AGAIN
from gingerly.uncertainty.budget import Budget, Statement, combined

NUDGE = 1e-4
"""By how many mm a face is shifted to see what follows it: small beside every curve, large beside rounding.
Our own choice."""

SIZES = ("width X", "width Y", "diameter", "rotation", "top", "lip a", "lip b", "tilt along X", "tilt along Y")
"""What is found besides an origin and follows the faces smoothly: lengths in mm, rotation and tilt in rad."""

FOLDED = "runout along "
"""How the name of a size begins that has lost its sign."""

SIZE_BEGINS = ("shim ", FOLDED)
"""How the names of more such sizes begin."""

DIGITS = 6
"""Digits of a slope that are kept: what follows a face just as it is has a slope of just 1. Our own choice."""

MOST = 512
"""So many budgets are remembered: the parts of a job often share one. Our own choice."""

FORM = "form of the face"
"""The source that is one and the same however often a spot is touched."""

Values = Mapping[str, float]


def budgets_of(course: PlannedCourse, faces: Faces, scatter: Scatter) -> dict[str, Budget]:
    """Return the budget of everything that `course` makes of all its faces, by the axis' or the size's name.

    `scatter` is how the machine's contacts are known to scatter. Empty where the faces are not all there, or lead
    to nothing that could have a budget.
    """
    judge = course.judge
    if judge is None or len(faces) != len(course.steps) - 1:
        return {}
    touches = course.touches(faces)
    if course.as_found:
        return _difference(course.next(faces), touches, judge, scatter)
    faces = course.corrected(faces)
    fitted = course.fitted(faces) if course.fitted is not None else None
    abouts = [judge.touched(touch) for touch in touches]
    normals = _normals(fitted, abouts)
    single = tuple(
        judge.budget(touch, scatter.observed(touch), normal) for touch, normal in zip(touches, normals, strict=True)
    )
    single = _of_one_spot(touches, single)
    rows = _followed(course, abouts, faces)
    step = course.step(faces)
    kept = {axis.name for axis in Axis} if isinstance(step, Setting) else ()
    found = {
        name: _summed(tuple(row.get(name, 0.0) for row in rows), single, judge if name in kept else None)
        for name in _values(step)
    }
    if fitted is not None and fitted.dof > 0:
        found[fitted.form] = form_budget(fitted, single, [about.way for about in abouts])
    return found


def _of_one_spot(touches: Sequence[Touch], single: tuple[Budget, ...]) -> tuple[Budget, ...]:
    """Return the budgets with one form for all touches of one name: they touch the very same spot.

    The touches that only show that the lead is still on take no part in what is found.
    """
    names = [touch.name for touch in touches if touch.name != AGAIN]
    if len(set(names)) == len(names):
        return single
    return tuple(
        _with_form(budget, touch.name) if names.count(touch.name) > 1 else budget
        for touch, budget in zip(touches, single, strict=True)
    )


def _with_form(budget: Budget, spot: str) -> Budget:
    """Return the budget with the form of this spot, which other touches of it share."""
    return Budget(
        tuple(
            replace(source, shared=f"form at {spot}") if source.name == FORM and source.shared is None else source
            for source in budget.sources
        )
    )


def _normals(fitted: Fitted | None, abouts: Sequence[TouchedFace]) -> tuple[Point | None, ...]:
    """Return the way into the metal where each face was met, as the fit has it; None: the touch's own way."""
    if fitted is None:
        return (None,) * len(abouts)
    return tuple(
        None if out is None else _into(out, about) for out, about in zip(fitted.outward, abouts, strict=True)
    )


def _into(outward: Point, about: TouchedFace) -> Point:
    """Return the direction of `outward`, or the opposite one, that the touch went."""
    (x, y), (way_x, way_y) = outward, about.way
    return outward if (x * way_x + y * way_y) * about.inward > 0.0 else (-x, -y)


_sums: dict[tuple[object, ...], tuple[tuple[Budget, ...], Judge | None, Budget]] = {}
_statements: dict[int, tuple[Budget, Statement]] = {}


def _summed(slopes: tuple[float, ...], single: tuple[Budget, ...], keeper: Judge | None) -> Budget:
    """Return Σ slope × budget, and the storage's rounding where `keeper` says that it is written.

    The very same budgets with the same slopes give the very same one again.
    """
    key = (slopes, keeper is None, *map(id, single))
    known = _sums.get(key)
    if known is None:
        if len(_sums) >= MOST:
            _sums.clear()
        found = combined((slope, one) for slope, one in zip(slopes, single, strict=True) if slope)
        found = found if keeper is None else keeper.stored(found)
        known = _sums[key] = (single, keeper, found)
    return known[2]


def stated(budget: Budget) -> Statement:
    """Return what a budget says at 95 %; the very same budget is not asked twice."""
    known = _statements.get(id(budget))
    if known is None:
        if len(_statements) >= MOST:
            _statements.clear()
        known = _statements[id(budget)] = (budget, budget.stated())
    return known[1]


def _followed(course: PlannedCourse, abouts: Sequence[TouchedFace], faces: Faces) -> list[Values]:
    """Return, for each face, by how much every value grows with that face's coordinate."""
    conclude = course.steps[-1]
    faces = _off_the_fold(course.step(faces), abouts, faces)
    found: list[Values] = []
    for number, (about, face) in enumerate(zip(abouts, faces, strict=True)):
        high, low = (
            _values(conclude((*faces[:number], shifted(face, about, by), *faces[number + 1 :])))
            for by in (NUDGE, -NUDGE)
        )
        found.append(
            {name: round((high[name] - low[name]) / (2.0 * NUDGE), DIGITS) for name in high if name in low}
        )
    return found


def _off_the_fold(step: Step, abouts: Sequence[TouchedFace], faces: Faces) -> Faces:
    """Return the faces, the last one aside where a size without sign is next to nothing: it grows either way there,
    which would look as if it followed no face at all."""
    sizes = step.measures if isinstance(step, Setting | Finding) else ()
    if all(value > NUDGE for name, value in sizes if name.startswith(FOLDED)):
        return faces
    return (*faces[:-1], shifted(faces[-1], abouts[-1], 8.0 * NUDGE))


def _values(step: Step) -> Values:
    """Return what a conclusion says, by name: the axes of its origin, and its sizes."""
    if isinstance(step, Setting) and not any(change.relative for change in step.changes):
        axes = step.changes[0].axes if step.changes else ()
    elif isinstance(step, Finding):
        axes = step.axes
    else:
        return {}
    sizes = step.measures
    return {axis.name: value for axis, value in axes} | {
        name: value for name, value in sizes if name in SIZES or name.startswith(SIZE_BEGINS)
    }


def _difference(step: Step, touches: tuple[Touch, ...], judge: Judge, scatter: Scatter) -> dict[str, Budget]:
    """Return the budget of a shift between two touches of one spot; a single one is only there to be compared."""
    if not isinstance(step, Setting) or len(touches) != 1:
        return {}
    about = judge.touched(touches[0], scatter.observed(touches[0]))
    return {Axis.Z.name: judge.stored(change_budget(about, judge.facts, judge.doubts))}
