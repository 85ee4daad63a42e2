"""The report's sections: what the maker reads, in the order she needs it."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import numpy as np

from unroll.nouns import ArmResult, Distortion, MakeResult
from unroll.nouns.shown import Figure, Legend, Look, Model, ModelLine, Section
from unroll.show.html import (
    PATTERN_NAMES,
    data_uri,
    lengths,
    picture,
    serves_both,
    signed,
    table,
    whose,
    words,
)
from unroll.show.numbers import is_estimated, stretch_numbers

# Seam lines float this far above the surface, so that the page's depth test does not swallow them.
_LIFT = 0.4


def turner(models: Sequence[Model], stills: Sequence[Figure]) -> str:
    """Return the view of `models`, which shows `stills` where the page cannot draw in 3D.

    Parameters
    ----------
    models : sequence of Model
        The first is shown first, in its first look, from outside, upright.
    stills : sequence of Figure
        Also printed, since paper does not turn.
    """
    packed = json.dumps([_packed(model) for model in models], separators=(",", ":"))
    safe = packed.replace("<", "\\u003c")
    images = "".join(f'<img src="{data_uri(s.content)}" alt="{escape(s.title)}">' for s in stills)
    return (
        '<div class="turner">'
        f'<div class="still">{images}</div>'
        '<div class="live" hidden>'
        '<canvas tabindex="0" role="img" aria-label="The arm in 3D. Arrow keys turn it, plus and '
        "minus change the size, Page Up and Page Down look higher and lower, Home brings back the "
        'first view."></canvas>'
        '<div class="controls"></div><div class="legend" aria-live="polite"></div>'
        '<p class="hint">Drag sideways to turn, or use the buttons; with the keyboard: arrow keys, '
        "plus, minus, Page Up, Page Down, Home.</p></div>"
        f'<script type="application/json" class="models">{safe}</script></div>'
    )


def _packed(model: Model) -> dict[str, Any]:
    low, high = model.vertices.min(axis=0), model.vertices.max(axis=0)
    place = (model.vertices - low) / np.maximum(high - low, 1e-9)
    wide = len(model.vertices) > 65535
    return {
        "name": model.name,
        "side": model.side,
        "low": low.tolist(),
        "high": high.tolist(),
        "positions": _base64(np.rint(place * 65535).astype("<u2")),
        "normals": _base64(np.rint(model.normals * 127).astype("i1")),
        "faces": _base64(model.faces.astype("<u4" if wide else "<u2")),
        "wide": wide,
        "looks": [_packed_look(look) for look in model.looks],
        "lines": [_packed_line(line) for line in model.lines],
    }


def _packed_look(look: Look) -> dict[str, Any]:
    colours = np.rint(np.clip(look.colours, 0.0, 1.0) * 255).astype("u1")
    return {"name": look.name, "colours": _base64(colours), "legend": _packed_legend(look.legend)}


def _packed_legend(legend: Legend | None) -> dict[str, Any] | None:
    if legend is None:
        return None
    return {"title": legend.title, "stops": legend.stops, "ticks": legend.ticks}


def _packed_line(line: ModelLine) -> dict[str, Any]:
    lifted = (line.points + _LIFT * line.normals).astype("<f4")
    return {"kind": line.kind, "points": _base64(lifted)}


def _base64(array: Any) -> str:
    return base64.b64encode(np.ascontiguousarray(array).tobytes()).decode()


_SEWN_TOO = (
    " Beside it, what each set of pieces becomes once it is sewn and filled, as it then hangs; the "
    "stand-off colours show where its cap leaves the arm that you measured."
)
_MARK = ' <span class="mark">estimated</span>'


def summary_section(result: MakeResult) -> Section:
    """Advice first, then what was estimated and what the sheet's reader noticed."""
    items = []
    for arm in result.arms:
        before = "" if serves_both(result) else f"<strong>{arm.measures.side} arm.</strong> "
        items += [f"<li>{before}{escape(text)}</li>" for text in arm.advice.values()]
    body = f'<ul class="advice">{"".join(items)}</ul>' if items else ""
    estimated = sum(len(arm.measures.estimated) for arm in result.arms)
    if estimated:
        noun = "measure was" if estimated == 1 else "measures were"
        body += (
            f'<p class="caution"><strong>{estimated} {noun} estimated, not taken.</strong> '
            '<a href="#estimated">See which, and how</a>; tape them if you can.</p>'
        )
    if result.sheet.notices:
        notices = "".join(f"<li>{escape(notice.text)}</li>" for notice in result.sheet.notices)
        body += f"<h3>Worth a second look</h3><ul>{notices}</ul>"
    return Section("in-short", "In short", body)


def model_section(result: MakeResult, models: Sequence[Model], stills: Sequence[Figure]) -> Section:
    """The arm in 3D, to be turned."""
    side = result.arms[0].measures.side
    other = "right" if side == "left" else "left"
    drawn = f" It is drawn as your {side} arm; the {other} one is its mirror image."
    body = (
        "<p>This is the arm that your tape measures ask for, with the seams it is cut along."
        + (drawn if serves_both(result) else "")
        + " The heat map shows where flat cloth has to give."
        + (_SEWN_TOO if any(arm.filled for arm in result.arms) else "")
        + "</p>"
        + turner(models, stills)
    )
    return Section("arm", "The arm in 3D", body)


def pieces_section(drawings: Sequence[str], result: MakeResult) -> Section:
    """The flat pieces, a drawing an arm."""
    mirror = "<p>Both arms share these pieces: cut one set as drawn and one turned over.</p>"
    body = (
        "<p>Stitching lines, right side of the cloth up, with no seam allowance. "
        "On this page they are not to scale; <code>pieces.svg</code> is.</p>"
        + (mirror if serves_both(result) else "")
        + "".join(f'<figure class="pieces">{drawing}</figure>' for drawing in drawings)
    )
    return Section("pieces", "The flat pieces", body)


def distortion_section(result: MakeResult, figures: Mapping[str, Figure]) -> Section:
    """Heat maps on the flat pieces, the numbers, and what darts gain.

    Figures are taken by the names "left heat outer", "left heat inner", ...
    """
    body = (
        "<p>A curved surface cannot lie flat without giving somewhere. Each map shows by how many "
        "percent the threads of the flat piece are too long or too short at a place; pale places "
        "lie easily.</p>"
    )
    for arm in result.arms:
        side = arm.measures.side
        shown = [figures[k] for k in (f"{side} heat {n}" for n in arm.distortions) if k in figures]
        body += f'<div class="row">{"".join(picture(figure) for figure in shown)}</div>'
        body += distortion_table(
            f"{whose(result, arm)}flat against curved", arm.distortions, arm.undarted
        )
    body += (
        "<p>In the tables, plus is flat cloth too long, to be eased in; minus is too short, to be "
        "stretched. The first four columns hold for 99 % of the area, the next two for all of it. "
        "Skew is how far the threads leave their right angle; woven cloth skews easily.</p>"
    )
    return Section("distortion", "Where the cloth must give", body)


def distortion_table(
    caption: str, distortions: Mapping[str, Distortion], undarted: Distortion | None = None
) -> str:
    """Return what each piece asks of the cloth, a row a piece; its outer one without darts last."""
    rows = [_distortion_row(f"{name} piece", d) for name, d in distortions.items()]
    if undarted is not None:
        rows.append(_distortion_row("outer piece, were it cut without darts", undarted))
    heads = (
        "Piece", "Threads must give", "Along the grain", "Across the grain", "Skew",
        "In any direction", "Area", "Turned over",
    )  # fmt: skip
    return table(caption, heads, rows)


def _distortion_row(name: str, distortion: Distortion) -> list[str]:
    n = stretch_numbers(distortion)
    return [
        escape(name),
        f"{n['give_p99_percent']:.1f} %",
        _span(n["warp_p01"], n["warp_p99"]),
        _span(n["weft_p01"], n["weft_p99"]),
        f"{n['shear_p99_deg']:.1f}°",
        _span(n["stretch_min"], n["stretch_max"]),
        _span(n["area_ratio_min"], n["area_ratio_max"]),
        str(n["flips"]),
    ]


def _span(low: float, high: float) -> str:
    """Two ratios as changes in percent, low to high, with true minus signs."""
    ends = (f"{100 * (ratio - 1):+.1f}".replace("-", "\u2212") for ratio in (low, high))
    return " to ".join(ends) + " %"


def tape_section(result: MakeResult) -> Section:
    """What was asked and what a tape finds on the finished arm."""
    unit = result.sheet.unit
    heads = ["Measure", "Asked", "Got", "Difference", "Note"]
    body = "<p>An independent tape run over the finished 3D arm.</p>"
    for arm in result.arms:
        rows = [
            [
                words(row.name) + (_MARK if is_estimated(arm, row.name) else ""),
                lengths(row.asked_mm, unit),
                lengths(row.got_mm, unit),
                signed(row.got_mm - row.asked_mm),
                escape(row.note),
            ]
            for row in arm.tape
        ]
        body += table(f"{whose(result, arm)}tape measures", heads, rows)
    return Section("tape", "Does the tape agree?", body)


def seams_section(result: MakeResult) -> Section | None:
    """Stitching lines walked against each other; None where none was walked."""
    if not any(arm.seams for arm in result.arms):
        return None
    body = (
        "<p>Each seam joins two stitching lines. Here one is walked along the other; a difference "
        "is ease that has to be worked in.</p>"
    )
    for arm in result.arms:
        for source in dict.fromkeys(row.source for row in arm.seams):
            body += _seams_table(result, arm, source)
    return Section("seams", "The seams, walked", body)


def _seams_table(result: MakeResult, arm: ArmResult, source: str) -> str:
    heads = ["Seam", "First side", "Second side", "Difference", "Ease", "Note"]
    rows = [
        [
            escape(row.name),
            *(lengths(value, result.sheet.unit) for value in row.lengths_mm),
            signed(row.mismatch_mm),
            f"{row.ease_percent:.1f} %".replace("-0.0", "0.0").replace("-", "\u2212"),
            escape(row.verdict),
        ]
        for row in arm.seams
        if row.source == source
    ]
    return table(f"{whose(result, arm)}{PATTERN_NAMES.get(source, source)}", heads, rows)


def estimated_section(result: MakeResult) -> Section | None:
    """Values that were not measured; None where everything was."""
    if not any(arm.measures.estimated for arm in result.arms):
        return None
    heads = ["Measure", "Value used", "Note"]
    body = (
        "<p>These measures were left out of the sheet. They are guesses from your other measures "
        "and from survey tables, and the arm is only as good as they are.</p>"
    )
    for arm in result.arms:
        rows = [
            [words(e.name), lengths(e.value_mm, result.sheet.unit), escape(e.source)]
            for e in arm.measures.estimated
        ]
        if rows:
            body += table(f"{whose(result, arm)}estimated measures", heads, rows)
    return Section("estimated", "Estimated, not measured", body)


def cautions_section() -> Section:
    """What can hurt, burn or tip."""
    items = (
        ("Blades", "Shears and rotary cutters cut more than cloth. Cut away from your hand, close "
         "the blade whenever you put it down, and keep both from children and animals."),
        ("Pins and needles", "Count them in and count them out. One left inside a filled arm will "
         "be found later by a finger."),
        ("Filling and flame", "Fibre, foam and cloth can burn fast. Keep filled arms away from "
         "candles, heaters and hot irons, and do not fill beside an open fire."),
        ("A form that tips", "Filled arms put weight high up and out to the sides. Try your stand "
         "with the arms on before you leave it alone; weight its foot if it rocks."),
        ("Not a toy", "The arm is a fitting aid. It is no toy, no cushion for a child and no "
         "support for a body."),
    )  # fmt: skip
    body = "".join(f"<dt>{escape(head)}</dt><dd>{escape(text)}</dd>" for head, text in items)
    return Section(
        "cautions",
        "Take care",
        f"<dl>{body}</dl><p>Where your local rules or a maker's label say something else, follow "
        "them, above all if you mean to sell or give away what you fill.</p>",
    )


def limits_section(result: MakeResult) -> Section:
    """What the report does not know."""
    cloth = result.sheet.cloth
    body = (
        f"<p>The advice takes {escape(cloth.name)} to give {cloth.gives_percent:g} % before it "
        "pulls or puckers. The maps compare the flat piece with the curved arm; they do not know "
        "how you press, ease or fill. Sew a trial from cheap cloth before you cut the good one."
        "</p><p>All numbers, unrounded, are in <code>report.json</code>.</p>"
        f'<p class="made">Made with unroll {escape(result.version)}.</p>'
    )
    return Section("limits", "What this report does not know", body)
