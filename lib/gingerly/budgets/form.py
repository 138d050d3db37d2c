"""How far off a form may be: flatness, or out of round, as touches show it.

A form is the greatest less the least residual of a fit, and no smooth function of the faces. But the range of a sum is
never further from the range of one part than the range of the other is wide: whatever the true form of the places
touched, the one found is off by at most the range of what the fit leaves of all errors. The budget bounds that. It is
reached where the true form is nothing, since there all that is found is error; where two places stand out it is
wider than need be. It is a bound for the places touched: between them nobody looked.

What a fit takes up (the radius in a circle, the height of a plane) is no error of a form. What a face has for itself is
left with the share √((ν + 1)/n) of its size, for n places and ν degrees of freedom, and counts at the greatest and at
the least residual, as much more as n normal ones lie further apart than two. That share is our own approximation,
good to 1 % on circles and grids of even places. With four places and one degree of freedom the residuals are alike in
size, and the form is half the alternating sum of all four.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from gingerly.geometry import Point
from gingerly.statistics.ranges import range_quantile
from gingerly.uncertainty.bounded import Arcsine
from gingerly.uncertainty.budget import Budget, Source

PROBABILITY = 0.95
"""What the range of the residuals is taken at: the probability of every ±."""

NO_ERROR = ("form of the face", "spindle growth")
"""What is looked for itself, and what does not change from one touch to the next."""

NEGLIGIBLE = 1e-9
"""Sensitivities below this are rounding. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """What was fitted through faces: `form` names what is left of them, `unknowns` counts what the fit is free in.

    `outward` has the unit vector out of the feature in X and Y for each face; None for a face from above, and
    `numbers` says which faces were fitted. `left` returns what the fit leaves of shifts outward, in their order.
    """

    form: str
    numbers: tuple[int, ...]
    outward: tuple[Point | None, ...]
    unknowns: int
    left: Callable[[Sequence[float]], Sequence[float]]

    @property
    def dof(self) -> int:
        """Degrees of freedom of the residuals."""
        return len(self.numbers) - self.unknowns


def form_budget(fitted: Fitted, faces: Sequence[Budget], ways: Sequence[Point]) -> Budget:
    """Return the budget (mm) of the form of what was fitted, from those of all faces.

    `ways` has the vector in X and Y that each face's coordinate counts along. Raises `ValueError` where nothing is
    left to have a form.
    """
    if fitted.dof < 1:
        raise ValueError(f"{len(fitted.numbers)} places leave nothing of a fit with {fitted.unknowns} unknowns")
    counts = [_along(fitted.outward[number], ways[number]) for number in fitted.numbers]
    chosen = [faces[number] for number in fitted.numbers]
    return Budget((*_own(fitted, chosen, counts), *_shared(fitted, chosen, counts)))


def _along(outward: Point | None, way: Point) -> float:
    return 1.0 if outward is None else outward[0] * way[0] + outward[1] * way[1]


def _own(fitted: Fitted, faces: Sequence[Budget], counts: Sequence[float]) -> Iterator[Source]:
    """Yield what each face has for itself: of all four where one degree of freedom is left, else of two extremes."""
    every = [_of_face(face, count) for face, count in zip(faces, counts, strict=True)]
    if fitted.dof == 1:
        yield from (source.times(2.0 / len(faces)) for own in every for source in own.values())
        return
    wider = _wider(len(faces), fitted.dof)
    for name in dict.fromkeys(name for own in every for name in own):
        worst = max((own[name] for own in every if name in own), key=lambda source: source.contribution)
        for which in ("greatest", "least"):
            yield replace(worst, name=f"{name}, {which} of {len(faces)}").times(wider)


def _of_face(face: Budget, count: float) -> dict[str, Source]:
    """Return what a face has for itself outward, by name; an oblique touch has some of it once for each axis."""
    found: dict[str, Source] = {}
    for source in face.sources:
        if source.shared is not None or source.name in NO_ERROR:
            continue
        before = found.get(source.name)
        size = source.size * abs(count)
        if before is not None:
            size = math.hypot(size, before.sensitivity)
        found[source.name] = replace(source, shape=source.shape.centred(), sensitivity=size, across=0.0)
    return found


def _wider(count: int, dof: int) -> float:
    """Return how far each of the two extremes of so many residuals lies out, in sizes of one face's error."""
    share = math.sqrt((dof + 1) / count)
    return share * range_quantile(PROBABILITY, count) / range_quantile(PROBABILITY, 2)


def _shared(fitted: Fitted, faces: Sequence[Budget], counts: Sequence[float]) -> Iterator[Source]:
    """Yield what acts on several faces, with the range of what the fit leaves of it."""
    by_key: dict[str, list[tuple[int, Source]]] = {}
    for place, face in enumerate(faces):
        for source in face.sources:
            if source.shared is not None and source.name not in NO_ERROR:
                by_key.setdefault(source.shared, []).append((place, source))
    for found in by_key.values():
        straight, across = [0.0] * len(faces), [0.0] * len(faces)
        for place, source in found:
            straight[place] = source.sensitivity * counts[place]
            across[place] = source.across * counts[place]
        wide, aside = _range(fitted.left(straight)), _range(fitted.left(across))
        if math.hypot(wide, aside) > NEGLIGIBLE:
            first = found[0][1]
            shape = first.shape.centred()
            aside = aside if isinstance(shape, Arcsine) else 0.0
            yield replace(first, shape=shape, sensitivity=wide, across=aside)


def _range(values: Sequence[float]) -> float:
    return max(values) - min(values)
