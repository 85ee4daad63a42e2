"""Numbers and verdicts as phrases: the one place where a figure becomes a sentence."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from unroll.correct.certainty import BESIDE_MM
from unroll.nouns import (
    ArmResult,
    Case,
    Certainty,
    Correction,
    Double,
    Figure,
    Fit,
    Slip,
    Verdict,
    source_called,
)
from unroll.nouns.fit import FIGURES
from unroll.units import Unit, format_length

SIXTEENTH_MM = 25.4 / 16
SWING = next(figure for figure in FIGURES if figure.key == "swing_deg")
NOTHING_MM = 0.5
GOOD_MM, GOOD_DEG, GOOD_PERCENT = 2.0, 1.0, 1.0
AT_SEAM_MM = 8.0
# Breadths that need no ruler; common practice, no source.
BREADTHS = (
    (12.0, "a fingertip"),
    (25.0, "a finger's breadth"),
    (45.0, "two fingers' breadth"),
    (65.0, "three fingers' breadth"),
    (110.0, "a hand's breadth"),
)
CAUSES = {
    "stiffness": "cloth half or twice as stiff as assumed",
    "filling": "filling half or twice as hard",
    "weight": "cloth and filling weighing nothing or twice as much",
    "sewing": "sewing {beside} inside or outside the line",
    "cutting": "cutting {astray} off the line",
    "mesh": "a finer mesh in the calculation",
}


# ---- numbers


def sentence(text: str) -> str:
    """Return text with its first letter large.

    Examples
    --------
    >>> sentence("the arm fits.")
    'The arm fits.'
    """
    return text[:1].upper() + text[1:]


def listed(items: Sequence[str]) -> str:
    """Return items as one reads them out.

    Examples
    --------
    >>> listed(["cap", "elbow", "wrist"]), listed(["cap"])
    ('cap, elbow and wrist', 'cap')
    """
    return " and ".join(part for part in (", ".join(items[:-1]), *items[-1:]) if part)


def length(mm: float, unit: Unit) -> str:
    """Return a length in the maker's unit.

    Examples
    --------
    >>> length(92.075, "in"), length(92.075, "cm"), length(92.0, "mm")
    ('3 5/8 in', '9.2 cm', '92 mm')
    """
    return format_length(mm, unit)


def small(mm: float, unit: Unit) -> str:
    """Return a small length: sixteenths of an inch, or whole millimetres.

    Examples
    --------
    >>> small(3.2, "in"), small(3.2, "cm"), small(0.6, "in")
    ('1/8 in', '3 mm', '0 in')
    """
    return format_length(mm, "in") if unit == "in" else f"{mm:.0f} mm"


def hair(mm: float, unit: Unit) -> str:
    """Return a length too small for a tape: inches to 1/32, and what that is rounded from.

    Examples
    --------
    >>> hair(0.7, "in"), hair(0.7, "cm")
    ('1/32 in (0.7 mm)', '0.7 mm')
    """
    plain = f"{mm:g} mm"
    return f"{format_length(mm, 'in', denominator=32)} ({plain})" if unit == "in" else plain


def up_to(mm: float, unit: Unit, *, finest: float = 1.0) -> str:
    """Return a length rounded up, so that nothing looks better than it is.

    Examples
    --------
    >>> up_to(1.1, "mm"), up_to(0.2, "in"), up_to(3.2, "in", finest=0.5)
    ('2 mm', '1/16 in', '3/16 in')
    """
    step = SIXTEENTH_MM if unit == "in" else finest
    stepped = max(math.ceil(mm / step - 1e-9), 1) * step
    return format_length(stepped, "in" if unit == "in" else "mm")


def amount(figure: Figure, value: float, unit: Unit) -> str:
    """Return a figure's value rounded up to its own error; nothing finer is ever said.

    Examples
    --------
    >>> by_key = {figure.key: figure for figure in FIGURES}
    >>> amount(by_key["worst_girth_percent"], 0.02, "mm"), amount(by_key["swing_deg"], 0.31, "mm")
    ('0.1 %', '0.4°')
    >>> amount(by_key["wrist_mm"], 3.0, "in"), amount(by_key["wrist_mm"], 2.2, "cm")
    ('1/8 in', '3 mm')
    """
    if figure.unit == "mm":
        return up_to(value, unit, finest=figure.finest)
    steps = max(math.ceil(value / figure.finest - 1e-9), 1)
    number = f"{steps * figure.finest:.{_decimals(figure.finest)}f}"
    return f"{number}{'' if figure.unit == '°' else ' '}{figure.unit}"


def _decimals(finest: float) -> int:
    return max(0, -math.floor(math.log10(finest) + 1e-9))


def degrees(value: float) -> str:
    """Return an angle as it is said.

    Examples
    --------
    >>> degrees(0.42), degrees(0.9), degrees(3.2)
    ('half a degree', 'one degree', '4 degrees')
    """
    if value <= 0.5:
        return "half a degree"
    return "one degree" if value <= 1.0 else f"{math.ceil(value - 1e-9)} degrees"


PLUMB = {
    "underarm_inside": "how far the underarm lies inside the plumb line",
    "underarm_behind": "how far the underarm lies behind the plumb line",
    "front_inside": "how much nearer to the middle the armhole's front edge stands",
    "elbow_outward": "how far out the elbow hangs",
    "elbow_forward": "how far forward the elbow hangs",
    "wrist_outward": "how far out the wrist hangs",
    "wrist_forward": "how far forward the wrist hangs",
}
BETWEEN = re.compile(r"girth_(\d+)_(above|below)_elbow")


def measure_name(name: str, unit: Unit) -> str:
    """Return a field of the sheet, or a row of its tape, in words.

    Examples
    --------
    >>> measure_name("upper_arm_girth", "cm"), measure_name("armhole.width", "in")
    ('upper arm girth', 'armhole width')
    >>> measure_name("girth_141_below_elbow", "in")
    'girth 5 9/16 in below the elbow'
    """
    if found := BETWEEN.fullmatch(name):
        return f"girth {length(float(found[1]), unit)} {found[2]} the elbow"
    return PLUMB.get(name) or name.replace("_", " ").replace(".", " ")


# ---- verdicts


def verdict_sentence(
    verdicts: Sequence[Verdict], unit: Unit, *, subject: str = "the arm"
) -> str:
    """Return what the sewn and filled arm keeps to, and what it does not, with what would help."""
    kept = kept_lines(verdicts, unit)
    missed = missed_lines(verdicts, unit)
    start = f"Sewn and filled, {subject}"
    if not kept:
        return " ".join([f"{start} keeps to nothing that was wanted.", *missed])
    return " ".join([f"{start} keeps to what was wanted: {listed(kept)}.", *missed])


def kept_lines(verdicts: Sequence[Verdict], unit: Unit) -> tuple[str, ...]:
    """Return each figure that is within its limit, and within what it lies."""
    return tuple(
        f"{v.figure.name} within {amount(v.figure, v.value, unit)}" for v in verdicts if v.is_met
    )


def missed_lines(verdicts: Sequence[Verdict], unit: Unit) -> tuple[str, ...]:
    """Return a sentence for each help that is needed, with the figures that it would mend."""
    by_help: dict[str, list[str]] = {}
    for verdict in verdicts:
        if not verdict.is_met:
            by_help.setdefault(verdict.help, []).append(_missed(verdict, unit))
    return tuple(
        f"Not kept: {listed(misses)}." + (f" {sentence(help_)}." if help_ else "")
        for help_, misses in by_help.items()
    )


def _missed(verdict: Verdict, unit: Unit) -> str:
    value, limit = (
        amount(verdict.figure, number, unit) for number in (verdict.value, verdict.limit)
    )
    off = f"just over {limit}" if value == limit else value
    return f"{verdict.figure.name} off by {off} (wanted: {limit})"


def headline(arm: ArmResult, unit: Unit, *, subject: str = "this arm") -> str:
    """Return what the maker wants to know first: will it fit, and will it hang."""
    fit = arm.fit
    if fit is None:
        return f"{sentence(subject)} was not sewn by calculation, so its fit is not known."
    off = max((abs(girth.sewn_mm - girth.asked_mm) for girth in fit.girths), default=0.0)
    tape, turn = up_to(off, unit), degrees(fit.swing_deg)
    said = f"Sewn and filled, {subject} will match your tape within {tape} and hang within {turn}."
    if not all(verdict.is_met for verdict in arm.verdicts):
        said = (
            f"Sewn and filled, {subject} will differ from your tape by up to {tape}, and hang "
            f"{amount(SWING, fit.swing_deg, unit)} from where yours does."
        )
    return " ".join([said, *_worst(arm.verdicts, unit)])


def _worst(verdicts: Sequence[Verdict], unit: Unit) -> list[str]:
    """Return what is missed by most, how many more are missed, and what would help."""
    missed = sorted((v for v in verdicts if not v.is_met), key=lambda v: -v.value / v.limit)
    if not missed:
        return []
    more = f", and {len(missed) - 1} more" if len(missed) > 1 else ""
    help_ = f" {sentence(missed[0].help)}." if missed[0].help else ""
    return [f"Not as wanted: {_missed(missed[0], unit)}{more}.{help_}"]


def fit_sentence(fit: Fit, unit: Unit) -> str:
    """Return what one set of pieces becomes: over the shoulder, hanging, and by tape."""
    label = sentence(f"the {source_called(fit.source).label}")
    return f"{label}: {_cap(fit, unit)}; {_swing(fit, unit)}; {_girths(fit, unit)}."


def _cap(fit: Fit, unit: Unit) -> str:
    if max(fit.bulge_max, fit.hollow_max) <= GOOD_MM:
        return f"the cap lies within {up_to(GOOD_MM, unit)} of the shoulder"
    words = "the cap stands out nowhere"
    if fit.bulge_max > GOOD_MM:
        words = (
            f"the cap stands out by up to {small(fit.bulge_max, unit)}, {_where(fit, unit)}, over "
            f"{_breadth(fit.bulge_breadth)}"
        )
    if fit.hollow_max > GOOD_MM:
        words += f", and lies up to {small(fit.hollow_max, unit)} too low elsewhere"
    return words


def _where(fit: Fit, unit: Unit) -> str:
    below = f"{small(fit.bulge_below_seam, unit)} below the cap seam"
    if fit.bulge_below_seam < AT_SEAM_MM:
        below = "at the cap seam"
    if abs(fit.bulge_forward) < 0.25:
        return f"{below} in the middle"
    return f"{below} towards the {'front' if fit.bulge_forward > 0 else 'back'}"


def _breadth(size: float) -> str:
    return next((words for most, words in BREADTHS if size < most), "more than a hand's breadth")


def _swing(fit: Fit, unit: Unit) -> str:
    if fit.swing_deg <= GOOD_DEG:
        return "the arm hangs as you want it to hang"
    parts = [
        f"{abs(angle):.0f}° {more if angle > 0 else less}"
        for angle, more, less in (
            (fit.outward_deg, "out from the body", "in towards the body"),
            (fit.forward_deg, "forward", "back"),
        )
        if abs(angle) >= 0.5
    ]
    return (
        f"the whole arm swings {' and '.join(parts) or f'{fit.swing_deg:.1f}°'}, "
        f"which carries the wrist {small(fit.wrist_mm, unit)} away"
    )


def _girths(fit: Fit, unit: Unit) -> str:
    worst = max(fit.girths, key=lambda girth: abs(girth.off_percent), default=None)
    if worst is None or abs(worst.off_percent) <= GOOD_PERCENT:
        return f"girths come out within {GOOD_PERCENT:.0f} %"
    off = worst.sewn_mm - worst.asked_mm
    more = "more" if off > 0 else "less"
    name = measure_name(worst.name, unit)
    return f"the {name} comes out {small(abs(off), unit)} {more} than asked"


# ---- how sure that is


def moves(certainty: Certainty, cause: str) -> dict[str, float]:
    """Return by how much a cause changes each figure at most, by the figure's key."""
    return {
        figure.key: max(
            (abs(figure.of(case.fit) - figure.of(certainty.base.fit))
             for case in certainty.of(cause)), default=0.0,
        )
        for figure in FIGURES
    }  # fmt: skip


def certainty_lines(certainty: Certainty, unit: Unit) -> tuple[str, ...]:
    """Return a sentence for each cause: what it moves by more than half of what is let pass."""
    lines = []
    for cause in certainty.causes:
        by = moves(certainty, cause)
        told = listed([f"{f.name} by up to {amount(f, by[f.key], unit)}" for f in FIGURES
                       if by[f.key] > 0.5 * f.limit])  # fmt: skip
        told = told or "nothing by more than half of what is let pass"
        lines.append(f"{sentence(_cause(certainty, cause, unit))} moves {told}.")
    return tuple(lines)


def _cause(certainty: Certainty, cause: str, unit: Unit) -> str:
    return CAUSES.get(cause, cause).format(
        astray=hair(certainty.astray, unit), beside=hair(BESIDE_MM, unit)
    )


def doubt_sentence(arm: ArmResult, unit: Unit) -> str:
    """Return the one worst doubt: the reading, or the assumption, that carries the arm farthest."""
    certainty = arm.certainty
    if certainty is None:
        return ""
    farthest = max((case.fit.wrist_mm for case in certainty.cases), default=0.0)
    if arm.slips and arm.slips[0].moves > farthest:
        return f"The worst doubt: {slip_words(arm.slips[0], unit)}."
    doubts = [
        (figure.share(case.fit), figure, case)
        for case in certainty.cases if case.cause != "mesh" for figure in FIGURES
    ]  # fmt: skip
    if not doubts:
        return ""
    _, figure, case = max(doubts, key=lambda doubt: doubt[0])
    return (
        f"The worst doubt: with {_cause(certainty, case.cause, unit)}, {figure.name} may be off "
        f"by up to {amount(figure, figure.of(case.fit), unit)}."
    )


def round_both_sentence(arm: ArmResult, double: Double | None, unit: Unit) -> str:
    """Return what a tape round the double and both arms reads; "" where it is not known."""
    taped = dict(arm.round_both)
    if double is None or not taped:
        return ""
    measured = taped.pop("measured")
    wanted = double.round_both_arms or measured
    start = (
        f"A tape round the double and both arms, half-way down the cap, is to read "
        f"{length(double.round_both_arms, unit)}; round the measured arms it would read "
        f"{length(measured, unit)}"
        if double.round_both_arms
        else f"A tape round the double and both arms, half-way down the cap, reads "
        f"{length(measured, unit)} round the measured arms"
    )
    told = [
        f"{small(abs(mm - wanted), unit)} {'more' if mm > wanted else 'less'} with the "
        f"{source_called(source).label}"
        for source, mm in taped.items()
    ]
    least = "" if double.depth else " (the double's own depth is not in the sheet: at least this)"
    return f"{start}{least}; {listed(told)}."


def slip_words(slip: Slip, unit: Unit) -> str:
    """Return what a reading moves when it is off, to be read on from a colon."""
    moved = {"the wrist": slip.wrist_mm, "the elbow": slip.elbow_mm, "the shoulder": slip.cap_p95}
    what = max(moved, key=lambda name: moved[name])
    name, off = measure_name(slip.name, unit), small(slip.by, unit)
    start = f"{name} was not measured, and {off} off there" if slip.is_guess else (
        f"{name}, read {off} wrong,"
    )  # fmt: skip
    if moved[what] < NOTHING_MM:
        return f"{start} changes that girth by {slip.worst_girth_percent:.1f} % and nothing else"
    return f"{start} moves {what} by {small(moved[what], unit)}"


def roundness_sentence(correction: Correction, unit: Unit) -> str:
    """Return what no pattern can remove."""
    mean, most = (up_to(mm, unit, finest=0.5) for mm in
                  (correction.round_mean, correction.round_p95))  # fmt: skip
    return (
        f"Filled cloth goes round: {mean} over the shoulder on average (95 % lie within {most}) is "
        "the difference between the measured arm's oval sections and round ones. No pattern can "
        "remove it, and the figures leave it out."
    )


def cases_of(certainty: Certainty) -> Iterable[Case]:
    """Return every case, the one as assumed first."""
    return (certainty.base, *certainty.cases)
