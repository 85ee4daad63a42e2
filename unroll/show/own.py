"""A maker's own draft, judged: what is said of it, in the order that matters, and its pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas

from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmResult, MakeResult, OwnCheck, Shot, TapeRow
from unroll.nouns.corrected import DraftChange, DraftCorrection
from unroll.nouns.shown import Figure
from unroll.show.colours import BEFORE, FAINT, INK, PAPER, bare, png_bytes
from unroll.show.draft_steps import drawable
from unroll.show.drafts import walked_figure
from unroll.show.figures import redrawn_figures
from unroll.show.phrases import fit_sentence, kept_lines, length, listed, measure_name, missed_lines
from unroll.show.redrawn import number_name
from unroll.show.redrawn import seam_lines as changed_seams
from unroll.show.report import Table, figures_table, rendered
from unroll.units import Unit

BAD = ("wrong",)
TELLS_PERCENT = 1.0  # a girth on paper that is off by more is told
SHOT_PX = 1400  # width of a photograph in the report
GAP_MM = 40.0
FOUND = "#c2410c"


def seam_lines(check: OwnCheck) -> tuple[str, ...]:
    """Return whether the seams go together, those that do not first."""
    ranked = sorted(check.walked, key=lambda seam: ("wrong", "ease in", "usable", "good").index(
        seam.verdict))  # fmt: skip
    return tuple(f"{seam.name}: {seam.text}" for seam in ranked)


def seams_sentence(check: OwnCheck) -> str:
    """Return in one sentence whether the seams go together."""
    bad = [seam.name for seam in check.walked if seam.verdict in BAD]
    if not bad:
        return "The seams go together."
    word = "does" if len(bad) == 1 else "do"
    return f"The {listed(bad)} {word} not go together as drawn."


def tape_lines(check: OwnCheck, unit: Unit) -> tuple[str, ...]:
    """Return what each girth comes to on paper where it is off by more than a hundredth."""
    off = [row for row in check.tape if _is_off(row)]
    if not off:
        return ("On paper every girth and length is within 1 % of your measures.",)
    return tuple(
        f"{measure_name(row.name, unit)}: {length(row.got_mm, unit)} on paper; you measured "
        f"{length(row.asked_mm, unit)}{f' ({row.note})' if row.note else ''}"
        for row in off
    )


def _is_off(row: TapeRow) -> bool:
    return abs(row.got_mm / row.asked_mm - 1.0) > 0.01 * TELLS_PERCENT


def verdict_lines(arm: ArmResult, unit: Unit) -> tuple[str, ...]:
    """Return what the sewn and filled arm comes to: where the cap stands off, how it hangs."""
    if arm.own is not None and arm.own.unsewn:
        return (f"It cannot be sewn as it is: {arm.own.unsewn}",)
    if arm.fit is None:
        return ()
    kept = kept_lines(arm.verdicts, unit)
    reached = (f"Kept: {listed(kept)}.",) if kept else ()
    return (fit_sentence(arm.fit, unit), *reached, *missed_lines(arm.verdicts, unit))


def change_line(change: DraftChange, unit: Unit) -> str:
    """Return a number as it is on the draft and as it is to be, one line.

    Examples
    --------
    >>> change_line(DraftChange("cap_height", 160.0, 150.5), "mm")
    'cap height: 160.0 mm on your draft, make it 150.5 mm'
    >>> change_line(DraftChange("dart 1 intake", 80.0, 80.01), "mm")
    'dart 1 takes in: 80.0 mm on your draft, and stays'
    """
    before, after = (drawable(mm, unit) for mm in (change.measured, change.drawn))
    start = f"{number_name(change)}: {before} on your draft"
    return f"{start}, and stays" if before == after else f"{start}, make it {after}"


def change_lines(found: DraftCorrection, unit: Unit) -> tuple[str, ...]:
    """Return the least change, and what it comes to."""
    return (
        *(change_line(change, unit) for change in found.changes),
        f"With it: {fit_sentence(found.after, unit)}",
        *missed_lines(found.verdicts, unit),
        *(f"then {line}" for line in changed_seams(found)),
        *(f"what would help: {line}" for line in found.helps),
    )


def own_lines(arm: ArmResult, unit: Unit) -> tuple[str, ...]:
    """Return what the terminal says of a maker's own draft, in the order that matters."""
    check = arm.own
    if check is None:
        return ()
    lines = [*check.draft.found, seams_sentence(check), *seam_lines(check)]
    lines += [*tape_lines(check, unit), *verdict_lines(arm, unit)]
    if check.change is not None:
        lines += ["The least change that brings it nearest:", *change_lines(check.change, unit)]
    return tuple(lines)


# ---- pictures


def own_figures(arm: ArmResult, unit: Unit) -> dict[str, Figure]:
    """Return the pictures of a maker's own draft, by name."""
    check = arm.own
    if check is None:
        return {}
    figures = {
        f"photograph-{number}": _figure(f"{shot.file}: what was found in it", shot_figure(shot))
        for number, shot in enumerate(check.draft.shots, start=1)
    }
    figures["outlines"] = _figure("The outlines, numbered, with their corners",
                                  outlines_figure(check))  # fmt: skip
    title = "The seams of your draft, walked"
    figures["seams"] = _figure(title, walked_figure(check.walked, title=title, unit=unit))
    if check.change is not None:
        names = "your draft", "with the least change"
        drawn = redrawn_figures(check.change, unit, names)
        figures |= {name: drawn[name] for name in ("hang", "standoff", "profile")}
        figures["changed"] = Figure("Your outline and the changed one", drawn["pieces"].content)
    return figures


def shot_figure(shot: Shot) -> Canvas:
    """Return a photograph with the outlines and cards that were found drawn over it."""
    step = max(1, int(np.ceil(shot.grey.shape[1] / SHOT_PX)))
    small = shot.grey[::step, ::step]
    wide = 8.0
    figure = Canvas(figsize=(wide, wide * small.shape[0] / small.shape[1]))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    height, width = shot.grey.shape
    whole = (-0.5, width - 0.5, height - 0.5, -0.5)
    axes.imshow(small, cmap="gray", vmin=0, vmax=255, extent=whole)
    for outline in shot.outlines:
        axes.plot(*np.vstack([outline, outline[:1]]).T, color=FOUND, lw=1.6)
    for card in shot.cards:
        axes.plot(*np.vstack([card, card[:1]]).T, color="#1d7a8c", lw=1.6)
    axes.set_xlim(-0.5, width - 0.5)
    axes.set_ylim(height - 0.5, -0.5)
    return figure


def outlines_figure(check: OwnCheck) -> Canvas:
    """Return the outlines side by side as they lie on the paper, numbered, corners numbered."""
    outlines = check.draft.outlines
    sizes = [np.ptp(one.points, axis=0) for one in outlines]
    width = sum(float(size[0]) for size in sizes) + GAP_MM * (len(sizes) + 1)
    height = max(float(size[1]) for size in sizes) + 70.0
    figure = Canvas(figsize=(8.0, max(8.0 * height / width, 2.0)), facecolor=PAPER)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    bare(axes)
    left = GAP_MM
    for one, size in zip(outlines, sizes, strict=True):
        shift = np.array([left, 0.0]) - one.points.min(axis=0)
        used = check.draft.corners.get(one.number)
        _outline(axes, one.points + shift, INK if used is not None else FAINT)
        axes.text(left + 0.5 * size[0], -18.0, str(one.number), ha="center", va="top",
                  fontsize=12, color=INK)  # fmt: skip
        for number, corner in enumerate(() if used is None else used, start=1):
            axes.plot(*(corner + shift), "o", ms=3.5, color=BEFORE)
            axes.annotate(str(number), corner + shift, textcoords="offset points", xytext=(4, 4),
                          fontsize=8, color=BEFORE)  # fmt: skip
        left += float(size[0]) + GAP_MM
    axes.set_xlim(0.0, width)
    axes.set_ylim(-45.0, height - 45.0)
    return figure


def _outline(axes: Axes, points: FloatArray, colour: str) -> None:
    axes.plot(*np.vstack([points, points[:1]]).T, color=colour, lw=1.1)


def _figure(title: str, drawn: Canvas) -> Figure:
    return Figure(title, png_bytes(drawn))




# ---- the page


def own_html(
    result: MakeResult, figures: Mapping[str, Mapping[str, Figure]], *,
    files: Mapping[str, str], printed: bool = False, withheld: Sequence[str] = (),
) -> str:  # fmt: skip
    """Return the page of a maker's own draft, judged.

    Parameters
    ----------
    result : MakeResult
    figures : mapping of str to mapping of str to Figure
        By the arm's side, then by name.
    files : mapping of str to str
        As for `report_html`.
    printed : bool
        Whether the changed outline is there to print.
    withheld : sequence of str
        Why it is not, where it is not.
    """
    unit = result.sheet.unit
    pages = [
        {
            "side": arm.measures.side, "figures": figures[arm.measures.side],
            "seams_sentence": seams_sentence(arm.own), "seams": seam_lines(arm.own),
            "taped": tape_lines(arm.own, unit), "tape": _tape_table(arm.own, unit),
            "verdicts": verdict_lines(arm, unit), "found": arm.own.draft.found,
            "changes": change_lines(arm.own.change, unit) if arm.own.change else (),
            "gained": _gained(arm.own.change, unit) if arm.own.change else None,
        }
        for arm in result.arms if arm.own is not None
    ]  # fmt: skip
    return rendered(
        files, "own_draft.html.j2", sheet=result.sheet, title="Your own draft, judged", arms=pages,
        printed=printed, withheld=withheld,
    )  # fmt: skip


def _tape_table(check: OwnCheck, unit: Unit) -> Table:
    rows = tuple(
        (measure_name(row.name, unit), length(row.asked_mm, unit), length(row.got_mm, unit),
         row.note)
        for row in check.tape
    )
    return Table("A tape on your draft", ("Measure", "You measured", "On paper", "Note"), rows)


def _gained(found: DraftCorrection, unit: Unit) -> Table:
    return figures_table(
        "once sewn and filled", {"As it is": found.before, "Changed": found.after}, unit
    )
