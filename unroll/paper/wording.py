"""What the pages say: how to print, the order of sewing, lengths and weights in her unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from unroll.nouns import ArmMeasures, FinishedPiece, PrintFacts, Sheet
from unroll.nouns.seam import seams_of, sewing_order
from unroll.paper.layouts import Paper
from unroll.units import Unit, format_length, format_small

GRAMS_PER_OUNCE = 28.349523125  # avoirdupois; international yard and pound agreement of 1959


class InUnit(Protocol):
    """Whatever is told of in one unit: a sheet, a length of cloth."""

    @property
    def unit(self) -> Unit:
        """Unit of the maker."""


@dataclass(frozen=True)
class Step:
    """One step of the sewing: its name, what to do, and which drawing shows it.

    Attributes
    ----------
    name : str
    text : str
        A few sentences.
    drawing : str
        "cut", "darts", "ease", "front seam", "back seam", "wrist", "filling", "extension",
        "armhole", "attach".
    """

    name: str
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
CAUTIONS_IN_SHORT = (
    "Blades and pins: cut away from yourself, count pins out again.",
    "Filling burns: keep it from flame, heaters and irons.",
    "A filled form tips under weight: fix its stand first.",
    "Local rules and the makers' labels come first.",
)


SOURCES = {
    "corrected": "shaped so that the sewn and filled arm comes out right",
    "unrolled": "laid flat from the arm's shape",
    "drafted-ease": "drafted by the flat rules",
    "drafted-darts": "drafted by the flat rules",
    "own": "your own draft, with the least change that brings it nearest",
}


def printing_lines(paper: Paper, unit: Unit) -> tuple[str, ...]:
    """Return how to print and check, and how to join pages."""
    if paper.name == "roll":
        size = [format_length(side, unit) for side in (paper.width, paper.height)]
        where = f"paper from a roll, {size[0]} wide and {size[1]} long,"
    else:
        name = paper.name.upper() if len(paper.name) < 3 else paper.name.capitalize()
        where = f"{name} paper"
    first = f'Print on {where} at 100 % ("actual size"); no fitting to the page.'
    is_one_sheet = paper.is_one_sheet
    where = "(or the ruler, where they find no room) on the sheet" if is_one_sheet else "below"
    off = "1/64 in" if unit == "in" else "0.5 mm"
    check = (
        f"Measure the test squares {where}. If one is off by more than {off}, do not cut: the "
        "printer scaled it."
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


def steps(finished: Sequence[FinishedPiece], sheet: Sheet, facts: PrintFacts) -> tuple[Step, ...]:
    """Return the order of sewing of one arm, from its own pieces."""
    cloth = {piece.name: piece for piece in finished if piece.material == "cloth"}
    outer = cloth.get("outer")
    has_extension = "shoulder extension" in cloth
    seam_steps = {"front seam": FRONT, "back seam": _back_step(outer)}
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
        out.append(EXTENSION)
    out += [_armhole_step(has_extension), _filling_step(outer, sheet, facts), _closing_step(sheet)]
    if has_extension:
        out.append(ATTACH)
    return tuple(out)


FRONT = Step(
    "Front seam",
    "Lay the inner piece on the outer, right sides together, FRONT on FRONT; pin both ends and "
    "the single notches. Sew, clip the hollows, press open.",
    "front seam",
)
EXTENSION = Step(
    "Shoulder extension",
    "Sew the two layers of the shoulder extension along the free edge, right sides together; "
    "turn and press. Baste its hollow edge to the cap on the right side, shoulder notch on "
    "shoulder notch, its ends at the front and back seams.",
    "extension",
)
ATTACH = Step(
    "Attach",
    "Hold the arm to the double's armhole, shoulder, front and back notches at theirs; lay "
    "the extension over the shoulder seam and pin it. Let go, and look from the front and the "
    "side: if the arm swings out or forwards, slide the extension on the shoulder until it "
    "hangs as hers does. Then sew the free edge down, or use hook-and-loop tape.",
    "attach",
)


def _cut_step(sheet: Sheet) -> Step:
    stitch = "10 stitches to the inch" if sheet.unit == "in" else "stitches of 2.5 mm"
    return Step(
        "Cut and mark",
        "Cut on the thick line, the pieces along the grain as in the cut plan; turn the paper over "
        "for the mirrored ones. Snip each notch as deep as it is drawn: one snip in front, two at "
        "the back. Mark darts and lines on the wrong side. For canvas: needle 90/14, strong "
        f"polyester thread, {stitch}; try them on a scrap.",
        "cut",
    )


def _dart_step(outer: FinishedPiece) -> Step:
    many = len(outer.darts)
    is_open = all(dart.pressed == "open" for dart in outer.darts)
    press = (
        "Press the allowances open; the point stays flat."
        if is_open
        else "Press as the piece says: the raw edges then run smooth across the fold."
    )
    legs = ""
    if any(mark.name.endswith(" match") for mark in outer.notches):
        clip = ", and clip the hollow leg's allowance so that it follows" if is_open else ""
        legs = ("The legs are unlike: match their notches and pin what lies between evenly"
                f"{clip}. ")  # fmt: skip
    return Step(
        "Darts",
        f"Fold {'the dart' if many == 1 else f'each of the {many} darts'} right sides together and "
        f"pin leg on leg, ends first. {legs}Sew on the line, curves as curves, from the edge to "
        f"the point; run the last stitches along the fold and knot the ends. {press}",
        "darts",
    )


def _back_step(outer: FinishedPiece | None) -> Step:
    spans = [ease for ease in outer.eases if ease.seam == "back seam"] if outer else []
    listed = " and ".join(
        f"{format_small(ease.surplus, outer.unit)} between {ease.start} and {ease.end} notch"
        for ease in spans if outer
    )  # fmt: skip
    extra = f" Ease in the outer's {listed}." if spans else ""
    return Step(
        "Back seam",
        "Close the tube at the back, BACK on BACK, double notches together."
        + extra
        + " Press open over a rolled towel.",
        "back seam",
    )


def _wrist_step(sheet: Sheet) -> Step:
    end = {
        "card": "Lay the wrist card inside once it is turned.",
        "cloth": "Corrected pieces are cut wider here than the wrist: filled, a base of cloth "
        "rounds out and draws its edge in.",
    }[sheet.cloth.ends]
    return Step(
        "Wrist end",
        "Pin the wrist base into the wrist edge, right sides together: its front and back notches "
        "on the seams, the others on their notches. Sew around, trim to half the allowance and "
        "turn the arm right side out. " + end,
        "wrist",
    )


def _ease_step(outer: FinishedPiece) -> Step:
    spans = [ease for ease in outer.eases if ease.seam == "cap seam"]
    total = format_small(sum(ease.surplus for ease in spans), outer.unit)
    return Step(
        "Ease the cap",
        f"Sew two rows of long stitches inside the allowance along the dots and draw up the "
        f"{total} of ease between the notches, most of it near the shoulder; steam it flat. "
        "None under the arm.",
        "ease",
    )


def _armhole_step(has_extension: bool) -> Step:
    caught = "; the shoulder extension is caught in the seam" if has_extension else ""
    return Step(
        "Armhole end",
        "Pin the armhole base to the cap, right sides together, shoulder on shoulder notch, its "
        "front and back notches on the front and back seams, and sew from one over the shoulder to "
        f"the other{caught}. Leave the underarm seam open for hand and filling; press its "
        "allowances in.",
        "armhole",
    )


def _filling_step(outer: FinishedPiece | None, sheet: Sheet, facts: PrintFacts) -> Step:
    grams = filling_words(facts, sheet, arms=1)
    amount = f" It takes about {grams}." if grams else ""
    girths = outer.girths.items() if outer else ()
    tape = ", ".join(f"{name} {format_length(mm, sheet.unit)}" for name, mm in girths)
    check = f" Tape it as you go: {tape}; add or take out until it reads so." if tape else ""
    return Step(
        "Fill",
        "Pull the filling into small tufts. Pack the wrist first, then the elbow and the points of "
        "the darts, then the length, as firm as a ripe apple: a thumb leaves no hollow. Roll the "
        "arm on the table to even it out." + check + amount,
        "filling",
    )


def _closing_step(sheet: Sheet) -> Step:
    has_card = sheet.cloth.ends == "card"
    card = "Slip the armhole card in flat behind the base and fill up to it. " if has_card else ""
    return Step(
        "Close",
        card + "Pin the underarm seam, underarm notches together. With doubled thread take a small "
        "stitch along one folded edge, then one along the other right opposite, and draw up every "
        "few stitches (ladder stitch); knot, and lose the end in the filling.",
        "closing",
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


def length_words(mm: float, sheet: InUnit) -> str:
    """Return a length of cloth to buy, rounded up: to the half inch or the centimetre."""
    metric = f"{np.ceil(mm / 10 - 1e-6):.0f} cm"
    if sheet.unit == "in":
        return f"{format_length(12.7 * np.ceil(mm / 12.7 - 1e-6), 'in')} ({metric})"
    return metric


def width_words(mm: float, sheet: InUnit) -> str:
    """Return a width of cloth, never rounded up: what is not there cannot be cut from."""
    if sheet.unit == "in":
        return format_length(25.4 / 16 * np.floor(mm / 25.4 * 16 + 1e-6), "in")
    return f"{np.floor(mm + 1e-6) / 10:g} cm"


def area_words(square_mm: float, sheet: Sheet) -> str:
    """Return an area in square inches, or in square centimetres."""
    if sheet.unit == "in":
        return f"{-(-square_mm // 25.4**2):.0f} square inches"
    return f"{-(-square_mm // 100):.0f} cm²"
