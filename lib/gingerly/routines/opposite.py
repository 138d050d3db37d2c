"""What slot, rib, pocket and block share: walls that face each other, their middle and their width."""

from __future__ import annotations

from collections.abc import Sequence

from gingerly.geometry import Axis, Position
from gingerly.messages.commands import AxisValues
from gingerly.messages.touches import Face, Measures, Step
from gingerly.routines.course import Faces, settled


def along_axis(axis: Axis, sign: float) -> Position:
    """Return the unit vector along `axis`, forward or backward."""
    return Position(0.0, 0.0, 0.0).with_axes({axis: sign})


def middle_of(one: Face, other: Face, axis: Axis) -> float:
    """Return the coordinate half-way between two faces (mm); the tool's radius cancels."""
    return (one.position[axis] + other.position[axis]) / 2.0


def span_of(one: Face, other: Face, axis: Axis) -> float:
    """Return how far apart the tool's axis stood at two contacts along `axis`, in mm."""
    return abs(other.position[axis] - one.position[axis])


def middles(
    faces: Faces,
    axes: Sequence[Axis],
    *,
    tool_diameter: float,
    offset: int | None,
    reads: Position,
    with_top: bool,
) -> Step:
    """Return the middle and the width between each pair of faces after the first, one pair an axis.

    `tool_diameter` (mm) is negative where the walls were touched from outside.
    """
    found: AxisValues = ()
    measures: Measures = ()
    for number, axis in enumerate(axes):
        pair = faces[1 + 2 * number], faces[2 + 2 * number]
        found = (*found, (axis, middle_of(*pair, axis) - reads[axis]))
        measures = (*measures, (f"width {axis.name}", span_of(*pair, axis) + tool_diameter))
    if with_top:
        found = (*found, (Axis.Z, faces[0].position.z - reads.z))
    return settled(offset, found, measures)
