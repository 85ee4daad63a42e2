"""The report's sections on the flat draft, and on the sewn and filled shapes."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from unroll.correct.verdicts import Targets, targets_for
from unroll.nouns import ArmResult, MakeResult
from unroll.nouns.corrected import Closing, DraftClosing, Spread, SpreadRow
from unroll.nouns.shown import Section
from unroll.show.html import arm_heading, bullets, lengths, picture, table, whose, words
from unroll.show.sections import distortion_table
from unroll.show.stage_figures import (
    MANNERS,
    comparison_figures,
    corrected_figures,
    draft_figures,
    sewn_figures,
    spread_figure,
)


def corrected_section(result: MakeResult) -> Section:
    """What was changed so that the filled arm is the measured one, and what it gains."""
    body = (
        "<p>Flat cloth cannot follow a shoulder, so a sewn and filled arm differs from the one its "
        "pieces were laid flat from. The lines of these pieces were moved until the filled arm is "
        "the measured one.</p>"
    )
    for arm in result.arms:
        if arm.closing is not None:
            body += _corrected_arm(result, arm, arm.closing)
    return Section("corrected", "The corrected pieces", body)


def _corrected_arm(result: MakeResult, arm: ArmResult, closing: Closing) -> str:
    figures = {name: picture(figure) for name, figure in corrected_figures(closing).items()}
    layouts = figures.pop("corrected-layouts", "")
    caution = arm.advice.get("dart layout", "")
    body = arm_heading(result, arm)
    body += f'<p class="caution"><strong>{escape(caution)}</strong></p>' if caution else ""
    body += before_and_after(
        closing,
        targets_for(len(closing.darts)),
        f"{whose(result, arm)}before and after",
        result.sheet.unit,
    )
    body += "".join(figures.values())
    body += "<h3>What was changed</h3>" + bullets(closing.changes)
    if closing.reached:
        body += "<h3>What is reached</h3>" + bullets(closing.reached)
    if closing.missed:
        body += "<h3>What is not, and what would help</h3>" + bullets(closing.missed)
    if closing.layouts:
        body += "<h3>Layouts to choose from</h3>" + layouts
        body += bullets(trial.text for trial in closing.layouts)
    if arm.corrected:
        title = f"{whose(result, arm)}corrected pieces, flat against the measured arm"
        body += "<h3>What they ask of the cloth</h3>" + distortion_table(title, arm.corrected)
    return body + (
        f"<p>Filling makes sections round: on average {closing.round_mean:.1f} mm of the "
        "distance over the cap are out of any pattern's reach.</p>"
    )


def before_and_after(
    found: Closing | DraftClosing, wanted: Targets, caption: str, unit: str
) -> str:
    """Return a table of the filled arm's figures before and after correction."""
    both = (found.before, found.after)

    def row(name: str, cells: Sequence[str], limit: str) -> list[str]:
        return [name, *cells, limit]

    rows = [
        row("hangs off by", [f"{o.swing_deg:.1f}°" for o in both], f"{wanted.swing_deg:g}°"),
        row("wrist lies off by", [lengths(o.wrist_mm, unit) for o in both],
            f"{wanted.wrist_mm:g} mm"),
        row("worst girth off by", [
            f"{max((abs(g.off_percent) for g in o.girths), default=0.0):.2f} %" for o in both
        ], f"{wanted.girth_percent:g} %"),
        row("shoulder off on average", [lengths(o.cap_mean, unit) for o in both],
            f"{wanted.cap_mean:g} mm"),
        row("shoulder off at most, but for 5 % of it", [lengths(o.cap_p95, unit) for o in both],
            f"{wanted.cap_p95:g} mm"),
    ]  # fmt: skip
    heads = ["Once sewn and filled, the arm", "Before correction", "After", "Wanted within"]
    return table(caption, heads, rows)


def certainty_section(result: MakeResult) -> Section:
    """How far the corrected pieces' figures can be trusted."""
    body = (
        "<p>Nobody knows the cloth, the filling and the scissors exactly. The corrected pieces "
        "were sewn and filled again by calculation with one thing changed at a time; what the arm "
        "then comes to tells how much each figure is worth.</p>"
    )
    for arm in result.arms:
        if arm.closing is None or arm.certainty is None:
            continue
        body += arm_heading(result, arm)
        body += picture(spread_figure(arm.closing, arm.certainty)) + bullets(arm.certainty.lines)
        body += _spread_table(result, arm, arm.certainty)
    return Section("certainty", "How far to trust these figures", body)


def _spread_table(result: MakeResult, arm: ArmResult, spread: Spread) -> str:
    rows = [_spread_row(row, result.sheet.unit) for row in (spread.base, *spread.rows)]
    heads = ["Sewn again with", "Worst girth off by", "Hangs off by", "Wrist off by",
             "Shoulder off on average"]  # fmt: skip
    return table(f"{whose(result, arm)}one thing changed at a time", heads, rows)


def _spread_row(row: SpreadRow, unit: str) -> list[str]:
    girth = f"{row.girth_percent:+.1f}".replace("-", "\u2212")
    girth = ("0.0" if girth[1:] == "0.0" else girth) + " %"
    return [
        escape(row.name), girth, f"{row.swing_deg:.1f}°", lengths(row.wrist_mm, unit),
        lengths(row.cap_mean, unit),
    ]  # fmt: skip


SOURCES = {
    "unrolled": "unrolled pieces", "corrected": "corrected pieces",
    "drafted-ease": "flat draft, ease", "drafted-darts": "flat draft, darts",
}  # fmt: skip


def stage_sections(result: MakeResult) -> tuple[Section, ...]:
    """Return a section a stage that was run."""
    sections = []
    if any(arm.drafted for arm in result.arms):
        sections.append(draft_section(result))
    if any(arm.filled for arm in result.arms):
        sections.append(sewn_section(result))
    if any(arm.closing for arm in result.arms):
        sections.append(corrected_section(result))
    if any(arm.certainty for arm in result.arms):
        sections.append(certainty_section(result))
    return tuple(sections)


def draft_section(result: MakeResult) -> Section:
    """The same arm by the flat rules, laid over the unrolled pieces."""
    body = (
        "<p>The same arm drafted by the usual flat rules, laid over the unrolled pieces. Where the "
        "two part ways, the rules and your arm do.</p>"
    )
    for arm in result.arms:
        if arm.drafted is None:
            continue
        figures = draft_figures(arm.drafted) | comparison_figures(arm)
        if arm.drafted.advice:
            body += f'<p class="caution"><strong>{escape(arm.drafted.advice)}.</strong></p>'
        body += bullets(notice.text for notice in arm.drafted.notices)
        for source in MANNERS:
            kinds = ("", "-over-unrolled", "-levels", "-seams")
            body += "".join(picture(figures[source + k]) for k in kinds if source + k in figures)
        body += _comparison_table(result, arm) + _draft_tape_table(result, arm)
    return Section("draft", "The flat draft beside it", body)


def _draft_tape_table(result: MakeResult, arm: ArmResult) -> str:
    """What each girth of the draft comes to, by tape, in both manners."""
    assert arm.drafted is not None
    tapes = arm.drafted.tape
    got = {source: {row.name: row for row in rows} for source, rows in tapes.items()}
    names = list(dict.fromkeys(name for rows in got.values() for name in rows))
    rows = []
    for name in names:
        found = [by_name.get(name) for by_name in got.values()]
        asked = next(row.asked_mm for row in found if row is not None)
        cells = ["" if row is None else lengths(row.got_mm, result.sheet.unit) for row in found]
        rows.append([words(name), lengths(asked, result.sheet.unit), *cells])
    heads = ["Measure", "Asked", *(SOURCES[source] for source in got)]
    return table(f"{whose(result, arm)}draft, taped", heads, rows)


def _comparison_table(result: MakeResult, arm: ArmResult) -> str:
    rows = [
        [
            escape(f"{piece.piece} ({SOURCES[source]})"), f"{piece.area_difference_percent:+.1f} %",
            lengths(piece.outline_distance_max_mm, result.sheet.unit),
            lengths(piece.outline_distance_mean_mm, result.sheet.unit),
        ]
        for source, comparison in arm.compared.items() for piece in comparison.pieces
    ]  # fmt: skip
    heads = ["Piece", "Area, draft less unrolled", "Outlines apart, most", "On average"]
    return table(f"{whose(result, arm)}draft against unrolled pieces", heads, rows)


def sewn_section(result: MakeResult) -> Section:
    """What each set of pieces becomes once sewn and filled."""
    body = (
        "<p>Each set of pieces, sewn up and filled by calculation, against the arm that you "
        "measured. Bulge and hollow are read with the swing of the whole arm taken out.</p>"
    )
    for arm in result.arms:
        if arm.filled is None:
            continue
        body += "".join(f"<p>{escape(line)}</p>" for line in arm.filled.words.splitlines())
        body += "".join(picture(figure) for figure in sewn_figures(arm.filled).values())
        body += _standoff_table(result, arm) + _girth_table(result, arm)
        body += _strain_table(result, arm)
        limits = dict.fromkeys(x for off in arm.filled.standoffs.values() for x in off.limits)
        body += "<h3>What these figures leave out</h3>" + bullets(limits)
    return Section("sewn", "Sewn and filled", body)


def _standoff_table(result: MakeResult, arm: ArmResult) -> str:
    assert arm.filled is not None
    unit = result.sheet.unit
    rows = [
        [
            SOURCES[source], lengths(off.bulge_max, unit), lengths(off.hollow_max, unit),
            lengths(off.cap_mean, unit), f"{off.swing_deg:.1f}°", lengths(off.wrist_mm, unit),
        ]
        for source, off in arm.filled.standoffs.items()
    ]  # fmt: skip
    heads = ["Pieces", "Stands proud, most", "Lies low, most", "Off on average", "Arm swings",
             "Wrist off by"]  # fmt: skip
    return table(f"{whose(result, arm)}cap and hang", heads, rows)


def _strain_table(result: MakeResult, arm: ArmResult) -> str:
    """Where the cloth is slack, tight or puckered."""
    assert arm.filled is not None
    rows = [
        [
            SOURCES[source],
            f"{100 * sewn.slack_share:.0f} %",
            f"{sewn.tension_p99:.2f} N/mm",
            ", ".join(take.name for take in sewn.seams if take.puckers) or "none",
            "not looked for" if sewn.crossings is None else str(sewn.crossings),
            f"{100 * sewn.residual:.2g} %" + ("" if sewn.converged else ", did not settle"),
        ]
        for source, sewn in arm.filled.sewn.items()
    ]
    heads = ["Pieces", "Cloth that wrinkles", "Tightest, but for 1 %", "Seams that pucker",
             "Places where cloth runs through cloth", "Forces out of balance"]  # fmt: skip
    return table(f"{whose(result, arm)}slack and strain", heads, rows)


def _girth_table(result: MakeResult, arm: ArmResult) -> str:
    assert arm.filled is not None
    unit = result.sheet.unit
    first = next(iter(arm.filled.standoffs.values()))
    rows = [
        [
            escape(girth.name.replace("_", " ")), lengths(girth.asked_mm, unit),
            *(lengths(off.girths[k].sewn_mm, unit) for off in arm.filled.standoffs.values()),
        ]
        for k, girth in enumerate(first.girths)
    ]  # fmt: skip
    heads = ["Girth", "Asked", *(SOURCES[source] for source in arm.filled.standoffs)]
    return table(f"{whose(result, arm)}girths once filled", heads, rows)
