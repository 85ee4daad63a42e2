"""Pieces of one arm made ready to cut."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from unroll.errors import UnrollError
from unroll.finish.allowance import Corners, cutting_line
from unroll.finish.darts import Dart, cut_out_wide_darts, find_darts, is_cut_out
from unroll.finish.notching import (
    CROSSING,
    dart_notches,
    match_notches,
    notch_marks,
    place_notches,
)
from unroll.finish.repairs import (
    BASES,
    CAP_KINK_DEG,
    TruedPiece,
    folded,
    trued_base,
    with_trued_darts,
)
from unroll.finish.truing import ease_spans
from unroll.maths.arrays import FloatArray
from unroll.maths.cubic_fitting import fit_cubics, sample_cubics
from unroll.maths.polylines import crosses_itself, end_direction, tangent_through, turn_between
from unroll.nouns import (
    DartMark,
    EaseSpan,
    FinishedPiece,
    Notch,
    Piece,
    PieceSide,
    Sheet,
    StitchingSide,
)
from unroll.nouns.seam import is_dart, seams_of
from unroll.units import Unit, format_length

TRIAL = "sew a trial first, in a cheap cloth"


def label(
    name: str, arm: str, material: str, cut: tuple[int, int], sheet: Sheet, *, version: str
) -> tuple[str, ...]:
    """Return the lines of a piece's label, its name first.

    Parameters
    ----------
    name, arm, material : str
    cut : (int, int)
        How many as drawn, how many turned over.
    sheet : Sheet
        Owner, date, cloth and allowance.
    version : str
        The tool's version.
    """
    cloth = sheet.cloth.name if material == "cloth" else "card"
    whose = "" if arm == "both" else f", {arm.upper()}"
    lines = [name.upper() + whose, cut_words(cut), f"{arm_words(arm)}, {cloth}"]
    lines.append(allowance_words(sheet) if material == "cloth" else "no seam allowance")
    lines.append(" ".join(part for part in (sheet.owner, sheet.date) if part))
    if name == "outer":
        lines.append(TRIAL)
    lines.append(f"unroll {version}" if version else "")
    return tuple(line for line in lines if line)


def arm_words(arm: str) -> str:
    """Return which arm a piece is for, in words."""
    return "both arms" if arm == "both" else f"{arm} arm"


def cut_words(cut: tuple[int, int]) -> str:
    """Return how many to cut, in words.

    Examples
    --------
    >>> cut_words((1, 1)), cut_words((2, 0))
    ('cut 2, one of them mirrored', 'cut 2')
    """
    drawn, mirrored = cut
    if mirrored == 0:
        return f"cut {drawn}"
    return f"cut {drawn + mirrored}, {'one' if mirrored == 1 else 'two'} of them mirrored"


def allowance_words(sheet: Sheet) -> str:
    """Return the seam allowance in millimetres and in the maker's unit."""
    width = _both(sheet.make.seam_allowance, sheet.unit)
    other = sheet.make.seam_allowances
    if not other:
        return f"seam allowance {width}"
    listed = ", ".join(f"{seam} {_both(value, sheet.unit)}" for seam, value in other.items())
    return f"seam allowance {width}; {listed}"


def _both(mm: float, unit: Unit) -> str:
    """Return a width in the maker's unit, and in millimetres where that is another."""
    plain = f"{round(mm, 1):g} mm"
    if unit == "in":
        return f"{format_length(mm, 'in')} ({plain})"
    return plain


TURN_OF_CLOTH = 1.5  # mm; two thicknesses of canvas and the stitches: common practice, no source


def card_insert(piece: FinishedPiece, *, turn: float = TURN_OF_CLOTH) -> FinishedPiece:
    """Return the card that lies inside an end plate.

    Parameters
    ----------
    piece : FinishedPiece
        The cloth piece.
    turn : float
        How far the card stays inside the stitching line, mm.

    Raises
    ------
    UnrollError
        When the turn is negative.
    """
    if turn < 0:
        raise UnrollError(f"turn of cloth is {turn:g} mm; expected 0 or more")
    sides = tuple(replace(side, allowance=-turn) for side in piece.sides)
    cutting = cutting_line(sides, corners="mitred").line
    notches = [
        Notch(mark.name, mark.side_index, mark.along, len(mark.slits)) for mark in piece.notches
    ]
    marks = notch_marks(sides, cutting, notches)
    return replace(
        piece, material="card", sides=sides, cutting=cutting, notches=marks, darts=(), eases=(),
        remarks=(),
    )  # fmt: skip


SMOOTHED_WITHIN = (0.1, 0.03)  # mm; the first that does not make an outline cross itself
BEST_FIRST = ("corrected", "unrolled")
ORDER = ("outer", "inner", "armhole base", "wrist base", "shoulder extension")
TWICE = ("shoulder extension",)  # sewn from two layers, right sides together, and turned


def finish(
    pieces: Sequence[Piece],
    sheet: Sheet,
    *,
    arm: str | None = None,
    version: str = "",
    corners: Corners = "squared",
) -> tuple[FinishedPiece, ...]:
    """Return the pieces of one arm ready to cut, card inserts last.

    Parameters
    ----------
    pieces : sequence of Piece
        One arm's pieces, notches placed.
    sheet : Sheet
        Allowances, cloth, owner and date.
    arm : {"left", "right", "both"}, optional
        "both" where one set of pieces serves both arms, the other cut with the paper turned over;
        by default the arm that the pieces are for.
    version : str
        The tool's version, for the labels.
    corners : {"squared", "mitred"}
        How the ends of the long seams are cut.

    Raises
    ------
    UnrollError
        When an allowance is negative or beyond 100 mm, or names no seam.
    """
    allowance_of = _allowances(pieces, sheet)
    true = {p.name: with_trued_darts(p, sheet.unit) for p in pieces if p.name not in BASES}
    soft = {name: _smooth(found.piece, allowance_of) for name, found in true.items()}
    arm_pieces = tuple(soft.values())
    true |= {p.name: trued_base(p, arm_pieces, sheet.unit) for p in pieces if p.name in BASES}
    smooth = [soft.get(p.name) or _smooth(true[p.name].piece, allowance_of) for p in pieces]
    # an edge that was drawn anew is longer or shorter: its notches are to meet all the same
    smooth = [_meeting(one, true) for one in smooth]
    eases: dict[str, list[EaseSpan]] = {}
    for seam in (seam for seam in seams_of(smooth) if seam.is_whole):
        for name, some in ease_spans(seam).items():
            eases.setdefault(name, []).extend(some)
    done = []
    for piece in smooth:
        spans = tuple(eases.get(piece.name, ()))
        done.append(_finish_one(true[piece.name], piece, spans, corners, sheet.unit))
    if sheet.cloth.ends == "card":
        done += [card_insert(piece) for piece in done if piece.name in BASES]
    done.sort(
        key=lambda piece: (
            piece.material == "card",
            ORDER.index(piece.name) if piece.name in ORDER else len(ORDER),
        )
    )
    return tuple(_labelled(piece, arm or piece.arm, sheet, version) for piece in done)


def best_pieces(
    by_source: Mapping[str, Sequence[Piece]], *, cap: str, source: str | None = None
) -> tuple[Piece, ...]:
    """Return the pieces to cut: the best source that exists, completed from the flat draft.

    Parameters
    ----------
    by_source : mapping of str to sequence of Piece
        "corrected", "unrolled", "drafted-ease", "drafted-darts".
    cap : {"ease", "darts"}
        Manner of the flat draft to fall back on.
    source : str, optional
        The source the maker chose.

    Raises
    ------
    UnrollError
        When the chosen source was not made, or nothing was.
    """
    draft = (f"drafted-{cap}", "drafted-darts", "drafted-ease")
    order = (source,) if source else (*BEST_FIRST, *draft)
    found = next((name for name in order if by_source.get(name)), None)
    if found is None:
        made = ", ".join(name for name, some in by_source.items() if some) or "none"
        raise UnrollError(f"no pieces of source {source or 'any'}; made here: {made}")
    chosen = {piece.name: piece for piece in by_source[found]}
    for name in draft:
        for piece in by_source.get(name, ()):
            chosen.setdefault(piece.name, piece)
    return tuple(chosen.values())


@dataclass(frozen=True, eq=False)
class SmoothPiece:
    """A piece whose sides are smooth and whose notches follow them; not yet cut out."""

    name: str
    sides: tuple[StitchingSide, ...]
    notches: tuple[Notch, ...]


def _allowances(pieces: Sequence[Piece], sheet: Sheet) -> Callable[[str], float]:
    """Return the allowance by seam name, checked."""
    seams = dict.fromkeys(s.seam for p in pieces for s in p.sides if not is_dart(s.seam))
    special = sheet.make.seam_allowances
    for name, width in [("every seam", sheet.make.seam_allowance), *special.items()]:
        if not 0 <= width <= 100:
            raise UnrollError(
                f"seam allowance on {name} is {width:g} mm; expected 0 to 100 mm (wrong unit?)"
            )
        if name != "every seam" and name not in seams:
            raise UnrollError(f'seam_allowances names "{name}"; the seams are {", ".join(seams)}')
    return lambda seam: special.get(seam, sheet.make.seam_allowance)


def _meeting(soft: SmoothPiece, true: Mapping[str, TruedPiece]) -> SmoothPiece:
    """Return a smoothed piece whose notches lie where those of its trued mates do."""
    piece = true[soft.name].piece
    if piece.name in BASES or not any(found.remarks for found in true.values()):
        return soft
    placed = {one.name: one for one in place_notches(tuple(found.piece for found in true.values()))}
    again = {_seat(n, piece): n for n in placed[piece.name].notches}
    notches = tuple(again.get(_seat(n, piece), n) for n in piece.notches)
    return replace(soft, notches=_on_sides(notches, piece, soft.sides))


def _seat(notch: Notch, piece: Piece) -> tuple[str, str]:
    return notch.name, piece.sides[notch.side_index].seam


def _on_sides(
    notches: Sequence[Notch], piece: Piece, sides: Sequence[StitchingSide]
) -> tuple[Notch, ...]:
    """Return a piece's notches at the same shares of its smoothed sides."""
    return tuple(
        replace(n, along=n.along * sides[n.side_index].length / piece.sides[n.side_index].length)
        for n in notches
    )


def _smooth(piece: Piece, allowance_of: Callable[[str], float]) -> SmoothPiece:
    """Smooth a piece's sides; notches keep their share of each side's length."""
    for tolerance in SMOOTHED_WITHIN:
        sides = cut_out_wide_darts(smooth_sides(piece, allowance_of, tolerance=tolerance))
        if not crosses_itself(np.concatenate([side.points[:-1] for side in sides])):
            break  # at a cusp two smoothed sides may cross by a hair
    return SmoothPiece(piece.name, sides, _on_sides(piece.notches, piece, sides))


def _finish_one(
    found: TruedPiece, soft: SmoothPiece, eases: tuple[EaseSpan, ...], corners: Corners, unit: Unit
) -> FinishedPiece:
    piece = found.piece
    cut = cutting_line(soft.sides, corners=corners)
    cutting = cut.line
    darts = find_darts(soft.sides)
    notches: tuple[Notch, ...] = soft.notches
    marks = (
        *notch_marks(soft.sides, cutting, notches),
        *dart_notches(soft.sides, cutting, darts),
        *match_notches(soft.sides, cutting, darts),
    )
    return FinishedPiece(
        piece.name,
        piece.source,
        piece.arm,
        "cloth",
        soft.sides,
        cutting,
        marks,
        tuple(_dart_mark(soft.sides, dart, cutting, piece.arm) for dart in darts),
        eases,
        dict(piece.lines),
        remarks=(*found.remarks, *_clipped_words(soft, cut.clipped, unit)),
    )


def _clipped_words(soft: SmoothPiece, seams: Sequence[str], unit: Unit) -> tuple[str, ...]:
    widths = {side.seam: side.allowance for side in soft.sides}
    return tuple(
        f"{soft.name}, {seam}: there is no room for {_both(widths[seam], unit)} of "
        "allowance all along; it is cut short where edges meet: snip it to the stitching line there"
        for seam in seams
    )


def _dart_mark(
    sides: Sequence[StitchingSide], dart: Dart, cutting: FloatArray, arm: str
) -> DartMark:
    """Return a dart's marks; its fold runs from the point to the peak of the cutting line."""
    there, back = (sides[i] for i in dart.legs)
    point, mouth = there.points[-1], np.stack([there.points[0], back.points[-1]])
    if is_cut_out(sides, dart):
        return DartMark(dart.name, dart.legs, point, mouth, None, "open")
    peak = mouth.mean(axis=0)
    beyond = (cutting - peak) @ (peak - point) / np.linalg.norm(peak - point)
    near = np.linalg.norm(cutting - peak, axis=1) < np.linalg.norm(mouth[1] - mouth[0]) + 40
    if near.any():
        peak = cutting[np.argmax(np.where(near, beyond, -np.inf))]
    # outlines of a left cap run from back to front; a mirrored one from front to back
    is_back = dart.is_pressed_back == (arm != "right")
    pressed = "towards the back" if is_back else "towards the front"
    return DartMark(dart.name, dart.legs, point, mouth, np.stack([point, peak]), pressed)


def _labelled(piece: FinishedPiece, arm: str, sheet: Sheet, version: str) -> FinishedPiece:
    each = 1 if piece.name in TWICE else 0
    drawn, turned = 1, each
    if arm == "both":
        drawn, turned = 1 + each, 1 + each
    text = label(piece.title, arm, piece.material, (drawn, turned), sheet, version=version)
    return replace(
        piece, arm=arm, cut_as_drawn=drawn, cut_turned_over=turned, label=text,
        girths=_girths(arm, sheet), unit=sheet.unit,
    )  # fmt: skip


def _girths(arm: str, sheet: Sheet) -> dict[str, float]:
    """Return the girths that an arm is made to, by the line that runs there, mm."""
    made = next((one for one in sheet.arms if one.side == arm), sheet.arms[0])
    return {f"{name} line": float(getattr(made, f"{name.replace(' ', '_')}_girth"))
            for name in CROSSING}  # fmt: skip


# -- stitching lines made smooth ----------------------------------------------------------

SMOOTH_JOINT_DEG = 12.0  # two sides that turn more than this at their joint meet at a corner
SURELY_SMOOTH_DEG = 2.0  # and if less than this, they run on as one curve


def smooth_sides(
    piece: Piece, allowance_of: Callable[[str], float], *, tolerance: float = 0.1
) -> tuple[StitchingSide, ...]:
    """Return the sides of `piece` as few cubic segments, within `tolerance` mm.

    Sides stay joined: each starts on the last point of the one before. Where two sides run on
    smoothly (armhole front, wrist middle, or the cap across a dart that is folded shut), both are
    held to one tangent.
    """
    lines = [np.array(side.points) for side in piece.sides]
    for index, line in enumerate(lines):
        line[0] = lines[index - 1][-1]
    joints = [_joint_tangent(lines, piece, index) for index in range(len(lines))]
    starts, ends = dict(enumerate(joints)), dict(enumerate([*joints[1:], joints[0]]))
    for dart in find_darts(piece.sides):
        ends[dart.before], starts[dart.after] = _tangents_across(piece.sides, dart)
    sides = []
    for index, line in enumerate(lines):
        cubics = fit_cubics(
            line,
            tolerance=tolerance,
            start_tangent=starts[index],
            end_tangent=ends[index],
        )
        points, tangents = sample_cubics(cubics)
        seam = piece.sides[index].seam
        allowance = 0.0 if is_dart(seam) else allowance_of(seam)
        sides.append(StitchingSide(seam, cubics, points, tangents, allowance))
    return tuple(sides)


def _tangents_across(
    sides: Sequence[PieceSide], dart: Dart
) -> tuple[FloatArray | None, FloatArray | None]:
    """Return how the seam arrives at a dart's mouth and leaves it, in line once it is folded.

    Both None where the seam turns there by more than is drawn smooth.
    """
    fold, _ = folded(sides, dart)
    arriving = -end_direction(sides[dart.before].points[::-1])
    leaving = end_direction(fold.close(sides[dart.after].points))
    if abs(np.rad2deg(turn_between(arriving, leaving))) > CAP_KINK_DEG:
        return None, None
    both = (arriving + leaving) / np.linalg.norm(arriving + leaving)
    return both, fold.open(fold.near + both) - fold.far


def _joint_tangent(lines: list[FloatArray], piece: Piece, index: int) -> FloatArray | None:
    """Return the common tangent where side `index` starts, or None at a corner."""
    before, after = lines[index - 1], lines[index]
    if is_dart(piece.sides[index - 1].seam) or is_dart(piece.sides[index].seam):
        return None
    turn = abs(turn_between(before[-1] - before[-2], after[1] - after[0]))
    # a curve turns at its joint about as much as at the points beside it
    beside = [
        abs(turn_between(line[1] - line[0], line[2] - line[1]))
        for line in (before[-3:], after[:3])
        if len(line) == 3
    ]
    if turn > max([np.deg2rad(SURELY_SMOOTH_DEG), *(1.5 * b for b in beside)]):
        return None
    if turn > np.deg2rad(SMOOTH_JOINT_DEG):
        return None
    return tangent_through(np.stack([before[-2], after[0], after[1]]), 1)
