"""How far off a number may be: budgets of sources, combined by the GUM and, for the interval quoted, numerically.

A `Budget` is a list of `Source`s of one output. `Budget.stated` combines it twice: by the law of propagation
with effective degrees of freedom (JCGM 100:2008), and as the convolution of the sources' distributions
(JCGM 101:2008), which is exact where one flat or arcsine source rules. Nothing here knows a machine.

Clause numbers of JCGM 100 and 101, here and wherever the library names them, are from memory; the figures are checked
in ``tests/reference``.
"""

from __future__ import annotations

from gingerly.uncertainty.bounded import Arcsine, Flat, Trapezoid, Triangular, TwoValued
from gingerly.uncertainty.budget import Budget, Source, Statement, combined, covariance
from gingerly.uncertainty.gum import coverage_factor, effective_dof, joint_means, propagated, sensitivities
from gingerly.uncertainty.numeric import CoverageInterval, coverage_interval
from gingerly.uncertainty.shapes import Normal, Shape, Student
from gingerly.uncertainty.simulate import Simulation, simulated

__all__ = [
    "Arcsine",
    "Budget",
    "CoverageInterval",
    "Flat",
    "Normal",
    "Shape",
    "Simulation",
    "Source",
    "Statement",
    "Student",
    "Trapezoid",
    "Triangular",
    "TwoValued",
    "combined",
    "covariance",
    "coverage_factor",
    "coverage_interval",
    "effective_dof",
    "joint_means",
    "propagated",
    "sensitivities",
    "simulated",
]
