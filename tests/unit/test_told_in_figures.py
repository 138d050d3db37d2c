"""What is found is told in units that fit it, and numbers behind it agree with independent ones."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

import gingerly.conformance
from gingerly import Axis, Position, batch, report
from gingerly import job as jobs
from gingerly.batch import Noted, PartEnded, Summary
from gingerly.cli.progress import told
from gingerly.job import Job
from gingerly.routines.jog import JogStep
from gingerly.statistics.tails import student_density
from gingerly.uncertainty.shapes import Student
from support.bench import PIN
from support.jobs import SOUND

HEAD = SOUND[: SOUND.index("[[parts]]")].replace("size_x = 80", "conductive = true, size_x = 80")


def done(said: str, place: str = "{ x = 100, y = 60, z = -45 }") -> Summary:
    part = f'[[parts]]\nname = "one"\n{said}\nplate = "none"\nplace = {place}\n'
    job: Job = jobs.loads(HEAD + part)
    summary = batch.run_blocking(job)
    assert summary.complete, summary.faults
    return summary


def test_a_time_is_told_in_milliseconds() -> None:
    """The virtual machine latches within a few of them."""
    line, *_ = report.measured(done('routine = "reaction time"').parts[0])
    assert line.startswith("one: latch ")
    assert " ms" in line


def test_an_angle_is_told_in_degrees() -> None:
    line, *_ = report.measured(done('routine = "edge skew"\naxis = "X"').parts[0])
    assert line.startswith("one: rotation ")
    assert "°" in line


def test_a_part_that_was_not_begun_is_told_with_why() -> None:
    """And in what stands out on a terminal: a note in yellow, what ended well in green."""
    events: list[object] = []
    text = SOUND.replace("z = -45 }\noffset = 2", "z = -45 }\noffset = 2\nsay = 'mind the clamp'")
    batch.run_blocking(
        jobs.loads(text).with_options(operator={"answers": {"next part": "no"}}), observer=events.append
    )
    said = [told(event) for event in events if isinstance(event, PartEnded)]  # type: ignore[arg-type]
    assert said[0].startswith("    done in ")
    assert "lid 1 failed: Declined; " in said[1]
    assert told(Noted("mind the clamp")) == "note: mind the clamp"


@pytest.mark.parametrize("dof", [1.0, 4.5, 30.0, 1e7, math.inf])
@pytest.mark.parametrize("t", [0.0, 0.7, -2.5])
def test_students_density_agrees_with_another_library(t: float, dof: float) -> None:
    """scipy.stats, whose t of infinite degrees of freedom is the normal distribution."""
    reference = stats.norm.pdf(t) if math.isinf(dof) else stats.t.pdf(t, dof)
    assert student_density(t, dof) == pytest.approx(float(reference), rel=1e-6)


@pytest.mark.parametrize("dof", [8.0, math.inf])
def test_drawn_values_spread_as_the_shape_says(dof: float) -> None:
    """Of 40 000 values, the standard deviation lies within 3 % of u·√(ν/(ν−2)), a standard result."""
    shape = Student(0.02, dof, middle=1.0)
    values = shape.drawn(np.random.default_rng(5), 40_000)
    wide = 1.0 if math.isinf(dof) else math.sqrt(dof / (dof - 2.0))
    assert float(np.mean(values)) == pytest.approx(1.0, abs=0.001)
    assert float(np.std(values)) == pytest.approx(0.02 * wide, rel=0.03)


def test_a_step_back_ends_where_its_line_began_at_the_latest() -> None:
    here, begin = Position(10.0, 0.0, -5.0), Position(12.0, 0.0, -5.0)
    ends = {}
    for distance in (5.0, 1.0, -5.0):
        ends[distance] = JogStep(tool=PIN, axis=Axis.X, distance=distance, back_to=begin)._target(here).x
    assert ends == {5.0: 12.0, 1.0: 11.0, -5.0: 5.0}


def test_a_name_that_the_conformance_kit_does_not_have_is_told() -> None:
    with pytest.raises(AttributeError, match="no public name 'chek'"):
        _ = gingerly.conformance.chek
