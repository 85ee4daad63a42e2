"""What the pages say: how to print, the order of sewing, what to take care of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from unroll.nouns import ArmMeasures, FinishedPiece, PrintFacts, Sheet
from unroll.nouns.seam import seams_of, sewing_order
from unroll.units import format_length

GRAMS_PER_OUNCE = 28.349523125  # avoirdupois; international yard and pound agreement of 1959


@dataclass(frozen=True)
class Step:
    """One step of the sewing: its name, what to do, and which drawing shows it.

    Attributes
    ----------
    name : str
    short : str
        One line for the cover sheet.
    text : str
        A few sentences for the guide.
    drawing : str
        "cut", "darts", "ease", "front seam", "back seam", "wrist", "filling", "extension",
        "armhole", "attach".
    """

    name: str
    short: str
    text: str
    drawing: str


CAUTIONS = (
    "Shears, rotary blades and pins: cut away from yourself, close and sheath blades, count pins "
    "in and out of the work; none may stay in the filling.",
    "Filling and cloth burn: keep the form away from flame, heaters and irons left on.",
    "A filled form tips under weight: fix its stand before you hang or pin heavy cloth on the arm.",
    "Not a toy; keep small parts, loose filling and cords from small children.",
    "Local rules and the makers' labels of cloth, filling and tools come first.",
)


SOURCES = {
    "corrected": "shaped so that the sewn and filled arm comes out right",
    "unrolled": "laid flat from the arm's shape",
    "drafted-ease": "drafted by the flat rules",
    "drafted-darts": "drafted by the flat rules",
}


def printing_lines(paper: str, is_one_sheet: bool) -> tuple[str, ...]:
    """Return how to print and check, and how to join pages."""
    first = (
        f"Print on {paper.upper() if len(paper) < 3 else paper.capitalize()} paper at 100 % "
        '("actual size"); no fitting to the page.'
    )
    where = "on the sheet" if is_one_sheet else "below"
    check = (
        f"Measure the test squares {where}. If one is off by more than 0.5 mm (1/64 in), do not "
        "cut: the printer scaled it."
    )
    if is_one_sheet:
        return first, check
    joining = (
        "Trim each page along the dots, lay it over its neighbour so that the half rings meet with "
        "the same two numbers, and tape it: rows first, then rows to each other. Small rulers in "
        "the corners show that no page was scaled."
    )
    return first, check, joining


def named_arms(finished: Sequence[FinishedPiece]) -> list[str]:
    """Return the arms that pieces are for: "both arms", or "the left arm", "the right arm"."""
    arms = sorted({piece.arm for piece in finished})
    return ["both arms" if arm == "both" else f"the {arm} arm" for arm in arms]


def made_to(arm: ArmMeasures) -> tuple[tuple[str, float], ...]:
    """Return what a finished arm measures, as it is made to: plain names and mm."""
    return (
        ("upper arm", arm.upper_arm_girth),
        ("elbow", arm.elbow_girth),
        ("forearm", arm.forearm_girth),
        ("wrist", arm.wrist_girth),
        ("shoulder to elbow", arm.shoulder_to_elbow),
        ("inner elbow to wrist", arm.inner_elbow_to_wrist),
        ("cap height", arm.cap_height),
    )


def guesses_line(count: int) -> str:
    """Return how many of the sheet's measures were not taken.

    Examples
    --------
    >>> guesses_line(1)
    '1 measure was not taken and is a guess; the report names it.'
    """
    if count == 1:
        return "1 measure was not taken and is a guess; the report names it."
    return f"{count} measures were not taken and are guesses; the report names them."


def steps(finished: Sequence[FinishedPiece], sheet: Sheet, facts: PrintFacts) -> tuple[Step, ...]:
    """Return the order of sewing of one arm, from its own pieces."""
    cloth = {piece.name: piece for piece in finished if piece.material == "cloth"}
    outer = cloth.get("outer")
    has_extension = "shoulder extension" in cloth
    seam_steps = {"front seam": _front_step(), "back seam": _back_step(outer)}
    seam_steps |= dict.fromkeys(("outer wrist", "inner wrist"), _wrist_step(sheet))
    if outer is not None:
        seam_steps |= {dart.name: _dart_step(outer) for dart in outer.darts}
    order = sewing_order(seams_of(tuple(cloth.values())))
    # several darts, and both halves of the wrist, are one step
    sewn = {seam_steps[name].name: seam_steps[name] for name in order if name in seam_steps}
    out = [_cut_step(sheet), *sewn.values()]
    if outer is not None and any(ease.seam == "cap seam" for ease in outer.eases):
        out.append(_ease_step(outer))
    if has_extension:
        out.append(_extension_step())
    out += [_armhole_step(has_extension), _filling_step(sheet, facts), _closing_step(sheet)]
    if has_extension:
        out.append(_attach_step())
    return tuple(out)


def _cut_step(sheet: Sheet) -> Step:
    return Step(
        "Cut and mark",
        "Cut on the thick line; snip the notches; mark darts and lines.",
        "Lay the pieces along the grain as in the cut plan and cut on the thick line. Turn the "
        "paper over for the mirrored copies. Snip each notch only as deep as it is drawn, one snip "
        "in front, two at the back. Mark darts and the elbow line on the wrong side.",
        "cut",
    )


def _dart_step(outer: FinishedPiece) -> Step:
    many = len(outer.darts)
    what = "the dart" if many == 1 else f"the {many} darts"
    press = (
        "Press the allowances open as far as they go; the point stays flat."
        if all(dart.pressed == "open" for dart in outer.darts)
        else "Press as the piece says: the raw edges then run smooth across the fold."
    )
    return Step(
        "Darts",
        f"Sew {what} from the edge to the point; press as marked.",
        f"Fold {what} of the outer piece right sides together, leg on leg, and sew from the edge "
        f"to the point; run off at the fold and knot the ends. {press}",
        "darts",
    )


def _front_step() -> Step:
    return Step(
        "Front seam",
        "Inner to outer at the front, single notches together.",
        "Lay the inner piece on the outer, right sides together, and pin the front seam from both "
        "ends and at the single notches. Sew, clip the hollows, press open.",
        "front seam",
    )


def _back_step(outer: FinishedPiece | None) -> Step:
    ease = next((e for e in outer.eases if e.seam == "back seam"), None) if outer else None
    extra = (
        f" Ease in the outer's {ease.surplus:.0f} mm between {ease.start} and {ease.end} notch."
        if ease
        else ""
    )
    return Step(
        "Back seam",
        "The same at the back, double notches together." + (" Ease at the elbow." if ease else ""),
        "Close the tube at the back seam, double notches together."
        + extra
        + " Press open over a rolled towel.",
        "back seam",
    )


def _wrist_step(sheet: Sheet) -> Step:
    card = " Lay the wrist card inside once it is turned." if sheet.cloth.ends == "card" else ""
    return Step(
        "Wrist end",
        "Sew in the wrist base; turn right side out.",
        "Pin the wrist base into the wrist edge, right sides together, notches on notches, and sew "
        "around. Trim to half the allowance and turn the arm right side out." + card,
        "wrist",
    )


def _ease_step(outer: FinishedPiece) -> Step:
    spans = [ease for ease in outer.eases if ease.seam == "cap seam"]
    total = sum(ease.surplus for ease in spans)
    return Step(
        "Ease the cap",
        f"Draw up {total:.0f} mm between the notches.",
        f"Sew two rows of long stitches inside the allowance along the dots and draw up the "
        f"{total:.0f} mm of ease between the notches, most of it near the shoulder; steam it flat. "
        "None under the arm.",
        "ease",
    )


def _extension_step() -> Step:
    return Step(
        "Shoulder extension",
        "Sew its two layers, turn, baste to the cap, front to back notch.",
        "Sew the two layers of the shoulder extension along the free edge, right sides together; "
        "turn and press. Baste its curved edge to the cap on the right side, shoulder notch on "
        "shoulder notch, front and back notches together.",
        "extension",
    )


def _armhole_step(has_extension: bool) -> Step:
    caught = "; the shoulder extension is caught in the seam" if has_extension else ""
    return Step(
        "Armhole end",
        "Sew in the armhole base over the cap; leave the underarm open.",
        "Pin the armhole base to the cap, right sides together, front, shoulder and back notches "
        f"on theirs, and sew from the front notch over the shoulder to the back notch{caught}. "
        "Leave the underarm seam open for hand and filling; press its allowances in.",
        "armhole",
    )


def _filling_step(sheet: Sheet, facts: PrintFacts) -> Step:
    grams = filling_words(facts, sheet, arms=1)
    amount = f" It takes about {grams}." if grams else ""
    return Step(
        "Fill",
        "Fill from the wrist up, firmly and evenly.",
        "Pull the filling into small tufts. Pack the wrist first, then the elbow and the points of "
        "the darts, then the length, as firm as a ripe apple: a thumb leaves no dent. Roll the arm "
        "on the table to even it out, and measure the girths as you go." + amount,
        "filling",
    )


def _closing_step(sheet: Sheet) -> Step:
    has_card = sheet.cloth.ends == "card"
    card = "Slip the armhole card in flat behind the base and fill up to it. " if has_card else ""
    return Step(
        "Close",
        "Slip in the armhole card; close the underarm seam by hand."
        if has_card
        else "Close the underarm seam by hand.",
        card + "Close the underarm seam by hand, underarm notches together, with small stitches "
        "through the folded edges.",
        "closing",
    )


def _attach_step() -> Step:
    return Step(
        "Attach",
        "Pin, then sew the extension along the double's shoulder.",
        "Hold the arm to the double's armhole, notches at shoulder, front and back, lay the "
        "extension over the shoulder seam and pin it. See how the arm hangs, then sew the free "
        "edge down, or fasten it with hook-and-loop tape.",
        "attach",
    )


def filling_words(facts: PrintFacts, sheet: Sheet, *, arms: int) -> str:
    """Return the filling in the maker's unit, or "" where the room was not computed."""
    if facts.filling_litres is None:
        return ""
    litres = arms * facts.filling_litres
    grams = litres * sheet.cloth.filling_g_per_litre
    metric = (
        f"{round(grams, -1):.0f} g ({litres:.1f} litres at {sheet.cloth.filling_g_per_litre:g} g/l)"
    )
    if sheet.unit != "in":
        return metric
    pounds, ounces = divmod(round(grams / GRAMS_PER_OUNCE), 16)
    heavy = [f"{pounds} lb"] * (pounds > 0) + [f"{ounces} oz"] * (ounces > 0 or pounds == 0)
    return f"{' '.join(heavy)} ({round(grams, -1):.0f} g)"


def length_words(mm: float, sheet: Sheet) -> str:
    """Return a length of cloth to buy, rounded up: to the half inch or the centimetre."""
    if sheet.unit == "in":
        return f"{format_length(12.7 * -(-mm // 12.7), 'in')} ({10 * -(-mm // 10) / 10:.0f} cm)"
    return f"{10 * -(-mm // 10) / 10:.0f} cm"


def width_words(mm: float, sheet: Sheet) -> str:
    """Return a width of cloth, never rounded up: what is not there cannot be cut from."""
    if sheet.unit == "in":
        return format_length(25.4 / 16 * np.floor(mm / 25.4 * 16 + 1e-6), "in")
    return f"{np.floor(mm + 1e-6) / 10:g} cm"


def area_words(square_mm: float, sheet: Sheet) -> str:
    """Return an area in square inches, or in square centimetres."""
    if sheet.unit == "in":
        return f"{-(-square_mm // 25.4**2):.0f} square inches"
    return f"{-(-square_mm // 100):.0f} cm²"
