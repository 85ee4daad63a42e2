"""Correct the hand drafts of the sample sheets: python tests/study_drafts.py.

Both manners of every sheet in meshes/; a row before and a row after, as a table for
docs/closing_the_loop.md.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from unroll.arm_job import SPACING_MM
from unroll.correct.draft_loop import correct_draft
from unroll.disk.sheets import load_sheet
from unroll.errors import UnrollError
from unroll.nouns import Fit

MESHES = Path(__file__).parents[1] / "meshes"
SHEETS = ("demo", "two_arms", "few_measures")


def figures(off: Fit) -> str:
    """Return the figures that a draft is judged by, as table cells."""
    longer = off.length_sewn - off.length_asked
    bent = off.bend_sewn_deg - off.bend_asked_deg
    return (
        f"{off.worst_girth_percent:.2f} | {off.swing_deg:.1f} | {off.wrist_mm:.0f} | "
        f"{longer:+.0f} | {bent:+.1f} | "
        f"{off.cap_mean:.1f} | {off.cap_p95:.1f}"
    )


def main() -> None:
    """Print the table, and on the error stream each number and the time."""
    print("| | worst girth % | hang ° | wrist mm | length mm | bend ° | cap mean mm | cap p95 mm |")
    print("|---|---|---|---|---|---|---|---|")
    for name in SHEETS:
        sheet = load_sheet(MESHES / f"{name}.toml")
        for measures in sheet.arms:
            for manner in ("darts", "ease"):
                begun = time.process_time()
                title = f"{name}{f' {measures.side}' * (len(sheet.arms) > 1)}, {manner}"
                try:
                    found = correct_draft(
                        measures, sheet.make, sheet.cloth, manner=manner, spacing=SPACING_MM
                    )
                except UnrollError as error:
                    print(f"| {title}: {error} |" + " |" * 7)
                    continue
                print(f"| {title} | {figures(found.before)} |")
                print(f"| corrected | {figures(found.after)} |", flush=True)
                changes = ", ".join(f"{c.name} {c.drawn - c.measured:+.1f}" for c in found.changes)
                print(f"{title}: {time.process_time() - begun:.1f} s; {changes}", file=sys.stderr)


if __name__ == "__main__":
    main()
