"""What the commands for a single stage write, as names and contents."""

from __future__ import annotations

from collections.abc import Sequence

from unroll.files.drawings import pieces_svg
from unroll.files.stage_figures import draft_figures, sewn_figures
from unroll.types import Drafted, MakeResult, Sheet

Files = dict[str, bytes | str]


def draft_files(sheet: Sheet, drafts: Sequence[Drafted]) -> Files:
    """Return the flat draft: pieces at true scale, and a picture of pieces and walked seams."""
    files: Files = {}
    for measures, drafted in zip(sheet.arms, drafts, strict=True):
        prefix = f"{measures.side}_" if len(drafts) > 1 else ""
        for source, pieces in drafted.pieces.items():
            files[f"{prefix}{source}.svg"] = pieces_svg(pieces)
        for name, figure in draft_figures(drafted).items():
            files[f"{prefix}{name}.png"] = figure.content
    return files


def sewn_files(result: MakeResult) -> Files:
    """Return pictures of the sewn and filled shapes."""
    files: Files = {}
    for arm in result.arms:
        prefix = f"{arm.measures.side}_" if len(result.arms) > 1 else ""
        if arm.filled is not None:
            for name, figure in sewn_figures(arm.filled).items():
                files[f"{prefix}{name}.png"] = figure.content
    return files


