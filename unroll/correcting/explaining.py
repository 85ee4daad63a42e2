"""What explains a trial: the cloth gives more or less, or it was sewn larger than drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.types import FloatArray
from unroll.types.corrected import RefitRow

# How far two tapes of one sewn trial differ, and two sightings of its hang; common practice, no
# source. What is expected before anything is measured: give within a factor of three, stitching
# within 2 mm.
TAPE_ERROR_MM, ARC_ERROR_MM, HANG_ERROR_DEG = 1.0, 2.0, 1.0
GIVE_SPREAD, CUT_SPREAD_MM = float(np.log(3.0)), 2.0
ODD = 3.0  # errors beyond which a measure contradicts the others
TOLD_APART = 0.9  # correlation above which two causes cannot be told apart


@dataclass(frozen=True, eq=False)
class Explained:
    """The likeliest cause of a trial's departures.

    Attributes
    ----------
    causes : (2,) float
        Logarithm of the give's factor, and stitching outside its line, mm.
    covariance : (2, 2) float
    left : (k,) float
        What stays unexplained, each over its error.
    """

    causes: FloatArray
    covariance: FloatArray
    left: FloatArray

    @property
    def correlation(self) -> float:
        """Correlation of the two causes' errors."""
        variances = np.sqrt(np.diag(self.covariance))
        return float(self.covariance[0, 1] / np.prod(variances))


def errors_of(names: tuple[str, ...]) -> FloatArray:
    """Return the error of each measure of a trial, mm or degrees."""
    kinds = {"girth": TAPE_ERROR_MM, "cap_arc": ARC_ERROR_MM, "hang": HANG_ERROR_DEG}
    return np.array([kinds[name.split(" ")[0]] for name in names])


def explain(
    trial: FloatArray, expected: FloatArray, slopes: FloatArray, at: FloatArray, errors: FloatArray
) -> Explained:
    """Return the causes that explain a trial best.

    Parameters
    ----------
    trial, expected : (k,) float
        Measured, and expected at the causes `at`.
    slopes : (k, 2) float
        Of the expected values by the causes.
    at : (2,) float
        Causes about which it is linear.
    errors : (k,) float

    Notes
    -----
    Least squares with what is known beforehand as two more measures. Measures that stay out by
    more than three errors are left out one by one and the rest explained anew, so that one slip of
    the tape does not pass for stretchy cloth.
    """
    prior = 1.0 / np.array([GIVE_SPREAD, CUT_SPREAD_MM])
    used = np.ones(len(trial), dtype=bool)
    for _ in range(len(trial)):
        rows = np.vstack([slopes[used] / errors[used, None], np.diag(prior)])
        right = np.concatenate([(trial - expected + slopes @ at)[used] / errors[used], [0.0, 0.0]])
        causes = np.asarray(np.linalg.lstsq(rows, right, rcond=None)[0], dtype=float)
        covariance = np.asarray(np.linalg.inv(rows.T @ rows), dtype=float)
        left = (trial - expected - slopes @ (causes - at)) / errors
        worst = int(np.argmax(np.where(used, np.abs(left), 0.0)))
        if abs(left[worst]) <= ODD or used.sum() <= 2:
            break
        used[worst] = False
    return Explained(causes, covariance, left)


def findings(found: Explained, rows: tuple[RefitRow, ...]) -> tuple[str, ...]:
    """Return what explains the trial, in plain sentences."""
    give, cut = float(np.exp(found.causes[0])), float(found.causes[1])
    give_error, cut_error = np.sqrt(np.diag(found.covariance))
    low, high = give / np.exp(give_error), give * np.exp(give_error)
    lines = [
        f"Cloth and filling together give {give:.2g} times what the sheet says "
        f"(likely between {low:.2g} and {high:.2g}). Stretchier cloth and harder filling cannot be "
        "told apart: the shape depends on their product alone.",
        f"The trial was sewn {abs(cut):.1f} mm {'outside' if cut >= 0 else 'inside'} its lines all "
        f"round (± {cut_error:.1f} mm).",
    ]
    if abs(found.correlation) > TOLD_APART:
        lines.append(
            "These measures hardly tell give from stitching: a girth more, on a thick and on a "
            "thin part of the arm, would; so would a weight hung from a strip of the cloth."
        )
    for row in rows:
        if row.is_odd:
            lines.append(
                f"{row.name} is {row.trial:.1f} on the trial; whatever explains the rest makes it "
                f"{row.explained:.1f}: measure it again (it was left out)."
            )
    return tuple(lines)
