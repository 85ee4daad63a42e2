"""The page's first look: near enough to the whole job to be worth showing, and mirrored rightly."""

from __future__ import annotations

import base64
from dataclasses import replace

import numpy as np
import pytest

from tests.samples import sample_measures
from unroll.arms.lofting import mesh_arm, rounded_shape, shape_arm
from unroll.correct.bench import bench_of
from unroll.correct.layouts import untried_layout
from unroll.correct.loop import sketch
from unroll.errors import UnrollError
from unroll.maths.polylines import length
from unroll.nouns import Cloth, DartChoice, Make, Sheet
from unroll.nouns.fit import worst_share
from unroll.page.showing import foretold_sentence
from unroll.page.sketching import roughly, sketched_arm, sketched_pieces
from unroll.progress import Cancelled, Progress


@pytest.fixture(scope="module")
def two_arms() -> Sheet:
    left = sample_measures()
    return Sheet((left, replace(left, side="right", wrist_girth=left.wrist_girth + 4.0)),
                 Cloth(ends="cloth"), Make(), "cm")  # fmt: skip


def test_a_rough_arm_lies_within_a_millimetre_and_a_half_of_the_exact_one(sample_shape) -> None:
    rough, exact = (mesh_arm(shape, edge=12.0).mesh.vertices
                    for shape in (roughly(sample_shape.measures), sample_shape))  # fmt: skip
    assert rough.shape == exact.shape
    assert 0.0 < np.abs(rough - exact).max() < 1.5  # its lengths: within 1 mm each
    again = mesh_arm(shape_arm(sample_shape.measures), edge=12.0).mesh.vertices
    assert (again == exact).all()  # roughness is asked for, never the rule


@pytest.mark.parametrize(
    "change",
    [{"forearm_girth": 247.0}, {"shoulder_to_elbow": 350.0, "inner_elbow_to_wrist": 228.0},
     {"cap_height": 170.0}],
)  # fmt: skip
def test_a_start_from_another_arm_leads_to_the_same_shape(change) -> None:
    start = roughly(sample_measures()).start
    measures = replace(sample_measures(), **change)
    there, cold = (mesh_arm(roughly(measures, one), edge=12.0).mesh.vertices
                   for one in (start, None))  # fmt: skip
    assert np.abs(there - cold).max() < 0.5  # lengths are solved within 0.2 mm either way


def test_a_start_that_leads_astray_is_given_up() -> None:
    start = roughly(sample_measures()).start
    astray = replace(start, lengths=(900.0, 1.0, -200.0))
    there, cold = (mesh_arm(roughly(sample_measures(), one), edge=12.0).mesh.vertices
                   for one in (astray, None))  # fmt: skip
    assert np.abs(there - cold).max() < 0.5
    with pytest.raises(UnrollError):
        roughly(replace(sample_measures(), wrist_girth=900.0), start)


def test_what_is_foretold_is_nearly_within_limits_where_flat_pieces_are_far_off() -> None:
    rounded = rounded_shape(sample_measures())
    darts, ease = untried_layout(rounded, Make(), Cloth())
    bench = bench_of(rounded, Make(), Cloth(), darts, edge=18.0, ease=ease)
    laid, miss = sketch(rounded, Make(), Cloth(), darts, ease=ease, rounds=2)
    assert worst_share(bench.plain().miss) > 5.0 > 2.0 > worst_share(miss)
    assert laid.source == "corrected" and len(laid.intakes) == 2
    front, back = (next(p for p in laid.pieces if p.name == "outer").seam_length(f"{side} seam")
                   for side in ("front", "back"))  # fmt: skip
    inner = next(p for p in laid.pieces if p.name == "inner")
    assert front == pytest.approx(inner.seam_length("front seam"), abs=0.01)  # the seams still fit
    assert back == pytest.approx(inner.seam_length("back seam"), abs=0.01)


def test_darts_that_the_sheet_fixes_are_sketched_where_they_lie() -> None:
    make = Make(darts=(DartChoice(at=40.0, length=90.0), DartChoice(at=-35.0)))
    darts, ease = untried_layout(rounded_shape(sample_measures()), make, Cloth())
    assert [(dart.at, dart.length) for dart in darts][0] == (40.0, 90.0) and darts[1].at == -35.0
    assert ease is None
    make = Make(cap="ease", cap_ease=20.0)
    eased = untried_layout(rounded_shape(sample_measures()), make, Cloth())
    assert eased == ((), 20.0)


def test_each_arm_has_its_own_look_and_the_right_one_is_mirrored(two_arms) -> None:
    left, right = (sketched_arm(two_arms, index)[0] for index in (0, 1))
    assert left["models"][0]["name"] == "left, as taped" and right["side"] == "right"
    assert left["models"][0]["high"][1] > 20.0 > -20.0 > right["models"][0]["low"][1]
    got = {row["name"]: row for row in right["tape"]}["wrist_girth"]
    assert got["is_kept"] and got["asked"].endswith(" cm")
    pieces, _ = sketched_pieces(two_arms, 1, None)
    assert [model["side"] for model in pieces["models"]] == ["right", "right"]
    assert 'data-arm="right"' in pieces["pieces"]["drawing"]
    assert pieces["sentence"].startswith("Corrected, the right arm should")
    assert len(pieces["figures"]) == 6 and all(f["limit"] for f in pieces["figures"])


def test_tapes_lie_on_the_arm_and_are_as_long_as_is_said(two_arms) -> None:
    arm, _ = sketched_arm(two_arms, 1)
    tapes = {tape["name"]: tape for tape in arm["models"][0]["tapes"]}
    rows = {row["name"]: row for row in arm["tape"]}
    assert {name for name, tape in tapes.items() if tape["girth"]} == {
        "upper_arm_girth", "elbow_girth", "forearm_girth", "wrist_girth",
        *(name for name in rows if name.startswith("girth_"))}  # fmt: skip
    for name, tape in tapes.items():
        line = points_of(tape)
        assert line[:, 1].max() < 6.0  # of the right arm, whose armhole's edge lies at 0
        assert (tape["asked"], tape["got"]) == (rows[name]["asked"], rows[name]["got"])
        # a girth's ring floats 0.8 mm above the arm, as seams do: 5 mm longer all round
        longer = 2 * np.pi * 0.8 if tape["girth"] else 0.0
        said = 10.0 * float(tape["got"].removesuffix(" cm"))
        assert length(line) - longer == pytest.approx(said, abs=0.8)  # said to half a millimetre


def points_of(tape) -> np.ndarray:
    return np.frombuffer(base64.b64decode(tape["points"]), "<f4").reshape(-1, 3).astype(float)


def test_the_sewn_arm_says_what_was_asked_and_what_it_got(two_arms) -> None:
    told, _ = sketched_pieces(two_arms, 0, None)
    wanted, sewn = told["models"]
    assert wanted["tapes"] == []
    tapes = {tape["name"]: tape for tape in sewn["tapes"]}
    assert set(tapes) == {f"{name}_girth" for name in ("upper_arm", "elbow", "forearm", "wrist")}
    asked = {row["name"]: row["asked"] for row in sketched_arm(two_arms, 0)[0]["tape"]}
    for name, tape in tapes.items():
        assert tape["asked"] == asked[name]
        off = float(tape["got"].split()[0]) / float(tape["asked"].split()[0]) - 1.0
        assert abs(off) < 0.02, name
        assert np.ptp(points_of(tape)[:, 2]) < 60.0  # a ring across the arm


def test_the_sentence_names_what_is_missed_most() -> None:
    from tests.made_arms import made_arm, made_fit
    from unroll.nouns import verdicts_of

    kept = verdicts_of(made_fit(made_arm(rings=8)))
    assert foretold_sentence(kept, "mm", subject="this arm") == (
        "Corrected, this arm should keep to every limit.")  # fmt: skip
    missed = verdicts_of(made_fit(made_arm(rings=8), wrist_mm=9.0, swing_deg=0.6))
    assert foretold_sentence(missed, "mm", subject="this arm").endswith(
        "not within every limit: the wrist off by about 9 mm, and 1 more.")  # fmt: skip


def test_a_pause_ends_at_once_when_the_run_is_cancelled() -> None:
    progress = Progress()
    progress.pause(0.0)
    progress.cancel()
    with pytest.raises(Cancelled, match="while it waited"):
        progress.pause(60.0)
