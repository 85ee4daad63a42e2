"""The nouns of the program: values that stages take and return."""

from unroll.types.arrays import BoolArray, FloatArray, IntArray, own
from unroll.types.finished import (
    CutPlan,
    DartMark,
    EaseSpan,
    FinishedPiece,
    LaidPiece,
    Lettering,
    NotchMark,
    Patch,
    PrintFacts,
    SeamCheck,
    SheetPage,
    StitchingSide,
    Stroke,
    Truing,
)
from unroll.types.flat import Notch, Piece, PieceSide, Source, mirrored
from unroll.types.measures import (
    Armhole,
    ArmMeasures,
    CapArc,
    Cloth,
    DartChoice,
    Estimate,
    Make,
    Notice,
    Sheet,
    Side,
)
from unroll.types.results import ArmResult, MakeResult, SeamRow, TapeRow
from unroll.types.surfaces import (
    ArmMesh,
    DartLine,
    Distortion,
    Flattening,
    Mesh,
    Panel,
    PanelSide,
    Station,
    Trace,
)

__all__ = [
    "CutPlan", "DartMark", "EaseSpan", "FinishedPiece", "LaidPiece", "Lettering", "NotchMark", "Patch",
    "PrintFacts", "SeamCheck", "SheetPage", "StitchingSide", "Stroke", "Truing",
    "ArmMeasures", "ArmMesh", "ArmResult", "Armhole", "BoolArray", "CapArc", "Cloth", "DartChoice", "DartLine",
    "Distortion", "Estimate", "Flattening", "FloatArray", "IntArray", "Make", "MakeResult", "Mesh", "Notch",
    "Notice", "Panel", "PanelSide", "Piece", "PieceSide", "SeamRow", "Sheet", "Side", "Source", "Station",
    "TapeRow",    "Trace", "mirrored", "own",
]
