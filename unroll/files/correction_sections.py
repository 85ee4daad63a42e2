"""The report's sections on the correction: what it changes and gains, and how far to trust it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from unroll.correcting import Targets, targets_for
from unroll.files.correction_figures import corrected_figures, spread_figure
from unroll.reporting.html import arm_heading, bullets, lengths, picture, table, whose
from unroll.reporting.sections import distortion_table
from unroll.types import ArmResult, MakeResult
from unroll.types.corrected import Closing, DraftClosing, Spread, SpreadRow
from unroll.types.shown import Section


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
