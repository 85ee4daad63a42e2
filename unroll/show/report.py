"""The report as one page that needs no other file and asks nothing of the network."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from unroll.nouns import ArmResult, Distortion, MakeResult, Ready, Sheet, source_called
from unroll.nouns.corrected import DraftCorrection
from unroll.nouns.fit import FIGURES, Judged
from unroll.nouns.shown import Figure, Model
from unroll.show.colours import data_uri
from unroll.show.draft_steps import draft_steps, drawable
from unroll.show.drafts import level_words
from unroll.show.models import packed_models
from unroll.show.numbers import dart_rows, is_estimated, serves_both, stretch_numbers
from unroll.show.phrases import (
    amount,
    certainty_lines,
    fit_sentence,
    headline,
    length,
    measure_name,
    round_both_sentence,
    roundness_sentence,
    sentence,
    small,
)
from unroll.show.redrawn import (
    number_name,
    seam_lines,
    surplus_line,
    verdict_lines,
)
from unroll.show.scan import scan_lines
from unroll.show.words import (
    arm_advice,
    asked_of,
    by_hand_line,
    changes_in_words,
    doubt_line,
    guesses_line,
    layout_sentence,
    piece_advice,
    print_line,
)
from unroll.units import Unit

# The page may run and style itself and show pictures it holds; it may fetch nothing.
VIEWER = ("viewer_camera.js", "viewer_tapes.js", "viewer.js")
POLICY = (
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'; "
    "base-uri 'none'; form-action 'none'"
)


@dataclass(frozen=True)
class Table:
    """A table of the page; the first cell of a row is its head.

    Attributes
    ----------
    caption : str
    heads : tuple of str
    rows : tuple of tuple of str
    texts : int
        Columns from the left that hold words; the others hold numbers, but for a "Note".
    """

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    texts: int = 1

    def is_text(self, column: int) -> bool:
        """Tell whether a column holds words."""
        return column < self.texts or self.heads[column] == "Note"


@dataclass(frozen=True, eq=False)
class Step:
    """A step of the sewing, with its drawing."""

    name: str
    text: str
    figure: Figure


def report_html(
    result: MakeResult,
    models: Sequence[Model],
    figures: Mapping[str, Mapping[str, Figure]],
    drawings: Mapping[str, str],
    *,
    ready: Ready | None = None,
    steps: Sequence[Step] = (),
    files: Mapping[str, str],
) -> str:
    """Return the report as one self-contained HTML page.

    Parameters
    ----------
    result : MakeResult
    models : sequence of Model
        Shown in the turnable view; the first is shown first.
    figures : mapping of str to mapping of str to Figure
        By the arm's side, then by name.
    drawings : mapping of str to str
        The pieces to cut as an SVG element, by the arm's side.
    ready : Ready or None
        What is printed.
    steps : sequence of Step
        The order of sewing.
    files : mapping of str to str
        The page's templates, style sheet and program by file name.
    """
    both = serves_both(result)
    title = "Both arms, from tape to pieces" if both else "Left and right arm, from tape to pieces"
    arms = [
        ArmPage(result, arm, figures[arm.measures.side], Markup(drawings[arm.measures.side]))
        for arm in result.arms
    ]
    return rendered(
        files, "report.html.j2", sheet=result.sheet, title=title, result=result, both=both,
        arms=arms, ready=ready, steps=steps, models=packed_models(models),
        printing=print_line(result, ready), stills=[arm.figures["arm"] for arm in arms],
    )  # fmt: skip


def redraft_html(
    sheet: Sheet,
    found: Sequence[DraftCorrection],
    figures: Sequence[Mapping[str, Figure]],
    drawings: Sequence[str],
    *,
    files: Mapping[str, str],
) -> str:
    """Return the page of corrected drafts: the numbers to draw with, and what they gain.

    Parameters
    ----------
    sheet : Sheet
    found : sequence of DraftCorrection
        One an arm.
    figures : sequence of mapping of str to Figure
    drawings : sequence of str
        File names of the drawn pieces.
    files : mapping of str to str
        As for `report_html`.
    """
    drafts = [
        {
            "side": measures.side if len(found) > 1 else "",
            "found": one, "figures": pictures, "drawing": drawing,
            "numbers": _numbers_table(one, sheet.unit),
            "steps": draft_steps(one, measures, sheet.make, sheet.unit),
            "gained": figures_table(
                "before and after", {"Before": one.before, "After": one.after}, sheet.unit
            ),
            "seams": seam_lines(one), "surplus": surplus_line(one, sheet.unit),
            "verdicts": verdict_lines(one, sheet.unit),
        }
        for measures, one, pictures, drawing in zip(
            sheet.arms, found, figures, drawings, strict=True
        )
    ]  # fmt: skip
    title = "The flat draft, its numbers corrected"
    return rendered(files, "corrected_draft.html.j2", sheet=sheet, title=title, drafts=drafts)


def rendered(files: Mapping[str, str], name: str, **values: Any) -> str:
    """Return a page from its template; whatever is no markup is escaped."""
    environment = Environment(
        loader=DictLoader(dict(files)), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["data_uri"] = _figure_uri
    environment.filters["together"] = together
    return environment.get_template(name).render(
        policy=POLICY, style=Markup(files["report.css"]),
        script=Markup("".join(files[name] for name in VIEWER)),
        **values,
    )  # fmt: skip


def _figure_uri(figure: Figure) -> str:
    return data_uri(figure.content)


def together(text: str) -> str:
    """Return text in which a number and its unit stay on one line.

    Examples
    --------
    >>> together("3 mm")
    '3\\xa0mm'
    """
    return re.sub(r"(?<=\d) (?=(%|mm|in|cm)\b|%|\d+/\d)", "\u00a0", text)


# ---- one arm


class ArmPage:
    """What the page shows of one arm, in words and tables."""

    def __init__(
        self, result: MakeResult, arm: ArmResult, figures: Mapping[str, Figure], drawing: Markup
    ) -> None:
        self.result, self.arm, self.figures, self.drawing = result, arm, figures, drawing
        self.unit: Unit = result.sheet.unit
        side = arm.measures.side
        self.heading = "" if serves_both(result) else f"{side.capitalize()} arm"
        self.whose = "" if serves_both(result) else f"{side} arm: "
        self.label = source_called(arm.source).label

    @property
    def headline(self) -> str:
        """The verdict."""
        subject = f"the {self.arm.measures.side} arm" if self.heading else "this arm"
        return headline(self.arm, self.unit, subject=subject)

    @property
    def asides(self) -> list[str]:
        """The worst doubt, and what drafting by hand would have given."""
        lines = (line(self.result, self.arm) for line in (doubt_line, by_hand_line))
        return [line for line in lines if line]

    @property
    def guesses(self) -> str:
        """How many measures are guesses."""
        return guesses_line(self.result, self.arm)

    @property
    def advice(self) -> Mapping[str, str]:
        """A sentence for each piece."""
        return piece_advice(self.arm, self.result.sheet.cloth)

    @property
    def caution(self) -> str:
        """What is wrong with the dart layout, if anything."""
        return arm_advice(self.result, self.arm).get("dart layout", "")

    @property
    def changes(self) -> tuple[str, ...]:
        """What the correction changed."""
        found = self.arm.correction
        return () if found is None else changes_in_words(found, self.unit)

    @property
    def layouts(self) -> list[str]:
        """The layouts to choose from."""
        return [layout_sentence(t, self.unit) for t in self.arm.layouts if t.offered]

    @property
    def certainty(self) -> list[str]:
        """How far the figures can be trusted, and what no pattern can remove."""
        lines: list[str] = []
        if self.arm.certainty is not None:
            lines += certainty_lines(self.arm.certainty, self.unit)
        if self.arm.correction is not None:
            lines.append(roundness_sentence(self.arm.correction, self.unit))
        return lines

    @property
    def fits(self) -> list[str]:
        """What each set of pieces becomes."""
        lines = [fit_sentence(fit, self.unit) for fit in self.arm.fits.values()]
        taped = round_both_sentence(self.arm, self.result.sheet.double, self.unit)
        return [*lines, taped] if taped else lines

    @property
    def gained(self) -> Table:
        """The filled arm from the pieces to cut, beside the same laid flat."""
        seen: dict[str, Judged] = {}
        if self.arm.correction is not None:
            seen["Laid flat"] = self.arm.correction.before.fit
        if self.arm.fit is not None:
            seen["To cut"] = self.arm.fit
        return figures_table(f"{self.whose}once sewn and filled", seen, self.unit)

    @property
    def compared(self) -> Table:
        """Every set of pieces, sewn and filled."""
        seen = {sentence(source_called(name).label): fit for name, fit in self.arm.fits.items()}
        return figures_table(f"{self.whose}each set of pieces, sewn and filled", seen, self.unit)

    @property
    def darts(self) -> Table:
        """The darts of the pieces to cut."""
        rows = [
            (
                row["name"],
                *(length(row[key], self.unit) for key in ("from_front_mm", "intake_mm")),
                *(length(leg, self.unit) for leg in row["legs_mm"]),
            )
            for piece in self.arm.to_cut for row in dart_rows(piece)
        ]  # fmt: skip
        heads = ("Dart", "From the front seam", "Takes in", "First leg", "Second leg")
        return _table(f"{self.whose}darts of the {self.label}", heads, rows)

    @property
    def distortion(self) -> Table:
        """What each piece to cut asks of the cloth."""
        rows = [_distortion_row(f"{n} piece", d) for n, d in asked_of(self.arm).items()]
        heads = ("Piece", "Threads give", "Along the grain", "Across the grain", "Threads turn",
                 "In any direction", "Area", "Turned over")  # fmt: skip
        other = "filled" if self.arm.fits else "curved"
        return _table(f"{self.whose}flat against {other}", heads, rows)

    @property
    def tape(self) -> Table:
        """What was asked, and what a tape finds on the finished arm."""
        rows = [
            (
                measure_name(row.name, self.unit)
                + (" (estimated)" if is_estimated(self.arm, row.name) else ""),
                length(row.asked_mm, self.unit), length(row.got_mm, self.unit),
                signed(row.got_mm - row.asked_mm, self.unit), row.note,
            )
            for row in self.arm.tape
        ]  # fmt: skip
        heads = ("Measure", "Asked", "Got", "Difference", "Note")
        return _table(f"{self.whose}tape measures", heads, rows)

    @property
    def scan(self) -> list[str]:
        """What a scan gave, in sentences."""
        return scan_lines(self.arm.scan, self.unit) if self.arm.scan is not None else []

    @property
    def scanned(self) -> Table:
        """What a tape finds on the scan."""
        found = {} if self.arm.scan is None else self.arm.scan.scan.values
        rows = [(measure_name(name, self.unit), length(value, self.unit))
                for name, value in found.items()
                if not name.endswith("_ratio")]  # fmt: skip
        return _table(f"{self.whose}measures of the scan", ("Measure", "On the scan"), rows)

    @property
    def true_surface(self) -> Table:
        """What laying the scan's own surface flat asks of the cloth."""
        rows = [_distortion_row(n, d) for n, d in self.arm.true_surface.items()]
        heads = ("Panel", "Threads give", "Along the grain", "Across the grain", "Threads turn",
                 "In any direction", "Area", "Turned over")  # fmt: skip
        return _table(f"{self.whose}the scan's own surface, laid flat", heads, rows)

    @property
    def seams(self) -> Table:
        """Stitching lines of the pieces to cut, walked against each other."""
        rows = [
            (
                row.name, *(length(value, self.unit) for value in row.lengths_mm),
                signed(row.mismatch_mm, self.unit), _percent(row.ease_percent), row.verdict,
            )
            for row in self.arm.seams if row.source == self.arm.source
        ]  # fmt: skip
        heads = ("Seam", "First side", "Second side", "Difference", "Ease", "Note")
        return _table(f"{self.whose}{self.label}", heads, rows)

    @property
    def slips(self) -> Table:
        """What each reading moves when it is off by what readings usually are."""
        rows = [
            (
                measure_name(slip.name, self.unit) + (" (a guess)" if slip.is_guess else ""),
                small(slip.by, self.unit),
                *(small(mm, self.unit) for mm in (slip.wrist_mm, slip.elbow_mm, slip.cap_p95)),
                _percent(slip.worst_girth_percent),
            )
            for slip in self.arm.slips
        ]  # fmt: skip
        heads = ("Reading", "Off by", "Wrist", "Elbow", "Shoulder (95 %)", "Worst girth")
        return _table(f"{self.whose}what each reading moves", heads, rows)

    @property
    def estimated(self) -> Table:
        """Measures that were guessed."""
        rows = [
            (measure_name(e.name, self.unit), length(e.value_mm, self.unit), e.source)
            for e in self.arm.measures.estimated
        ]
        return _table(f"{self.whose}estimated measures", ("Measure", "Value used", "Note"), rows)

    @property
    def drafted(self) -> str:
        """Source of the draft in the sheet's manner."""
        return f"drafted-{self.result.sheet.make.cap}"

    @property
    def draft_tape(self) -> Table:
        """What each girth of the draft comes to."""
        tapes = {} if self.arm.drafted is None else self.arm.drafted.tape
        rows = [
            (
                measure_name(row.name, self.unit),
                *(length(mm, self.unit) for mm in (row.asked_mm, row.got_mm)),
            )
            for row in tapes.get(self.drafted, ())
        ]
        label = source_called(self.drafted).label
        return _table(f"{self.whose}{label}, taped", ("Measure", "Asked", "Got"), rows)

    @property
    def levels(self) -> Table:
        """The draft's cap, level by level."""
        source = self.drafted
        comparison = self.arm.compared.get(source)
        heads = ("Level", "Above the underarm", "Arm needs", "Cloth drafted",
                 "Too much (+), too little (\u2212)", "Bulges by about")  # fmt: skip
        rows = [
            (x.name, *(length(mm, self.unit) for mm in (x.up_mm, x.arm_mm, x.cloth_mm)),
             signed(x.surplus_mm, self.unit),
             small(x.standoff_mm, self.unit) if x.surplus_mm > 0.5 else level_words(x))
            for x in (comparison.levels if comparison else ()) if x.source == source
        ]  # fmt: skip
        return _table(f"{self.whose}cap of the {source_called(source).label}", heads, rows)


def figures_table(caption: str, seen: Mapping[str, Judged], unit: Unit) -> Table:
    """Return every figure of `FIGURES` of each set of pieces, and what is wanted."""
    rows = [
        (
            sentence(figure.heading),
            *(amount(figure, figure.of(one), unit) for one in seen.values()),
            amount(figure, figure.limit, unit),
        )
        for figure in FIGURES
    ]
    return _table(caption, ("The filled arm", *seen, "Wanted"), rows)


def _table(caption: str, heads: Iterable[str], rows: Iterable[Iterable[str]]) -> Table:
    return Table(sentence(caption), tuple(heads), tuple(tuple(row) for row in rows))


def _numbers_table(found: DraftCorrection, unit: Unit) -> Table:
    rows = [
        (number_name(change), drawable(change.measured, unit), drawable(change.drawn, unit),
         signed(change.drawn - change.measured, unit, drawable))
        for change in found.changes
    ]  # fmt: skip
    return _table("draw it with", ("Number", "As it was", "Draw it with", "Change"), rows)


def _distortion_row(name: str, distortion: Distortion) -> tuple[str, ...]:
    n = stretch_numbers(distortion)
    return (
        name,
        f"{n['give_p99_percent']:.1f} %",
        _span(n["warp_p01"], n["warp_p99"]),
        _span(n["weft_p01"], n["weft_p99"]),
        f"{n['shear_p99_deg']:.1f}°",
        _span(n["stretch_min"], n["stretch_max"]),
        _span(n["area_ratio_min"], n["area_ratio_max"]),
        str(n["flips"]),
    )


def _span(low: float, high: float) -> str:
    """Two ratios as changes in percent, low to high, with true minus signs."""
    ends = (f"{100 * (ratio - 1):+.1f}".replace("-", "\u2212") for ratio in (low, high))
    return " to ".join(ends) + " %"


def _percent(value: float) -> str:
    return f"{value:.1f} %".replace("-0.0", "0.0").replace("-", "\u2212")


def signed(mm: float, unit: Unit, told: Callable[[float, Unit], str] = length) -> str:
    """Return a difference with its sign, told as the lengths beside it are; nothing has none.

    Examples
    --------
    >>> signed(0.6, "mm"), signed(-0.04, "mm"), signed(-3.2, "in")
    ('+0.6 mm', '0 mm', '\u22121/8 in')
    """
    text = told(abs(mm), "mm" if unit == "cm" else unit)
    if text in ("0 mm", "0.0 mm", "0 in"):
        return text
    return ("+" if mm > 0 else "\u2212") + text
