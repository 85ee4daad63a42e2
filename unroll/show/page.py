"""The report as one page that needs no other file and asks nothing of the network."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import escape

from unroll.nouns import MakeResult, Sheet
from unroll.nouns.shown import Figure, Model, Section
from unroll.show.darts import darts_section
from unroll.show.html import serves_both
from unroll.show.sections import (
    cautions_section,
    distortion_section,
    estimated_section,
    limits_section,
    model_section,
    pieces_section,
    seams_section,
    summary_section,
    tape_section,
)

# The page may run and style itself and show pictures it holds; it may fetch nothing.
_POLICY = (
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'; "
    "base-uri 'none'; form-action 'none'"
)


def opening_sections(
    result: MakeResult,
    models: Sequence[Model],
    figures: Mapping[str, Figure],
    drawings: Sequence[str],
) -> tuple[Section, ...]:
    """Return the sections of the main job, advice first.

    Parameters
    ----------
    result : MakeResult
    models : sequence of Model
        Shown in the turnable view; the first is shown first.
    figures : mapping of str to Figure
        "left arm" (stands in for the view), "left heat outer", "left heat inner", ...
    drawings : sequence of str
        The pieces as SVG elements, one an arm.
    """
    sections: list[Section | None] = [
        summary_section(result),
        model_section(result, models, [figures[f"{a.measures.side} arm"] for a in result.arms]),
        pieces_section(drawings, result),
        distortion_section(result, figures),
        darts_section(result),
        tape_section(result),
        seams_section(result),
        estimated_section(result),
    ]
    return tuple(section for section in sections if section is not None)


def closing_sections(result: MakeResult) -> tuple[Section, ...]:
    """Return the sections that end every report: cautions and limits."""
    return (cautions_section(), limits_section(result))


def report_html(result: MakeResult, sections: Sequence[Section], *, style: str, script: str) -> str:
    """Return the report as one self-contained HTML page.

    Parameters
    ----------
    result : MakeResult
    sections : sequence of Section
        In reading order: `opening_sections`, whatever other stages add, `closing_sections`.
    style, script : str
        The page's style sheet and the program of its turnable view.

    Raises
    ------
    ValueError
        When two sections share a name, or a name cannot be an anchor.
    """
    return page_html(result.sheet, _title(result), sections, style=style, script=script)


def page_html(
    sheet: Sheet, title: str, sections: Sequence[Section], *, style: str, script: str = ""
) -> str:
    """Return sections as one self-contained HTML page; see `report_html`."""
    _check_names([section.name for section in sections])
    contents = "".join(f'<li><a href="#{s.name}">{escape(s.title)}</a></li>' for s in sections)
    body = "\n".join(
        f'<section id="{s.name}" aria-labelledby="{s.name}-title">'
        f'<h2 id="{s.name}-title">{escape(s.title)}</h2>\n{s.body}</section>'
        for s in sections
    )
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        f"<title>{escape(title)}</title>\n<style>\n{style}</style></head>\n<body>"
        f"<header><h1>{escape(title)}</h1>{_label(sheet)}</header>"
        f'<nav aria-label="On this page"><ul>{contents}</ul></nav>\n<main>\n{body}\n</main>\n'
        f"<script>\n{script}</script>\n</body></html>\n"
    )


def _check_names(names: Sequence[str]) -> None:
    for name in names:
        if not re.fullmatch(r"[a-z][a-z0-9-]*", name):
            raise ValueError(
                f"section name {name!r} is no anchor; use lower-case words-and-hyphens"
            )
        if names.count(name) > 1:
            raise ValueError(f"two sections are called {name!r}; every anchor must be its own")


def _title(result: MakeResult) -> str:
    if serves_both(result):
        return "Both arms, from tape to pieces"
    return "Left and right arm, from tape to pieces"


def _label(sheet: Sheet) -> str:
    """Whose arm it is and when it was measured, as the sheet gives them."""
    said = [text for text in (sheet.owner, sheet.date) if text]
    return f'<p class="label">{escape(" · ".join(said))}</p>' if said else ""
