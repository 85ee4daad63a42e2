"""The first trial answers back: what explains it, and pieces corrected for it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from unroll.arms.lofting import ArmShape
from unroll.arms.taping import tape_over_cap
from unroll.correct.certainty import resized, stretched
from unroll.correct.loop import correct
from unroll.correct.on_bench import Tell, lay_on_bench, silent
from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMesh, Cloth, Laid, Make, Sewn, TrialMeasures
from unroll.nouns.corrected import Refit, RefitRow
from unroll.sewn.fitting import fit_of
from unroll.sewn.seams import usual_seams
from unroll.sewn.sewing import sew
from unroll.units import Unit, format_length

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


def findings(
    found: Explained, rows: tuple[RefitRow, ...], unit: Unit = "mm"
) -> tuple[str, ...]:
    """Return what explains the trial, in plain sentences."""
    give, cut = float(np.exp(found.causes[0])), float(found.causes[1])
    give_error, cut_error = np.sqrt(np.diag(found.covariance))
    low, high = give / np.exp(give_error), give * np.exp(give_error)
    lines = [
        f"Cloth and filling together give {give:.2g} times what the sheet says "
        f"(likely between {low:.2g} and {high:.2g}). Stretchier cloth and harder filling cannot be "
        "told apart: the shape depends on their product alone.",
        f"The trial was sewn {_fine(cut, unit)} {'outside' if cut >= 0 else 'inside'} its lines "
        f"all round (give or take {_fine(cut_error, unit)}).",
    ]
    if abs(found.correlation) > TOLD_APART:
        lines.append(
            "These measures hardly tell soft cloth from stitching off the line: a girth more, "
            "on a thick and on a thin part of the arm, would; so would a weight "
            "hung from a strip of the cloth."
        )
    for row in rows:
        if row.is_odd:
            lines.append(
                f"{_named(row.name, unit)} is {_said(row.name, row.trial, unit)} on the trial; "
                f"whatever explains the rest makes it {_said(row.name, row.explained, unit)}: "
                "measure it again (it was left out)."
            )
    return tuple(lines)


def _fine(mm: float, unit: Unit) -> str:
    """Return how far off a line: inches to 1/32."""
    fine = format_length(abs(mm), "in", denominator=32)
    return fine if unit == "in" else f"{abs(mm):.1f} mm"


def _said(name: str, value: float, unit: Unit) -> str:
    """Return what a trial's measure comes to, with its unit."""
    return f"{value:.1f} degrees" if name.startswith("hang") else format_length(value, unit)


def _named(name: str, unit: Unit) -> str:
    """Return a trial's measure in words."""
    if name.startswith("girth "):
        return f"the {name.removeprefix('girth ').replace('_', ' ')} girth"
    if name.startswith("hang "):
        return f"how far the arm hangs {name.removeprefix('hang ')}"
    up = format_length(float(name.removeprefix("cap_arc at ")), unit)
    return f"the cap arc {up} above the underarm"


GIRTHS = ("upper_arm", "elbow", "forearm")
PROBES = np.array([np.log(2.0), 1.0])
ROUNDS = 3
# Stitching farther off its line than this is no slip; what a seam may be gathered, %, so that such
# a trial can still be sewn here. Our judgement, no source.
MOST_CUT_MM, MOST_GATHERED = 5.0, 35.0


def refit(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    laid: Laid,
    trial: TrialMeasures,
    *,
    edge: float = 8.0,
    spacing: float = 8.0,
    tell: Tell = silent,
    unit: Unit = "mm",
) -> Refit:
    """Return what explains a trial sewn from corrected pieces, and pieces corrected for it.

    Parameters
    ----------
    shape, make, cloth
        As the trial's pieces were made for.
    laid : Laid
        The trial's pieces, corrected.
    trial : TrialMeasures
        What was measured on it, sewn and filled.
    edge, spacing : float
        Edge length of the mesh that is laid flat and corrected, and of the one that is sewn, mm.
    tell : callable, optional
        Is told the progress.
    unit : {"in", "cm", "mm"}
        Of what is told.

    Raises
    ------
    UnrollError
        When fewer than two measures are given, a name is unknown, or the trial is so far off that
        it was not sewn along the lines of these pieces.
    """
    names, values = _listed(trial)
    errors, causes = errors_of(names), np.zeros(2)
    lengths = [not name.startswith("hang") for name in names]
    expected_first = expected = _expected(laid, cloth, causes, trial, spacing)
    for number in range(ROUNDS):
        tell(f"explaining the trial, round {number + 1}")
        slopes = _slopes(laid, cloth, causes, expected, trial, spacing)
        found = explain(values, expected, slopes, causes, errors)
        _check_likely(found, (values - expected_first)[lengths], unit)
        moved, causes = float(np.abs(found.causes - causes).max()), found.causes
        expected = _expected(laid, cloth, causes, trial, spacing)
        if moved < 0.03:
            break
    left = (values - expected) / errors
    rows = tuple(
        RefitRow(name, float(t), float(first), float(now), bool(abs(out) > 3.0))
        for name, t, first, now, out in zip(
            names, values, expected_first, expected, left, strict=True
        )
    )
    tell("correcting for it")
    own = _with_give(cloth, causes[0])
    on = lay_on_bench(
        shape, make, own, laid.darts, edge=edge, spacing=spacing, ease=laid.ease, tell=tell
    )
    anew = correct(on, shape, tell=tell)
    pieces = resized(anew.after.pieces, -float(causes[1]))
    give_error, cut_error = np.sqrt(np.diag(found.covariance))
    return Refit(
        give_factor=float(np.exp(causes[0])),
        give_error=float(np.exp(causes[0]) * give_error),
        cut_mm=float(causes[1]),
        cut_error=float(cut_error),
        correlation=found.correlation,
        rows=rows,
        lines=findings(found, rows, unit),
        cloth=own,
        correction=replace(anew, after=replace(anew.after, pieces=pieces)),
    )


def _check_likely(found: Explained, off: FloatArray, unit: Unit) -> None:
    """Refuse a trial whose lengths, so many mm off, only stitching far off its lines explains."""
    cut = float(found.causes[1])
    if abs(cut) <= MOST_CUT_MM:
        return
    worst = format_length(float(np.abs(off).max(initial=0.0)), unit)
    side, size = ("outside", "larger") if cut > 0 else ("inside", "smaller")
    raise UnrollError(
        f"the trial is up to {worst} {size} than its pieces make it, as if sewn "
        f"{_fine(cut, unit)} {side} its lines all round; expected at most "
        f"{_fine(MOST_CUT_MM, unit)} (sewn along the cutting line, measured in another unit, or "
        "sewn from other pieces?)"
    )


def measured_on(sewn: Sewn, laid: Laid, trial: TrialMeasures) -> FloatArray:
    """Return on a sewn shape what was measured on a trial, in the same order, (k,)."""
    off = fit_of(sewn, laid.wanted)
    girths = {girth.name: girth.sewn_mm for girth in off.girths}
    values = [girths[name] for name, _ in trial.girths]
    values += [_cap_arc(sewn, laid.wanted, up) for up, _ in trial.cap_arcs]
    values += [off.outward_deg] if trial.outward_deg is not None else []
    values += [off.forward_deg] if trial.forward_deg is not None else []
    return np.array(values)


def sewn_otherwise(
    laid: Laid, cloth: Cloth, *, give_factor: float, cut_mm: float, spacing: float
) -> Sewn:
    """Return the corrected pieces sewn with another give, and outside their lines."""
    pieces = resized(laid.pieces, cut_mm)
    used = _with_give(cloth, float(np.log(give_factor)))
    # sewn well outside its lines, an arm is gathered onto ends of card that keep their size
    seams = [replace(seam, most_ease_percent=MOST_GATHERED) for seam in usual_seams(pieces)]
    return sew(pieces, cloth=used, seams=seams, spacing=spacing, start=laid.sewn,
               up=laid.wanted.up)


def _listed(trial: TrialMeasures) -> tuple[tuple[str, ...], FloatArray]:
    for name, _ in trial.girths:
        if name not in GIRTHS:
            raise UnrollError(
                f"the trial gives a girth at {name!r}; expected one of {', '.join(GIRTHS)}"
            )
    named = [(f"girth {name}", mm) for name, mm in trial.girths]
    named += [(f"cap_arc at {up:.0f}", mm) for up, mm in trial.cap_arcs]
    named += [("hang outward", trial.outward_deg)] if trial.outward_deg is not None else []
    named += [("hang forward", trial.forward_deg)] if trial.forward_deg is not None else []
    if len(named) < 2:
        raise UnrollError(
            f"the trial has {len(named)} measures; expected at least 2 "
            "(a girth at the upper arm and one at the forearm are a good start)"
        )
    return tuple(name for name, _ in named), np.array([float(value) for _, value in named])


def _expected(
    laid: Laid, cloth: Cloth, causes: FloatArray, trial: TrialMeasures, spacing: float
) -> FloatArray:
    sewn = sewn_otherwise(
        laid,
        cloth,
        give_factor=float(np.exp(causes[0])),
        cut_mm=float(causes[1]),
        spacing=spacing,
    )
    return measured_on(sewn, laid, trial)


def _slopes(
    laid: Laid,
    cloth: Cloth,
    causes: FloatArray,
    expected: FloatArray,
    trial: TrialMeasures,
    spacing: float,
) -> FloatArray:
    columns = []
    for index, step in enumerate(PROBES):
        probed = causes.copy()
        probed[index] += step
        columns.append((_expected(laid, cloth, probed, trial, spacing) - expected) / step)
    return np.column_stack(columns)


def _with_give(cloth: Cloth, log_factor: float) -> Cloth:
    return stretched(cloth, float(np.exp(log_factor)))


def _cap_arc(sewn: Sewn, arm: ArmMesh, up: float) -> float:
    """Return the length of a tape over the sewn cap, so far above the underarm, mm."""
    faces = sewn.mesh.faces[np.concatenate([sewn.faces_of("outer"), sewn.faces_of("inner")])]
    origin = arm.landmarks["underarm"] + up * arm.up
    return polylines.length(tape_over_cap(sewn.mesh.vertices, faces, origin, arm.up))
