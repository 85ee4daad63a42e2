"""The first toile answers back: from a measured trial to pieces for her own cloth."""

from __future__ import annotations

from dataclasses import replace

from unroll.errors import UnrollError
from unroll.lofting import shape_arm
from unroll.pipeline.dart_layouts import close_best
from unroll.pipeline.making import silent
from unroll.pipeline.refitting import refit
from unroll.pipeline.unrolling import Tell
from unroll.types import Sheet
from unroll.types.corrected import Refit


def refit_sheet(sheet: Sheet, *, tell: Tell = silent) -> tuple[Sheet, Refit]:
    """Return the sheet with the cloth that explains its trial, and how it was explained.

    Parameters
    ----------
    sheet : Sheet
        With the measures of a trial sewn from its corrected pieces.

    Raises
    ------
    UnrollError
        When the sheet has no trial, or the trial too few measures; or two unlike arms.
    """
    if sheet.trial is None:
        raise UnrollError("the sheet has no table [trial]; expected what was measured on the trial")
    if len(sheet.arms) > 1:
        raise UnrollError(
            "the sheet has two unlike arms and one trial; expected [arm] alone, or a sheet an arm"
        )
    shape = shape_arm(sheet.arms[0])
    closing = close_best(shape, sheet.make, sheet.cloth, tell=tell)
    found = refit(shape, sheet.make, sheet.cloth, closing, sheet.trial, tell=tell)
    return replace(sheet, cloth=found.cloth), found
