"""Summaries of repeated readings: means and spreads, gauge studies, analysis of variance, outliers.

Plain arithmetic on sequences of numbers, without a numerical library: readings come by the dozen. Sums are
exact (`math.fsum`) and squares are taken of differences from a pivot, so that a small scatter on a large
coordinate keeps its digits.

Is a plate good enough for these blanks? Some people seat it anew on some blanks, each several times, and touch; then::

    study = gauge_study_by_anova(readings)      # readings[blank][person][time], mm
    print(study.share(study.gauge), study.categories)

A share of a tenth or less is good, one of three tenths or more is not (common practice, no source). Before that,
`repeatability` of one spot tells the machine's own part, and `grubbs_test` which reading to look at again.
"""

from __future__ import annotations

from gingerly.statistics.gauge import GaugeStudy, gauge_study_by_anova, gauge_study_by_range
from gingerly.statistics.outlier import OutlierTest, grubbs_test
from gingerly.statistics.positioning import PositioningTest, Repeatability, positioning_test, repeatability
from gingerly.statistics.summary import Pooled, Summary, mean, pooled, standard_deviation, summary
from gingerly.statistics.variance import OneWay, one_way

__all__ = [
    "GaugeStudy",
    "OneWay",
    "OutlierTest",
    "Pooled",
    "PositioningTest",
    "Repeatability",
    "Summary",
    "gauge_study_by_anova",
    "gauge_study_by_range",
    "grubbs_test",
    "mean",
    "one_way",
    "pooled",
    "positioning_test",
    "repeatability",
    "standard_deviation",
    "summary",
]
