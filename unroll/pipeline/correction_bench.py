"""A bench to try corrections on: lay the changed arm flat, sew it, fill it, see what it misses."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from unroll.correcting import Ruler, check_unfolded, cost, deform, missed, ruler_of
from unroll.cutting import cut
from unroll.drafting import armhole_base, wrist_base
from unroll.flattening import flatten
from unroll.geometry.flat_lookup import locate
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
    Mesh,
    Panel,
    Piece,
    mirrored,
)
from unroll.types.corrected import Correction, Intake, Miss, Round
from unroll.types.sewn import Sewn, StandOff

GIRTH_STATIONS = {"upper_arm": 1, "elbow": 3, "forearm": 5}  # among a correction's girths


@dataclass(frozen=True, eq=False)
class Tried:
    """A correction that was flattened and filled.

    Attributes
    ----------
    correction : Correction
    miss : Miss
    flattenings : tuple of Flattening
    filled : (n, 3) float
        Where each vertex of the bench's arm came to lie, mm.
    sewn : Sewn or None
        The sewn pieces, where they were sewn; the mesh itself was filled otherwise.
    """

    correction: Correction
    miss: Miss
    flattenings: tuple[Flattening, ...]
    filled: FloatArray
    sewn: Sewn | None = None

    @property
    def cost(self) -> float:
        """Sum of squares of the weighed misses."""
        return cost(self.miss)


@dataclass(frozen=True, eq=False)
class Bench:
    """What corrections of one dart layout are tried on.

    Attributes
    ----------
    measures : ArmMeasures
        Of the left arm.
    arm : ArmMesh
        The left arm that is wanted, with round sections and its dart lines.
    panels : tuple of Panel
        Its panels; their lines stay where they are drawn on the cloth, whatever is corrected.
    ruler : Ruler
    make : Make
    cloth : Cloth
    darts : tuple of DartLine
    ease : float
        Ease of the cap seam, mm.
    edge : float
    """

    measures: ArmMeasures
    arm: ArmMesh
    panels: tuple[Panel, ...]
    ruler: Ruler
    make: Make
    cloth: Cloth
    darts: tuple[DartLine, ...]
    ease: float
    edge: float

    def filled(self, correction: Correction, near: Tried | FloatArray | None = None) -> Tried:
        """Lay the arm flat under a correction and fill its own mesh: fast.

        Raises
        ------
        UnrollError
            When the correction folds the surface, a piece, or its filled shape.
        """
        design, flattenings = self._laid(correction, near)
        start = near.filled if isinstance(near, Tried) else near
        rest = rest_of_flattenings(design, flattenings)
        filled = fill_rest_mesh(self.arm, rest, cloth=self.cloth, start=start).mesh.vertices
        return Tried(correction, missed(self.ruler, filled), flattenings, filled)

    def sewn(self, correction: Correction, near: Tried | None, *, spacing: float) -> Tried:
        """Lay the arm flat under a correction, cut, mesh and sew the pieces: as the maker would.

        Raises
        ------
        UnrollError
            As `filled`, and when the pieces cannot be sewn.
        """
        _, flattenings = self._laid(correction, near)
        pieces = pieces_of(flattenings, self.measures, self.make, source="corrected")
        start = None if near is None else near.sewn
        sewn = sew(pieces, cloth=self.cloth, spacing=spacing, start=start)
        filled = self._followed(flattenings, sewn)
        miss = with_girths(missed(self.ruler, filled), stand_off(sewn, self.arm))
        return Tried(correction, miss, flattenings, filled, sewn)

    def round_of(self, tried: Tried) -> Round:
        """Return a try as a round of the loop."""
        return Round(self.edge, tried.sewn is not None, tried.correction, tried.miss, tried.cost)

    def intakes(self, tried: Tried) -> tuple[Intake, ...]:
        """Return what each dart takes in."""
        outer, out = tried.flattenings[0], []
        for number, dart in enumerate(self.darts, start=1):
            name = f"dart {number}"
            legs = [outer.points[s.path] for s in outer.panel.sides if s.seam == name]
            width = float(np.linalg.norm(legs[0][0] - legs[1][-1]))
            chord = float(np.linalg.norm(legs[0][0] - legs[0][-1]))
            angle = 2.0 * np.degrees(np.arcsin(min(0.5 * width / chord, 1.0)))
            length = path_length(self.arm, name)
            out.append(Intake(name, dart.at, length, width, float(angle)))
        return tuple(out)

    def _laid(
        self, correction: Correction, near: Tried | FloatArray | None
    ) -> tuple[ArmMesh, tuple[Flattening, ...]]:
        design = deform(self.arm, correction, self.ruler.handles)
        check_unfolded(self.arm, design)
        known = near.flattenings if isinstance(near, Tried) else (None, None)
        cap_seam = {"cap seam": path_length(self.arm, "cap seam") + self.ease}
        return design, tuple(
            flatten(
                _moved(panel, design),
                energy=self.make.weave,
                lengths=cap_seam if panel.name == "outer" else None,
                start=None if old is None else old.points,
            )
            for panel, old in zip(self.panels, known, strict=True)
        )

    def _followed(self, flattenings: tuple[Flattening, ...], sewn: Sewn) -> FloatArray:
        """Return where each vertex of the arm came to lie on the sewn shape, (n, 3) mm."""
        out = self.arm.mesh.vertices.copy()
        for flattening in flattenings:
            faces = sewn.faces_of(flattening.panel.name)
            at, weights = locate(flattening.points, sewn.rest[faces])
            corners = sewn.mesh.vertices[sewn.mesh.faces[faces[at]]]
            out[flattening.panel.arm_vertices] = np.einsum("kc,kcx->kx", weights, corners)
        return np.asarray(out)


def bench_of(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    edge: float,
    ease: float | None = None,
) -> Bench:
    """Return a bench for one dart layout at one mesh size.

    Parameters
    ----------
    shape : ArmShape
        Of the left arm, with round sections; see `rounded_shape`.
    ease : float, optional
        Ease of the cap seam, mm; what the cloth takes without puckers when left out.
    """
    arm = mesh_arm(shape, edge=edge, inner_share=make.inner_share, darts=darts)
    ease = usual_ease(cloth, arm) if ease is None else ease
    return Bench(shape.measures, arm, cut(arm), ruler_of(arm), make, cloth, darts, ease, edge)


def rounded_shape(measures: ArmMeasures) -> ArmShape:
    """Return the left arm of the same measures with round sections, as filling makes them."""
    return shape_arm(
        replace(measures, side="left", upper_arm_ratio=1.0, elbow_ratio=1.0, forearm_ratio=1.0)
    )


def usual_ease(cloth: Cloth, arm: ArmMesh) -> float:
    """Return what the cloth eases into the cap seam without puckers, mm."""
    low, high = cloth.eases_percent
    return 0.005 * (low + high) * path_length(arm, "cap seam")


def path_length(arm: ArmMesh, name: str) -> float:
    """Return the length of one of the arm's lines, mm."""
    line = arm.mesh.vertices[arm.paths[name]]
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def carried(old: FloatArray, filled: FloatArray, new: FloatArray) -> FloatArray:
    """Return places for the vertices of another mesh of the same arm, from a filled shape."""
    distance, index = cKDTree(old).query(new, k=4)
    weights = 1.0 / (distance + 1e-6)
    weights /= weights.sum(axis=1, keepdims=True)
    return np.asarray(new + np.einsum("nk,nkx->nx", weights, (filled - old)[index]))


def pieces_of(
    flattenings: tuple[Flattening, ...], measures: ArmMeasures, make: Make, *, source: str
) -> tuple[Piece, ...]:
    """Return outer, inner, armhole base and wrist base, on the measures' side."""
    flat = [outline(f, arm="left", source=source) for f in flattenings]
    if measures.side == "right":
        flat = [mirrored(piece, "right") for piece in flat]
    bases = armhole_base(measures), wrist_base(measures, make.inner_share)
    return (*flat, *(replace(base, source=source) for base in bases))


def with_girths(miss: Miss, off: StandOff) -> Miss:
    """Return a miss whose girths agree with what a tape finds on the sewn shape.

    A line that is carried over from one mesh to another runs along chords, a little inside: by the
    same share all down the arm.
    """
    taped = {girth.name: 0.01 * girth.off_percent for girth in off.girths}
    inside = [
        taped[name] - miss.girths[index] for name, index in GIRTH_STATIONS.items() if name in taped
    ]
    return replace(miss, girths=miss.girths + float(np.mean(inside)))


def best_of(tries: list[Tried]) -> Tried:
    """Return the try that misses least."""
    return min(tries, key=lambda tried: tried.cost)


def progress(miss: Miss) -> str:
    """Return how near a try comes, in a few words."""
    return (
        f"girths within {miss.worst_girth_percent:.1f} %, hang within {miss.swing_deg:.1f}°, "
        f"wrist within {miss.wrist_mm:.0f} mm, shoulder within {miss.cap_mean:.1f} mm"
    )


def _moved(panel: Panel, design: ArmMesh) -> Panel:
    return replace(panel, mesh=Mesh(design.mesh.vertices[panel.arm_vertices], panel.mesh.faces))
