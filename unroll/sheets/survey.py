"""The two survey tables: what arms measure in a large population, to warn and to estimate by."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from statistics import fmean

WOMEN_AND_MEN = ("f", "m")
RANGE_DEVIATIONS = 3.3  # mean ± 3.3 SD holds 99.9 % of a normal population

# sheet field -> the survey measures that stand for it: (year, name)
STANDS_FOR: Mapping[str, tuple[tuple[int, str], ...]] = {
    "shoulder_to_elbow": ((1988, "SHOULDER_ELBOW_LNTH"), (2012, "shoulderelbowlength")),
    "shoulder_to_inner_elbow": ((1988, "ACR-RADL_LNTH"), (2012, "acromionradialelength")),
    "inner_elbow_to_wrist": ((1988, "RADIALE-STYLION_LNTH"), (2012, "radialestylionlength")),
    "upper_arm_girth": (
        (1988, "ARM_CIRC-AXILLARY"), (1988, "ARMCIRCBCPS_FLEX"), (2012, "bicepscircumferenceflexed")
    ),
    "elbow_girth": ((1988, "ELBOW_CIRC-EXTENDED"),),
    "forearm_girth": ((1988, "FOREARM_CIRC-FLEXED"), (2012, "forearmcircumferenceflexed")),
    "wrist_girth": ((1988, "WRIST_CIRC-STYLION"), (2012, "wristcircumference")),
    "shoulder_length": ((1988, "SHOULDER_LNTH"), (2012, "shoulderlength")),
    "armhole girth": ((1988, "SCYE_CIRC_OVER_ACROMION"),),
}


@dataclass(frozen=True)
class SurveyRow:
    """One measure of one sex.

    Attributes
    ----------
    mean, deviation : float
        Mean and standard deviation, mm.
    """

    mean: float
    deviation: float


@cache
def survey_row(year: int, measure: str, sex: str) -> SurveyRow:
    """Return the row of `measure` in the survey of `year`, for "f" or "m".

    Examples
    --------
    >>> survey_row(1988, "WRIST_CIRC-STYLION", "f").mean
    151.2
    """
    row = _table(year)[measure]
    return SurveyRow(float(row[f"{sex}_mean"]), float(row[f"{sex}_sd"]))


def survey_range(field: str) -> tuple[float, float] | None:
    """Return the range of a sheet's field over both sexes and surveys, mm; None if unsurveyed.

    Notes
    -----
    From the lowest mean − 3.3 SD to the highest mean + 3.3 SD.

    Examples
    --------
    >>> [round(limit) for limit in survey_range("wrist_girth")]
    [128, 206]
    """
    if field not in STANDS_FOR:
        return None
    rows = [survey_row(*source, sex) for source in STANDS_FOR[field] for sex in WOMEN_AND_MEN]
    return (
        min(row.mean - RANGE_DEVIATIONS * row.deviation for row in rows),
        max(row.mean + RANGE_DEVIATIONS * row.deviation for row in rows),
    )


def mean_over_both(year: int, measure: str) -> tuple[float, float]:
    """Return the women's and the men's mean, mm."""
    women, men = (survey_row(year, measure, sex).mean for sex in WOMEN_AND_MEN)
    return women, men


@cache
def _table(year: int) -> dict[str, dict[str, str]]:
    # the tables are part of the program, shipped inside the package like its code
    name = f"arm_measures_us_survey_{year}.csv"
    text = (files("unroll") / "data" / name).read_text("utf-8")
    return {row["measure_mm"]: row for row in csv.DictReader(text.splitlines())}


def girth_factor(year: int, measure: str) -> float:
    """Return a girth over the geometric mean of upper arm and wrist girth, mean of both sexes.

    Examples
    --------
    >>> round(girth_factor(1988, "ELBOW_CIRC-EXTENDED"), 3)
    1.141
    """
    return fmean(
        girth / math.sqrt(arm * wrist)
        for girth, arm, wrist in zip(
            mean_over_both(year, measure),
            mean_over_both(1988, "ARM_CIRC-AXILLARY"),
            mean_over_both(1988, "WRIST_CIRC-STYLION"),
            strict=True,
        )
    )


def share_of(measure: str, whole: str) -> float:
    """Return one of the 2012 survey's means over another, mean of both sexes."""
    return fmean(part / all_of_it for part, all_of_it in zip(
        mean_over_both(2012, measure), mean_over_both(2012, whole), strict=True))
