"""A flat draft as steps on paper, in the order in which a maker draws, with her numbers."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

import numpy as np

from unroll.drafts.comparing import cloth_along, piece_named
from unroll.nouns import ArmMeasures, Drafted, Make, Piece, source_called
from unroll.nouns.corrected import DraftCorrection
from unroll.show.phrases import listed, measure_name
from unroll.units import Unit, format_length

LINES = ("upper arm line", "elbow line", "forearm line")
FINE = 32  # of an inch: a sixteenth of a girth is more than is let pass


def drawable(mm: float, unit: Unit) -> str:
    """Return a length as finely as it can be drawn, in the maker's unit.

    Examples
    --------
    >>> drawable(284.6, "in"), drawable(284.64, "cm"), drawable(284.64, "mm")
    ('11 7/32 in', '28.46 cm', '284.6 mm')
    """
    if unit == "in":
        return format_length(mm, "in", denominator=FINE)
    return f"{0.1 * mm:.2f} cm" if unit == "cm" else f"{mm:.1f} mm"


def draft_steps(
    found: DraftCorrection, measures: ArmMeasures, make: Make, unit: Unit
) -> tuple[str, ...]:
    """Return how the corrected draft is drawn, a step a line.

    Parameters
    ----------
    found : DraftCorrection
    measures : ArmMeasures
        As they were measured; what was corrected is taken from `found`.
    make : Make
    unit : {"in", "cm", "mm"}
    """
    changed = {change.name: change.drawn for change in found.changes}
    fields = {name: mm for name, mm in changed.items() if hasattr(measures, name)}
    drawn = replace(measures, **fields)  # type: ignore[arg-type]
    outer, inner = (piece_named(found.pieces, name) for name in ("outer", "inner"))

    def say(mm: float) -> str:
        return drawable(mm, unit)

    hole = drawn.armhole
    return (
        f"Draw the armhole, {say(hole.width)} wide and {say(hole.height)} high, upright, its "
        "shoulder point at the top.",
        f"Drop a line straight down from each of its widest points: the back one ends "
        f"{say(drawn.shoulder_to_elbow)} below the shoulder point, the front one "
        f"{say(drawn.shoulder_to_inner_elbow)}. Join their ends: this is the elbow line.",
        "From its middle and square to it draw the lower arm, "
        f"{say(drawn.inner_elbow_to_wrist)} to the wrist line, with the forearm line "
        f"{say(drawn.forearm_down)} down. The upper arm line lies {say(drawn.upper_arm_up)} above "
        "the front end of the elbow line.",
        f"Inner piece, each width centred on its line: {_widths(inner, unit)}. Its top is the "
        "lower half of the armhole.",
        f"Outer piece, on the same lines: {_widths(outer, unit)}.",
        _cap_step(found, drawn, changed.get("cap_ease", make.cap_ease), unit),
        *_dart_steps(outer, unit),
        "Join the marks by smooth lines, and walk the seams against each other before you cut.",
    )


def _widths(piece: Piece, unit: Unit) -> str:
    told = [
        f"{drawable(cloth_along(piece, piece.lines[name]), unit)} on the {name}"
        for name in LINES if name in piece.lines
    ]  # fmt: skip
    wrist = sum(side.length for side in piece.sides if side.seam.endswith(" wrist"))
    return listed([*told, f"{drawable(wrist, unit)} at the wrist"])


def _cap_step(found: DraftCorrection, drawn: ArmMeasures, ease: float, unit: Unit) -> str:
    if found.manner == "ease":
        return (
            "Cap: spread the upper half of the armhole to the outer piece's width, its top "
            f"{drawable(ease, unit)} above the shoulder point."
        )
    return f"Cap: its top lies {drawable(drawn.cap_height, unit)} above the level of the underarm."


def _dart_steps(outer: Piece, unit: Unit) -> Iterator[str]:
    """Yield where each dart lies, what it takes in and how long it is, front to back."""
    names = [side.seam for side in outer.sides]
    is_from_back = "cap seam" in names and names[names.index("cap seam") - 1] == "back seam"
    walked, darts = 0.0, dict[str, tuple[float, list[np.ndarray]]]()
    for side in outer.sides:
        if side.seam.startswith("dart "):
            darts.setdefault(side.seam, (walked, []))[1].append(side.points)
        elif side.seam == "cap seam":
            walked += side.length
    for name, (at, legs) in sorted(darts.items(), key=lambda item: int(item[0].split()[1])):
        from_front = walked - at if is_from_back else at
        ends = np.array([legs[0][0], legs[-1][-1]])
        intake = float(np.linalg.norm(ends[1] - ends[0]))
        length = float(np.linalg.norm(legs[0][-1] - ends.mean(axis=0)))
        yield (
            f"{name.capitalize()}: {drawable(from_front, unit)} along the cap's edge from its "
            f"front corner, other darts not counted, {drawable(intake, unit)} wide there straight "
            "across, which is a little less than along the curved edge, and "
            f"{drawable(length, unit)} long, square to the edge."
        )


def draft_lines(drafted: Drafted) -> tuple[str, ...]:
    """Return of the walked seams what a maker must act on: each once, naming its drafts.

    Seams that fit are not told, and where all do, one line says so.
    """
    found: dict[str, list[str]] = {}
    for source, seams in drafted.walked.items():
        for seam in seams:
            if seam.verdict != "good":
                told = f"{measure_name(seam.name, 'mm')}: {seam.text}"
                found.setdefault(told, []).append(source_called(source).label)
    lines = [f"{_whose(labels, drafted.walked)}{text}" for text, labels in found.items()]
    return tuple(lines) or ("All seams of the flat draft fit each other.",)


def _whose(labels: Sequence[str], walked: Collection[str]) -> str:
    """Return which drafts a line is about; "" where it is all of them."""
    return "" if len(labels) == len(walked) else f"{listed(labels)}: "
