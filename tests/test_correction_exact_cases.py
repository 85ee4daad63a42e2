"""Arms that unroll exactly come back from sewing and filling, and the loop leaves them alone.

What is left on the mesh itself is known: cloth of stiffness K under the pressure p grows by p r / K
round the arm (Laplace's law for a tube, derived), which is 0.0036 % here, and the cloth's own
bending, 0.1 N mm, pulls the 24-sided tube flat by up to a few tenths of a millimetre between its
lines, which takes up to 0.04 % from the slenderest girth. The bounds below are two to three times
what was measured.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.exact_arms import (
    AROUND,
    BACK,
    ELBOW,
    FRONT,
    LEAN_RAD,
    WRIST,
    ExactArm,
    mitred_arm,
    sides_at_the_wrist,
    straight_arm,
)
from tests.samples import sample_measures
from tests.sewn_shapes import even_cloth, piece
from unroll.correct.bench import Bench, Tried
from unroll.correct.change_costs import cost_of_change
from unroll.correct.flat_shapes import flat_shapes
from unroll.correct.loop import corrected_filled
from unroll.correct.readings import readings_of
from unroll.correct.rulers import missed, ruler_of, whereabouts_of
from unroll.flat.cutting import outline
from unroll.flat.flattening import flatten
from unroll.maths.arrays import FloatArray
from unroll.nouns import Make, Piece, PieceSide
from unroll.nouns.corrected import Miss
from unroll.sewn.sewing import sew

RADIUS = 45.0
STIFF = 2500.0  # N/mm: a hundred times as stiff as plain cotton, so that it hardly gives
SHAPES = {
    "cylinder": straight_arm(RADIUS),
    "frustum": straight_arm(RADIUS, taper=0.06),
    "mitred elbow": mitred_arm(RADIUS, 15.5),
}


def bench_for(exact: ExactArm, stiffness: float = STIFF) -> Bench:
    shapes = flat_shapes(exact.arm, [flatten(panel) for panel in exact.panels])
    return Bench(
        measures=sample_measures(),
        arm=exact.arm,
        shapes=shapes,
        cost=cost_of_change(shapes),
        readings=readings_of(ruler_of(exact.arm)),
        make=Make(),
        cloth=even_cloth(stiffness),
        darts=(),
        ease=0.0,
        edge=20.0,
    )


def astray(bench: Bench) -> FloatArray:
    """The arm turned away from the body, forward and about its length, and shifted."""
    turn = Rotation.from_rotvec([0.03, 0.02, 0.03])
    away = turn.apply(bench.arm.mesh.vertices.copy()) + [0.0, 3.0, 2.0]
    share = whereabouts_of(bench.arm).freed[:, None]
    return np.asarray((1.0 - share) * bench.arm.mesh.vertices + share * away)


def assert_nil(miss: Miss) -> None:
    assert miss.worst_girth_percent < 0.1
    assert miss.swing_deg < 0.03 and np.degrees(abs(miss.twist_rad)) < 0.03
    assert miss.wrist_mm < 0.4 and np.linalg.norm(miss.elbow) < 0.1
    assert miss.cap_p95 < 0.1  # mm; where cap and armhole are


@pytest.mark.parametrize("name", SHAPES)
def test_an_arm_that_unrolls_exactly_comes_back(name: str) -> None:
    bench = bench_for(SHAPES[name])
    # a start far away, so that coming back is not merely staying
    off = astray(bench)
    assert missed(bench.readings.ruler, off).wrist_mm > 10.0
    tried = bench.plain(off)
    assert_nil(tried.miss)
    moved = np.linalg.norm(tried.filled - bench.arm.mesh.vertices, axis=1)
    assert moved.max() < 0.4


@pytest.mark.parametrize("name", ["cylinder", "mitred elbow"])
def test_cloth_that_gives_grows_a_tube_by_what_laplaces_law_says(name: str) -> None:
    bench = bench_for(SHAPES[name], stiffness=250.0)
    grown = 1e-3 * bench.cloth.pressure_kpa * RADIUS / 250.0  # p r / K, derived
    # bending takes up to a seventh of it here
    assert bench.plain().miss.girths == pytest.approx(grown, rel=0.2)


@pytest.mark.parametrize("bend_deg, longer", [(10.0, 13.273), (15.5, 20.646), (20.0, 26.750)])
def test_a_mitred_elbows_back_is_longer_than_its_front_by_the_sheet_metal_rule(
    bend_deg: float, longer: float
) -> None:
    """4 R tan(bend / 2) at girth 238.3 (sheet-metal development; values derived from it)."""
    exact = mitred_arm(238.3 / (2.0 * np.pi), bend_deg)
    flat = [flatten(panel) for panel in exact.panels if panel.name.startswith("outer")]

    def length(column: int) -> float:
        lines = [f.points[f.panel.arm_vertices % AROUND == column] for f in flat]
        return sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in lines)

    assert length(BACK) - length(FRONT) == pytest.approx(longer, abs=1e-3)


def test_sewn_from_its_four_pieces_a_mitred_elbow_comes_nearer_with_the_mesh() -> None:
    # another mesh than the one laid flat, without its straight lines, and the crude start
    exact = SHAPES["mitred elbow"]
    misses, turns = zip(*(_wrist_of_sewn(exact, spacing) for spacing in (16.0, 8.0)))
    # measured 4.2 and 1.9 mm on an arm of 500, the straight cylinder 4.2 and 1.9 as well
    assert misses[1] < 2.5 and misses[1] < 0.6 * misses[0]
    assert turns[1] < 0.5


def _wrist_of_sewn(exact: ExactArm, spacing: float) -> tuple[float, float]:
    """Return how far the wrist lies from its place, mm, and how far it is turned, degrees."""
    sewn = sew(_pieces(exact), cloth=even_cloth(250.0), spacing=spacing)
    ring = np.union1d(sewn.seam_paths["outer wrist"], sewn.seam_paths["inner wrist"])
    points, wanted = sewn.mesh.vertices[ring], exact.arm.stations["wrist"]
    off = points.mean(axis=0) - wanted.origin
    normal = np.linalg.svd(points - points.mean(axis=0))[2][2]
    turn = np.arccos(np.clip(abs(normal @ wanted.normal), 0.0, 1.0))
    return float(np.linalg.norm(off)), float(np.degrees(turn))


def _pieces(exact: ExactArm) -> list[Piece]:
    out = []
    for panel in exact.panels:
        flat = outline(flatten(panel), arm="left")
        half = f" {panel.name.split()[1]}"  # upper and lower halves of a seam are two seams here
        names = [s.seam + half * s.seam.startswith(("front", "back")) for s in flat.sides]
        sides = tuple(PieceSide(n, s.points) for n, s in zip(names, flat.sides, strict=True))
        out.append(replace(flat, sides=sides, lines={}))
    points, at = exact.arm.mesh.vertices[:, [0, 2]], exact.arm.paths
    cap, under = points[at["cap seam"]], points[at["underarm seam"]]
    out.append(piece("armhole base", ("cap seam", cap), ("underarm seam", under[::-1])))
    outer, inner = sides_at_the_wrist(exact.arm)
    out.append(piece("wrist base", ("outer wrist", outer[::-1]), ("inner wrist", inner)))
    return out


@pytest.mark.parametrize("name", SHAPES)
def test_the_loop_leaves_an_arm_that_unrolls_exactly_alone(name: str) -> None:
    bench = bench_for(SHAPES[name])
    first = bench.plain()
    best = corrected_filled(bench, first, rounds=3)[-1]
    assert_nil(best.miss)
    assert np.abs(stretched(bench, best.points)).max() < 2e-3
    assert np.linalg.norm(best.points - first.points, axis=1).max() < 0.3  # mm, on an arm of 500


@pytest.mark.parametrize("name", SHAPES)
def test_pieces_sent_astray_come_back_to_the_arm(name: str) -> None:
    bench = bench_for(SHAPES[name], stiffness=250.0)
    off = sent_astray(bench)
    assert off.miss.worst_girth_percent > 0.9 and off.miss.wrist_mm > 2.0
    best = corrected_filled(bench, off, rounds=8)[-1]
    assert best.miss.worst_girth_percent < 0.1
    assert best.miss.swing_deg < 0.1 and best.miss.wrist_mm < 0.3
    assert best.miss.cap_mean < 0.1 * off.miss.cap_mean


def sent_astray(bench: Bench) -> Tried:
    """The pieces 1 % slimmer than they ought to be, and bent in their plane; seams kept."""
    x, y = bench.shapes.points.T
    bent = np.stack([-0.01 * x, 1.5 * np.sin(x / 40.0)], axis=1)
    points = bench.seams(bench.shapes.points).kept(bench.shapes.points + bent)
    return bench.filled(points)


def stretched(bench: Bench, points: FloatArray) -> FloatArray:
    """Return by what share each edge of the flat meshes is longer than as laid flat."""
    corners = bench.shapes.corners[bench.shapes.corners[:, 0] >= 0]
    ends = np.unique(np.sort(corners[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)), axis=0)
    now, laid = (
        np.linalg.norm(at[ends[:, 0]] - at[ends[:, 1]], axis=1)
        for at in (points, bench.shapes.points)
    )
    return np.asarray(now / laid - 1.0)


def test_the_shapes_are_what_they_are_called() -> None:
    for name, exact in SHAPES.items():
        points, faces = exact.arm.mesh.vertices, exact.arm.mesh.faces
        rim = np.union1d(exact.arm.paths["cap seam"], exact.arm.paths["underarm seam"])
        assert np.abs(points[rim, 1]).max() < 1e-9, name
        height = -exact.arm.landmarks["underarm"][2]
        if name != "frustum":
            assert height == pytest.approx(2.0 * RADIUS / np.sin(LEAN_RAD))
        wrist = points[exact.arm.paths["outer wrist"]] - exact.arm.stations["wrist"].origin
        thin = RADIUS - (0.06 * (ELBOW + WRIST) if name == "frustum" else 0.0)
        assert np.linalg.norm(wrist, axis=1) == pytest.approx(thin), name
        ends = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        assert np.all(np.unique(ends, axis=0, return_counts=True)[1] == 2), name
