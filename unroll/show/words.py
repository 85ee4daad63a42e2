"""What to do with the pieces, in words: what was changed, what to watch, what the terminal says."""

from __future__ import annotations

from unroll.flat.distortion import advise, sewn_distortion
from unroll.nouns import (
    ArmResult,
    Cloth,
    Correction,
    Distortion,
    LayoutTrial,
    Make,
    MakeResult,
    Ready,
    source_called,
)
from unroll.nouns.fit import FIGURES
from unroll.paper.wording import filling_words, length_words
from unroll.show.phrases import (
    SWING,
    amount,
    certainty_lines,
    degrees,
    doubt_sentence,
    fit_sentence,
    headline,
    length,
    listed,
    measure_name,
    missed_lines,
    sentence,
    small,
    up_to,
    verdict_sentence,
)
from unroll.units import Unit

__all__ = [
    "arm_advice",
    "asked_of",
    "certainty_lines",
    "changes_in_words",
    "fit_lines",
    "fit_sentence",
    "layout_caution",
    "layout_sentence",
    "missed_lines",
    "piece_advice",
    "terminal_lines",
    "verdict_sentence",
]

# Guesses that cost most first: our judgement from trying them one by one, no source.
MATTERS = (
    "cap_height", "cap_arcs", "armhole", "upper_arm_girth", "shoulder_to_elbow",
    "shoulder_to_inner_elbow", "inner_elbow_to_wrist", "elbow_girth", "forearm_girth",
    "wrist_girth",
)  # fmt: skip
CAUTION_DEG, CAUTION_MM = 1.0, 8.0  # twice what is promised: our judgement, no source
LEAST_MM, LEAST_PERCENT = 0.5, 0.1  # smaller changes are not worth a line
SHIFTS = (
    ("cap height", "the cap is {} {}", "higher", "lower"),
    ("outer middle", "the outer piece is {} {} down its middle", "longer", "shorter"),
    ("inner middle", "the inner piece is {} {} down its middle", "longer", "shorter"),
    ("front seam", "the front seam is {} {}", "longer", "shorter"),
    ("back seam", "the back seam is {} {}", "longer", "shorter"),
)
WIDTHS = {
    "the upper arm": "upper arm width",
    "the elbow": "elbow width",
    "the forearm": "forearm width",
}


# ---- what was changed, and darts


def changes_in_words(correction: Correction, unit: Unit) -> tuple[str, ...]:
    """Return what was changed against pieces laid flat as the arm is, one line each."""
    by_name = {change.name: change for change in correction.on_paper}
    lines = []
    for name, text, more, less in SHIFTS:
        by = by_name[name].after - by_name[name].before if name in by_name else 0.0
        if abs(by) >= LEAST_MM:
            lines.append(text.format(up_to(abs(by), unit, finest=0.5), more if by > 0 else less))
    for name, width in WIDTHS.items():
        if width in by_name:
            lines += _width(name, by_name[width].after / by_name[width].before)
    for intake in correction.after.intakes:
        was = by_name.get(f"{intake.name} intake")
        before = f" ({small(was.before, unit)} before)" if was else ""
        lines.append(
            f"{intake.name} takes in {small(intake.width, unit)}{before} and runs "
            f"{length(intake.length, unit)} down the arm"
        )
    return (*lines, f"the cap seam has {small(correction.after.ease, unit)} of ease")


def _width(name: str, ratio: float) -> list[str]:
    percent = 100.0 * (ratio - 1.0)
    if abs(percent) < LEAST_PERCENT:
        return []
    way = "slimmer" if percent < 0 else "wider"
    why = ", because filling rounds it out" if percent < 0 else ""
    return [f"{name} is {abs(percent):.1f} % {way} on paper{why}"]


def layout_sentence(trial: LayoutTrial, unit: Unit) -> str:
    """Return what a dart layout takes in, what it gives, and why it cannot be sewn, if so."""
    widths = listed([small(intake.width, unit) for intake in trial.intakes]) or "nothing"
    missed = listed([
        f"{f.name} off by {amount(f, f.of(trial.miss), unit)} (wanted: {amount(f, f.limit, unit)})"
        for f in FIGURES if f.of(trial.miss) > f.limit
    ])  # fmt: skip
    gives = missed or "all within what is wanted"
    faults = f" Not as your sheet wants it: {'; '.join(trial.faults)}." if trial.faults else ""
    taken = ", taken" if trial.chosen else ""
    return (
        f"{sentence(trial.name)}{taken}: takes in {widths}, with {small(trial.ease, unit)} of ease "
        f"in the cap seam; {gives}.{faults}"
    )


def layout_caution(arm: ArmResult, make: Make, unit: Unit) -> str:
    """Return a plain warning where the layout takes in too little; empty where it does not.

    Only corrected pieces tell: others swing for want of correction. Nor do ends of cloth alone,
    which are what is at fault then.

    Parameters
    ----------
    arm : ArmResult
        Its pieces to cut tell by the swing and the distance over the shoulder that are left.
    make : Make
        What the sheet fixes of the darts, and thus what can be asked for instead.
    unit : {"in", "cm", "mm"}
    """
    if arm.fit is None or arm.correction is None:
        return ""
    if arm.sewn[arm.source].cloth.ends == "cloth":
        return ""
    signs = []
    if arm.fit.swing_deg > CAUTION_DEG:
        signs.append(
            f"the filled arm still swings {degrees(arm.fit.swing_deg)} (wanted: under "
            f"{degrees(CAUTION_DEG)})"
        )
    if arm.fit.cap_p95 > CAUTION_MM:
        signs.append(
            f"the shoulder is up to {small(arm.fit.cap_p95, unit)} off (wanted: under "
            f"{small(CAUTION_MM, unit)})"
        )
    if not signs:
        return ""
    return f"This cap takes in too little for its shoulder: {listed(signs)}. {_help(arm, make)}"


def _help(arm: ArmResult, make: Make) -> str:
    if make.cap == "ease":
        return (
            'Darts, or a seam down the outside of the arm, would take in more: write cap = "darts" '
            "in the sheet."
        )
    more = "longer darts, one dart more, or more ease in the cap seam"
    if any(intake.is_seam for intake in arm.intakes):
        more = "a longer seam, darts instead of it, or more ease in the cap seam"
    if make.darts or make.dart_count is not None:
        fixed = "darts" if make.darts else "dart_count"
        return (
            f"What would help: {more}, or a seam down the outside. Leave {fixed} out of the sheet, "
            "and other layouts are tried."
        )
    return (
        f"What would help: {more}; and tape the cap and the armhole again, since the layouts that "
        "can be sewn were tried (is the armhole smaller than the shoulder it is for?)."
    )


def asked_of(arm: ArmResult) -> dict[str, Distortion]:
    """Return what the pieces to cut ask of the cloth, by panel name.

    Read on the sewn and filled arm, where it was sewn: corrected pieces are not laid flat from the
    arm that they make.
    """
    sewn = arm.sewn.get(arm.source)
    if sewn is None:
        return dict(arm.distortions)
    return {name: sewn_distortion(sewn, name) for name in arm.distortions}


def piece_advice(arm: ArmResult, cloth: Cloth) -> dict[str, str]:
    """Return a sentence for each flattened piece to cut: what it asks of the cloth."""
    return {
        name: advise(
            distortion,
            gives_percent=cloth.gives_percent,
            has_darts=name == "outer" and bool(arm.intakes),
            cloth=cloth.name,
        )
        for name, distortion in asked_of(arm).items()
    }


def arm_advice(result: MakeResult, arm: ArmResult) -> dict[str, str]:
    """Return what is to be known of one arm's pieces, by what it is about, verdict first."""
    unit, advice = result.sheet.unit, {}
    if arm.verdicts:
        label = source_called(arm.source).label
        advice[label] = verdict_sentence(arm.verdicts, unit, subject=f"the arm from the {label}")
    caution = layout_caution(arm, result.sheet.make, unit)
    if caution or arm.faults:
        told = (caution, *(f"{sentence(fault)}." for fault in arm.faults))
        advice["dart layout"] = " ".join(line.replace("..", ".") for line in told if line)
    if arm.certainty is not None and (doubt := doubt_sentence(arm, unit)):
        advice["certainty"] = doubt
    if arm.drafted is not None and arm.drafted.advice:
        advice["flat draft"] = f"{arm.drafted.advice.removesuffix('.')}."
    return advice | piece_advice(arm, result.sheet.cloth)


# ---- the terminal


def fit_lines(arm: ArmResult, unit: Unit) -> tuple[str, ...]:
    """Return what each set of pieces becomes, sewn and filled, and which comes nearest."""
    lines = [fit_sentence(fit, unit) for fit in arm.fits.values()]
    hung = [fit for fit in arm.fits.values() if fit.swing_deg <= SWING.limit]
    if len(arm.fits) > 1 and hung:  # a shoulder is no use on an arm that hangs elsewhere
        best = min(hung, key=lambda fit: fit.cap_mean)
        lines.append(
            "Nearest over the shoulder, of those that hang as wanted: the "
            f"{source_called(best.source).label}."
        )
    return tuple(lines)


def terminal_lines(result: MakeResult, ready: Ready | None) -> tuple[str, ...]:
    """Return what is said once everything is made: at most seven lines for one arm, nine for two.

    Parameters
    ----------
    result : MakeResult
    ready : Ready or None
        What is to be printed; None where nothing is.
    """
    first = [headline_of(result, arm) for arm in result.arms]
    doubts, guesses = (
        _said_once([line(result, arm) for arm in result.arms])
        for line in (doubt_line, guesses_line)
    )
    cause, seams = cause_line(result), seam_line(result, ready)
    lines = (
        cause, *first, print_line(result, ready), seams, *doubts, *guesses,
        "" if seams else worse_by_hand_line(result), "" if cause else second_look_line(result),
    )  # fmt: skip
    return tuple(line for line in lines if line)


def _said_once(lines: list[str]) -> list[str]:
    """Return what is said of each of two arms; in one line where it is the same."""
    texts = {line.partition(" arm: ")[2] for line in lines}
    if len(lines) == 2 and len(texts) == 1 and all(texts):
        return [f"Both arms: {texts.pop()}"]
    return lines


def cause_line(result: MakeResult) -> str:
    """Return which measures contradict each other, where something is outside its limits."""
    fights = [notice.text for notice in result.sheet.notices if notice.fights]
    if not fights or all(v.is_met for arm in result.arms for v in arm.verdicts):
        return ""
    return f"First look at your measures: {fights[0]}."


def headline_of(result: MakeResult, arm: ArmResult) -> str:
    """Return the verdict, naming the arm where there are two."""
    return headline(arm, result.sheet.unit, subject=_subject(result, arm))


def _subject(result: MakeResult, arm: ArmResult) -> str:
    return "this arm" if len(result.arms) == 1 else f"the {arm.measures.side} arm"


def _named(result: MakeResult, arm: ArmResult, text: str) -> str:
    if not text or len(result.arms) == 1:
        return text
    return f"{arm.measures.side.capitalize()} arm: {text[:1].lower()}{text[1:]}"


def print_line(result: MakeResult, ready: Ready | None) -> str:
    """Return what to do next: print, cut, fill."""
    if ready is None:
        return "Nothing is printed yet: a seam is wrong, and the report says which."
    need = [f"{length_words(ready.plan.length, result.sheet)} of cloth"]
    if filling := filling_words(ready.facts, result.sheet, arms=2):
        need.append(f"{filling} of filling for two arms")
    count = len(ready.pattern)
    return (
        f"Next: print the pattern at 100 % ({count} {'page' if count == 1 else 'pages'}); you need "
        f"{listed(need)}."
    )


def seam_line(result: MakeResult, ready: Ready | None) -> str:
    """Return what of the seams is outside its limits, where nothing else tells that something is.

    Limits of the arm and of its darts stand in the verdict and in the doubts.
    """
    if ready is None or any(arm.faults for arm in result.arms):
        return ""
    if not ready.faults or not all(v.is_met for arm in result.arms for v in arm.verdicts):
        return ""
    more = f" (and {len(ready.faults) - 1} more, on its cover)" if len(ready.faults) > 1 else ""
    return f"Before you cut: {ready.faults[0].removesuffix('.')}{more}."


def doubt_line(result: MakeResult, arm: ArmResult) -> str:
    """Return the one worst doubt about an arm's pieces."""
    unit = result.sheet.unit
    caution = layout_caution(arm, result.sheet.make, unit)
    if caution or arm.faults:
        return _named(result, arm, caution or f"To be sewn with care: {arm.faults[0]}.")
    if arm.certainty is not None:
        return _named(result, arm, doubt_sentence(arm, unit))
    return _named(result, arm, "How far these figures can be trusted was not worked out.")


def guesses_line(result: MakeResult, arm: ArmResult) -> str:
    """Return how many measures are guesses, and which matter most."""
    names = list(dict.fromkeys(estimate.name for estimate in arm.measures.estimated))
    if not names:
        return ""
    moved = {slip.name: slip.moves for slip in arm.slips if slip.is_guess}
    ranked = sorted(names, key=lambda name: (-moved.get(name.split(" ")[0], 0.0), _matters(name)))
    which = listed([measure_name(name, result.sheet.unit) for name in ranked[:2]])
    start = "One of your measures is a guess" if len(names) == 1 else (
        f"{len(names)} of your measures are guesses"
    )  # fmt: skip
    rest = f": {which}" if len(names) <= 2 else f"; {which} matter most"
    return _named(result, arm, f"{start}{rest}. Tape what you can.")


def _matters(name: str) -> int:
    if name == "armhole girth":  # it follows from width and height, unless these are guesses too
        return len(MATTERS)
    stem = name.split(".")[0].split(" ")[0]
    return MATTERS.index(stem) if stem in MATTERS else len(MATTERS)


def by_hand_line(result: MakeResult, arm: ArmResult) -> str:
    """Return what a draft by the flat rules would have become."""
    fit = arm.fits.get(f"drafted-{result.sheet.make.cap}")
    if fit is None:
        return ""
    unit = result.sheet.unit
    off = max((abs(girth.sewn_mm - girth.asked_mm) for girth in fit.girths), default=0.0)
    worst = max(FIGURES, key=lambda figure: figure.share(fit))
    is_said = worst.share(fit) <= 1.0 or worst.key in ("swing_deg", "worst_girth_percent")
    told = "" if is_said else (
        f", with {worst.name} off by {amount(worst, worst.of(fit), unit)}"
    )  # fmt: skip
    return _named(
        result, arm,
        f"Drafted by hand from the same measures, it would match your tape within "
        f"{up_to(off, unit)} and hang within {degrees(fit.swing_deg)}{told}.",
    )  # fmt: skip


def worse_by_hand_line(result: MakeResult) -> str:
    """Return what a draft by the flat rules would have become; of two arms, the worse one's."""
    drafted = f"drafted-{result.sheet.make.cap}"
    there = [arm for arm in result.arms if drafted in arm.fits]
    if not there:
        return ""
    worse = max(there, key=lambda arm: max(f.share(arm.fits[drafted]) for f in FIGURES))
    return by_hand_line(result, worse).replace(" arm: ", " arm, the worse of the two: ")


def second_look_line(result: MakeResult) -> str:
    """Return what of the sheet is worth a second look, counted."""
    unit, arms = result.sheet.unit, result.arms
    unmet = [one.name for arm in arms for one in arm.measures.estimated
             if one.reading_mm is not None]
    unmet += [row.name for arm in arms for row in arm.tape if row.note]
    gave = [measure_name(name, unit) for name in unmet]
    parts = []
    if gave:
        parts.append(f"{listed(list(dict.fromkeys(gave)))} could not be kept as measured")
    if result.sheet.notices:
        count = len(result.sheet.notices)
        parts.append(f"{count} {'line' if count == 1 else 'lines'} of the sheet to look at again")
    return f"In the report: {'; '.join(parts)}." if parts else ""
