"""Sheets as makers write them come to pieces that can be cut, whatever is said of them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.coarse import coarsely
from tests.test_bad_sheets import FOUR, GOOD, scaled
from tests.test_estimates import CHILD, FULL, MUSCULAR, SHEETS
from tests.wild_armholes import PAGE, path_data, plate_points
from tests.wild_sheets import wild_sheet
from unroll.arm_job import LOOK
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.arms.taping import tape
from unroll.disk.sheets import load_sheet
from unroll.errors import SheetFaults
from unroll.finish.finishing import best_pieces, finish
from unroll.finish.truing import check_truing
from unroll.job import Job
from unroll.nouns import FinishedPiece, Sheet
from unroll.nouns.seam import seams_of
from unroll.sheets.reading import read_sheet

WIDTH, HEIGHT = 98.0, 116.0


def drawn_as_curves(folder: Path) -> Sheet:
    """Return the good sheet with its armhole drawn as eight curves beside it."""
    points = [(80 + x, 90 - y) for x, y in plate_points("egg", WIDTH, HEIGHT, 8, 0.4)]
    line = f'<path id="armhole" d="{path_data(points, "curves")}"/>'
    page = PAGE.format(w="160mm", h="180mm", box="0 0 160 180", body=line)
    (folder / "armhole.svg").write_text(page, "utf-8")
    sheet = folder / "arm.toml"
    sheet.write_text(GOOD.replace("{width = 9.8, height = 11.6}", '{outline = "armhole.svg"}'))
    return load_sheet(sheet)


KINDS: dict[str, Callable[[Path], Sheet]] = {
    "a child's": lambda _: read_sheet(CHILD),
    "a muscular man's with a short cap height": lambda _: read_sheet(MUSCULAR),
    "a soft very full arm's with an eased cap": lambda _: read_sheet(FULL),
    "a plate of 24 points": lambda _: SHEETS["a plate of 24 points"](),
    "a plate as a skewed egg": lambda _: SHEETS["a plate as a skewed egg"](),
    "a plate drawn as curves": drawn_as_curves,
    "two unlike arms": lambda _: SHEETS["two unlike arms"](),
}


@pytest.mark.parametrize("kind", KINDS)
def test_plausible_sheets_come_to_pieces_that_can_be_cut(kind: str, tmp_path: Path) -> None:
    sheet = KINDS[kind](tmp_path)
    with coarsely():
        result = Job(sheet, corrects=False, search=LOOK, edge=13.0).shapes()
    for arm in result.arms:
        pieces = best_pieces(arm.pieces, cap=sheet.make.cap, source=arm.source)
        finished = finish(pieces, sheet, arm=arm.measures.side)
        assert check_truing(finished, sheet).faults == ()
        for piece in finished:
            assert piece.crossing is None
        assert_bases_meet(finished, sheet)


def assert_bases_meet(finished: tuple[FinishedPiece, ...], sheet: Sheet) -> None:
    """Hold each end plate's edge to the length of what is sewn to it; the cap alone is eased."""
    cloth = [piece for piece in finished if piece.material == "cloth"]
    seams = [seam for seam in seams_of(cloth) if seam.second.piece.name.endswith("base")]
    assert len(seams) >= 4
    for seam in seams:
        surplus = seam.first.length - seam.second.length
        if seam.name == "cap seam":
            assert surplus > -0.1
        else:  # 0.1 mm: what smoothing may add to a line
            assert surplus == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("text", [GOOD, FOUR])
def test_inches_in_a_cm_sheet_are_refused_in_one_line(text: str) -> None:
    with pytest.raises(SheetFaults, match="look like inches in a sheet that says cm"):
        read_sheet(scaled(text, 1 / 2.54, "cm"))


def test_plumb_line_readings_in_threes_are_read_like_any_other() -> None:
    text = GOOD.replace("cap_height = 16.0", "underarm_inside = [0.6, 0.8, 0.6]\n"
                                             'wrist_forward = ["-1", "-0,5", "-1"]')
    sheet = read_sheet(text)
    stance = sheet.arms[0].stance
    assert (stance.underarm_inside, stance.wrist_forward) == (6.0, -10.0)
    told = [n.text for n in sheet.notices if n.name == "underarm_inside"]
    assert told == ["underarm_inside: 3 readings from 0.6 to 0.8 cm; 0.6 cm is used"]


@pytest.mark.parametrize("seed", range(60))
def test_a_sheet_as_a_maker_might_write_it_is_read_or_its_slip_is_told(seed: int) -> None:
    wild = wild_sheet(seed)
    if any(name.endswith(".svg") for name in wild.files):
        return  # read with its drawing in the study
    if not wild.slip:
        assert read_sheet(wild.text).arms
        return
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(wild.text)
    assert 1 <= len(refusal.value.lines) <= 13


ELBOW_BEHIND = """\
unit = "cm"
[arm]
shoulder_to_elbow = 18.5
shoulder_to_inner_elbow = 18
inner_elbow_to_wrist = 15.5
upper_arm_girth = 21
wrist_girth = 12
upper_arm_up = 6.5
elbow_girth = 16
forearm_girth = 17.5
cap_height = 14
underarm_inside = 2
underarm_behind = 1.5
front_inside = 0.5
elbow_outward = 1.5
elbow_forward = -1
wrist_outward = 2
armhole = {height = 10}
"""


def test_lengths_that_fight_where_the_elbow_hangs_are_missed_and_told_not_refused() -> None:
    shape = shape_arm(read_sheet(ELBOW_BEHIND).arms[0])
    assert shape.fights["shoulder_to_elbow"] == "elbow_forward"
    rows = {row.name: row for row in tape(mesh_arm(shape), shape.measures, fights=shape.fights)}
    missed = rows["shoulder_to_elbow"]
    assert 3.0 < abs(missed.got_mm - missed.asked_mm) < 12.0
    forearm = rows["inner_elbow_to_wrist"]  # which fights with nothing
    assert forearm.got_mm == pytest.approx(forearm.asked_mm, abs=0.5)
    assert rows["upper_arm_girth"].got_mm == pytest.approx(210.0, abs=0.5)
