"""Features found from several touches: straight line, plane and circle, and straight regression of readings.

All three geometric fits minimise the squared *orthogonal* distances, and say how well the points determine the
result: covariance, residuals, form deviation. Geometry that determines next to nothing (too few points, points
on a line, too short an arc) raises `UnusableGeometry` with the number that failed.

Coordinates are in mm, in whatever frame the points are given. numpy is loaded when a fit is made, not before.
"""

from __future__ import annotations

from gingerly.fits.circle import CircleFit, fit_circle
from gingerly.fits.line import LineFit, fit_line
from gingerly.fits.plane import PlaneFit, fit_plane
from gingerly.fits.regression import PowerFit, fit_powers
from gingerly.fits.unusable import UnusableGeometry

__all__ = [
    "CircleFit",
    "LineFit",
    "PlaneFit",
    "PowerFit",
    "UnusableGeometry",
    "fit_circle",
    "fit_line",
    "fit_plane",
    "fit_powers",
]
