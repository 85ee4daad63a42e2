"""Close the loop: correct the pieces until the arm that is sewn from them is the arm measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from unroll.correcting import (
    Ruler,
    Slopes,
    cost,
    deform,
    halfway,
    improved,
    learnt,
    missed,
    probes,
    ruler_of,
    slopes,
)
from unroll.cutting import cut
from unroll.drafting import armhole_base, wrist_base
from unroll.errors import UnrollError
from unroll.flattening import flatten
from unroll.lofting import ArmShape, mesh_arm, shape_arm
from unroll.outlining import outline
from unroll.sewing import fill_rest_mesh, rest_of_flattenings, sew
from unroll.standing_off import stand_off
from unroll.types import (
    ArmMeasures,
    ArmMesh,
    Cloth,
    DartLine,
    Flattening,
    FloatArray,
    Make,
    Piece,
    mirrored,
)
from unroll.types.corrected import Closing, Correction, Intake, Miss, Round
from unroll.types.sewn import Sewn

Tell = Callable[[str], None]
COARSE_EDGE_MM = 12.0
COARSE_ROUNDS, FINE_ROUNDS = 5, 3
WORTH_IT = 0.97  # a round that leaves more than this share of the cost is the last


def silent(_message: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Tried:
    """A correction that was flattened and filled.

    Attributes
    ----------
    correction : Correction
    miss : Miss
    flattenings : tuple of Flattening
    filled : (n, 3) float
    """

    correction: Correction
    miss: Miss
    flattenings: tuple[Flattening, ...]
    filled: FloatArray


@dataclass(frozen=True, eq=False)
class Bench:
    """What corrections of one layout are tried on.

    Attributes
    ----------
    arm : ArmMesh
        The left arm that is wanted, with round sections and its dart lines.
    ruler : Ruler
    make : Make
    cloth : Cloth
    cap_seam : float
        Length of the cap seam, armhole and ease, mm.
    edge : float
    """

    arm: ArmMesh
    ruler: Ruler
    make: Make
    cloth: Cloth
    cap_seam: float
    edge: float

    def attempt(self, correction: Correction, near: Tried | FloatArray | None = None) -> Tried:
        """Flatten and fill the arm under a correction.

        Raises
        ------
        UnrollError
            When the correction folds the surface, a piece, or its filled shape.
        """
        design = deform(self.arm, correction, self.ruler.handles)
        _check_unfolded(self.arm, design)
        known = near.flattenings if isinstance(near, Tried) else (None, None)
        flattenings = tuple(
            self._laid(panel, None if old is None else old.points)
            for panel, old in zip(cut(design), known, strict=True)
        )
        start = near.filled if isinstance(near, Tried) else near
        rest = rest_of_flattenings(design, flattenings)
        sewn = fill_rest_mesh(self.arm, rest, cloth=self.cloth, start=start)
        filled = sewn.mesh.vertices
        return Tried(correction, missed(self.ruler, filled), flattenings, filled)

    def _laid(self, panel, start):  # type: ignore[no-untyped-def]
        lengths = {"cap seam": self.cap_seam} if panel.name == "outer" else None
        return flatten(panel, energy=self.make.weave, lengths=lengths, start=start)


def close_loop(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    edge: float = 8.0,
    spacing: float = 8.0,
    ease: float | None = None,
    tell: Tell | None = None,
) -> Closing:
    """Return corrected pieces, and what they were and are once sewn and filled."""
    tell = tell or silent
    rounded = rounded_shape(shape.measures)
    bench = bench_of(rounded, make, cloth, darts, edge=max(edge, COARSE_EDGE_MM), ease=ease)
    tell("laying flat, sewing and filling")
    tries, known = _correct_coarse(bench, tell)
    rounds = [Round(bench.edge, t.correction, t.miss, cost(t.miss)) for t in tries]
    if edge < bench.edge:
        fine = bench_of(rounded, make, cloth, darts, edge=edge, ease=ease)
        more = _correct_fine(fine, _best(tries), bench, known, tell)
        rounds += [Round(fine.edge, t.correction, t.miss, cost(t.miss)) for t in more]
        bench, tries = fine, more
    best = _best(tries)
    return _closing(shape, rounded, bench, best, rounds, darts, spacing)


def rounded_shape(measures: ArmMeasures) -> ArmShape:
    """Return the left arm of the same measures with round sections, as filling makes them."""
    return shape_arm(
        replace(measures, side="left", upper_arm_ratio=1.0, elbow_ratio=1.0, forearm_ratio=1.0)
    )


def usual_ease(cloth: Cloth, arm: ArmMesh) -> float:
    """Return what the cloth eases into the cap seam without puckers, mm."""
    low, high = cloth.eases_percent
    return 0.005 * (low + high) * _path_length(arm, "cap seam")


def bench_of(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    edge: float,
    ease: float | None = None,
) -> Bench:
    """Return a bench for one layout at one mesh size."""
    arm = mesh_arm(shape, edge=edge, inner_share=make.inner_share, darts=darts)
    ease = usual_ease(cloth, arm) if ease is None else ease
    return Bench(arm, ruler_of(arm), make, cloth, _path_length(arm, "cap seam") + ease, edge)


def _correct_coarse(bench: Bench, tell: Tell) -> tuple[list[Tried], Slopes]:
    """Return the tries on the coarse mesh, and the slopes they taught."""
    first = bench.attempt(Correction())
    tell("seeing what each change does")
    probed = tuple(bench.attempt(c, first).miss for c in probes(first.correction))
    tries, known = [first], slopes(first.miss, probed)
    return _descend(bench, tries, known, COARSE_ROUNDS, tell)


def _correct_fine(
    bench: Bench, best: Tried, coarse: Bench, known: Slopes, tell: Tell
) -> list[Tried]:
    start = carried(coarse.arm.mesh.vertices, best.filled, bench.arm.mesh.vertices)
    first = bench.attempt(best.correction, start)
    return _descend(bench, [first], known, FINE_ROUNDS, tell)[0]


def _descend(
    bench: Bench, tries: list[Tried], known: Slopes, rounds: int, tell: Tell
) -> tuple[list[Tried], Slopes]:
    """Step from the best try while it helps; steps that fold or do not help are halved."""
    for _ in range(rounds):
        here = _best(tries)
        wanted = improved(here.correction, here.miss, known)
        for _ in range(3):
            try:
                tried = bench.attempt(wanted, here)
            except UnrollError:
                wanted = halfway(here.correction, wanted)
                continue
            tries.append(tried)
            known = learnt(known, (here.correction, here.miss), (tried.correction, tried.miss))
            if cost(tried.miss) < cost(here.miss):
                break
            wanted = halfway(here.correction, wanted)
        best = _best(tries)
        tell(_progress(best.miss))
        if cost(best.miss) > WORTH_IT * cost(here.miss):
            break
    return tries, known


def _progress(miss: Miss) -> str:
    return (
        f"girths within {miss.worst_girth_percent:.1f} %, hang within {miss.swing_deg:.1f}°, "
        f"wrist within {miss.wrist_mm:.0f} mm, shoulder within {miss.cap_mean:.1f} mm"
    )


def _best(tries: list[Tried]) -> Tried:
    return min(tries, key=lambda tried: cost(tried.miss))


def carried(old: FloatArray, filled: FloatArray, new: FloatArray) -> FloatArray:
    """Return places for the vertices of another mesh of the same arm, from a filled shape."""
    distance, index = cKDTree(old).query(new, k=4)
    weights = 1.0 / (distance + 1e-6)
    weights /= weights.sum(axis=1, keepdims=True)
    return np.asarray(new + np.einsum("nk,nkx->nx", weights, (filled - old)[index]))


def _check_unfolded(arm: ArmMesh, design: ArmMesh) -> None:
    """Refuse a correction that turns triangles over."""
    def normals(mesh: ArmMesh) -> FloatArray:
        a, b, c = (mesh.mesh.vertices[mesh.mesh.faces[:, k]] for k in range(3))
        return np.asarray(np.cross(b - a, c - a))

    turned = int(np.count_nonzero(np.sum(normals(arm) * normals(design), axis=1) <= 0.0))
    if turned:
        raise UnrollError(
            f"the correction turns {turned} triangles over; expected none (a step too far?)"
        )


def pieces_of(
    tried: Tried, measures: ArmMeasures, make: Make, *, source: str
) -> tuple[Piece, ...]:
    """Return outer, inner, armhole base and wrist base of a try, on the arm's own side."""
    flat = [outline(f, arm="left", source=source) for f in tried.flattenings]
    if measures.side == "right":
        flat = [mirrored(piece, "right") for piece in flat]
    bases = armhole_base(measures), wrist_base(measures, make.inner_share)
    return (*flat, *(replace(base, source=source) for base in bases))


def intakes_of(tried: Tried, arm: ArmMesh, darts: tuple[DartLine, ...]) -> tuple[Intake, ...]:
    """Return what each dart takes in."""
    outer = tried.flattenings[0]
    out = []
    for number, dart in enumerate(darts, start=1):
        name = f"dart {number}"
        legs = [outer.points[s.path] for s in outer.panel.sides if s.seam == name]
        width = float(np.linalg.norm(legs[0][0] - legs[1][-1]))
        chord = float(np.linalg.norm(legs[0][0] - legs[0][-1]))
        angle = 2.0 * np.degrees(np.arcsin(min(0.5 * width / chord, 1.0)))
        out.append(Intake(name, dart.at, _path_length(arm, name), width, float(angle)))
    return tuple(out)


def _path_length(arm: ArmMesh, name: str) -> float:
    line = arm.mesh.vertices[arm.paths[name]]
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def _closing(
    shape: ArmShape, rounded: ArmShape, bench: Bench, best: Tried, rounds: list[Round],
    darts: tuple[DartLine, ...], spacing: float,
) -> Closing:
    measures = shape.measures
    plain = bench.attempt(Correction())
    before = pieces_of(plain, measures, bench.make, source="unrolled")
    after = pieces_of(best, measures, bench.make, source="corrected")
    sewn_before = sew(before, cloth=bench.cloth, spacing=spacing)
    sewn_after = sew(after, cloth=bench.cloth, spacing=spacing, start=sewn_before)
    side = replace(rounded, measures=replace(rounded.measures, side=measures.side))
    round_arm = mesh_arm(side, edge=bench.edge, inner_share=bench.make.inner_share)
    oval_arm = mesh_arm(shape, edge=bench.edge, inner_share=bench.make.inner_share)
    apart = stand_off(_as_sewn(round_arm, bench.cloth), oval_arm)
    return Closing(
        pieces=after, uncorrected=before, correction=best.correction, rounds=tuple(rounds),
        darts=darts, ease=bench.cap_seam - _path_length(bench.arm, "cap seam"),
        intakes=intakes_of(best, bench.arm, darts), wanted=oval_arm, rounded=round_arm,
        sewn_before=sewn_before, sewn_after=sewn_after,
        before=stand_off(sewn_before, round_arm), after=stand_off(sewn_after, round_arm),
        after_oval=stand_off(sewn_after, oval_arm),
        round_mean=apart.cap_mean, round_p95=apart.cap_p95,
    )


def _as_sewn(arm: ArmMesh, cloth: Cloth) -> Sewn:
    """Return an arm as it would be if filled cloth could be it: nothing flattened."""
    return fill_rest_mesh(arm, cloth=cloth)
