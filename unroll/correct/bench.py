"""A bench to try changes on: lay the arm flat, change the pieces, sew them, see what they miss."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from unroll.arms.lofting import ArmShape, mesh_arm
from unroll.correct.change_costs import ChangeCost, cost_of_change
from unroll.correct.flat_shapes import (
    FlatShapes,
    flat_shapes,
    kinks,
    openings,
)
from unroll.correct.laying import check_apart, fixed_mouths, laid_flat, path_length, usual_ease
from unroll.correct.least_changes import Reach, SeamSystem, reach_of, seam_system
from unroll.correct.readings import Readings, readings_of
from unroll.correct.rulers import missed, ruler_of
from unroll.drafts.bases import armhole_base, wrist_base
from unroll.flat.cutting import cut, outline
from unroll.flat.flattening import relaid
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.flat_meshing import locate
from unroll.maths.membrane_response import Response, response_of
from unroll.maths.membrane_system import Problem
from unroll.maths.placing import fit_motion
from unroll.nouns import (
    ArmMeasures,
    ArmMesh,
    Cloth,
    DartLine,
    Fit,
    Flattening,
    Make,
    Piece,
    Sewn,
)
from unroll.nouns.corrected import Intake, Miss, Round
from unroll.nouns.fit import shortfall
from unroll.sewn.fitting import fit_of
from unroll.sewn.rest_meshes import fill_rest_mesh_steps, rest_of_flattenings, settled_rest_mesh
from unroll.sewn.sewing import sew

GIRTH_STATIONS = {"upper_arm": 1, "elbow": 3, "forearm": 5}  # among a miss's girths
KINK_PASSES_RAD = np.radians(3.0)  # the cap seam's turn across a closed dart
WRIST_WITHIN_PERCENT = 0.1  # of the wrist's girth; less is not cut for
HELD_WITHIN_MM = 0.05  # by less than that a mouth is as wide as it may be


@dataclass(frozen=True, eq=False)
class Tried:
    """Flat pieces that were filled.

    Attributes
    ----------
    points : (k, 2) float
        Flat points of all panels, mm.
    filled : (n, 3) float
        Where each vertex of the bench's arm came to lie, mm.
    problem : Problem
        Whose solution that is.
    miss : Miss
    """

    points: FloatArray
    filled: FloatArray
    problem: Problem
    miss: Miss


@dataclass(frozen=True, eq=False)
class SewnTry(Tried):
    """Flat pieces that were cut, meshed anew, sewn and filled.

    Attributes
    ----------
    sewn : Sewn
    fit : Fit
    """

    sewn: Sewn
    fit: Fit


@dataclass(frozen=True, eq=False)
class Bench:
    """What changes of one layout's pieces are tried on.

    Attributes
    ----------
    measures : ArmMeasures
        Of the left arm.
    arm : ArmMesh
        The left arm that is wanted, with round sections and its dart lines.
    shapes : FlatShapes
        Its panels laid flat, and what their seams ask.
    cost : ChangeCost
        Of a change of their points.
    readings : Readings
    make : Make
    cloth : Cloth
    darts : tuple of DartLine
    ease : float
        Ease of the cap seam, mm.
    edge : float
    """

    measures: ArmMeasures
    arm: ArmMesh
    shapes: FlatShapes
    cost: ChangeCost
    readings: Readings
    make: Make
    cloth: Cloth
    darts: tuple[DartLine, ...]
    ease: float
    edge: float

    def plain(self, start: FloatArray | None = None) -> Tried:
        """Fill the pieces as they were laid flat."""
        return self.filled(self.shapes.points, start)

    def filled(self, points: FloatArray, start: FloatArray | None = None) -> Tried:
        """Fill the arm's own mesh with its panels' flat points (k, 2): fast.

        Raises
        ------
        UnrollError
            When a piece folds or runs over itself.
        """
        flattenings = self.shapes.laid(points)
        for flattening in flattenings:
            check_apart(flattening)
        filled, problem = settled_rest_mesh(
            self.arm, self._rest(points), cloth=self.cloth, start=start, up=self.arm.up
        )
        return Tried(points, filled, problem, missed(self.readings.ruler, filled))

    def sewn(self, tried: Tried, *, spacing: float) -> SewnTry:
        """Cut the pieces, mesh them anew and sew them: as the maker would.

        Raises
        ------
        UnrollError
            When the pieces cannot be sewn.
        """
        flattenings = self.laid(tried.points)
        pieces = self.pieces(tried.points, source="corrected")
        start = None
        if self.cloth.ends == "card":
            start = self.as_sewn(flattenings, tried.filled)
        sewn = sew(pieces, cloth=self.cloth, spacing=spacing, start=start, up=self.arm.up)
        filled, fit = self._followed(flattenings, sewn), fit_of(sewn, self.arm)
        miss = as_taped(missed(self.readings.ruler, filled), fit)
        return SewnTry(tried.points, filled, tried.problem, miss, sewn, fit)

    def as_sewn(self, flattenings: tuple[Flattening, ...], filled: FloatArray) -> Sewn:
        """Return a filled shape of the arm's own mesh, with card-backed ends, as if sewn."""
        rest = rest_of_flattenings(self.arm, flattenings)
        steps = fill_rest_mesh_steps(
            self.arm, rest, cloth=self.cloth, start=filled, up=self.arm.up
        )
        return next(steps)

    def _rest(self, points: FloatArray) -> FloatArray:
        """Return the flat corners of every face, the wrist base as large as its edge asks."""
        rest = rest_of_flattenings(self.arm, self.shapes.laid(points))
        rest[self.arm.panel_faces["wrist plate"]] *= self.wrist_share(points)
        return rest

    def wrist_share(self, points: FloatArray) -> float:
        """Return how large the wrist's edge is cut, over the wrist."""
        return 1.0 if self.cloth.ends == "card" else self.shapes.wrist_share(points)

    def with_wrist_of(self, fit: Fit) -> Bench:
        """Return a bench that cuts the wrist's edge as much wider as a sewn wrist was too narrow.

        Ends of cloth alone round out, and draw the edge in. Within what is let pass, or with card,
        it stays as it is.
        """
        off = next((girth.off_percent for girth in fit.girths if girth.name == "wrist"), 0.0)
        if self.cloth.ends == "card" or abs(off) < WRIST_WITHIN_PERCENT:
            return self
        return replace(self, shapes=self.shapes.with_wrist_wider(1.0 / (1.0 + 0.01 * off)))

    def response(self, tried: Tried) -> Response:
        """Return how the filled shape answers a change of the flat points."""
        is_cloth = np.ones(len(self.arm.mesh.faces), dtype=bool)
        is_cloth[self.arm.panel_faces["armhole plate"]] = False
        is_cloth[self.arm.panel_faces["wrist plate"]] = self.cloth.ends != "card"
        corners = self.shapes.corners[is_cloth]
        return response_of(tried.problem, tried.filled, tried.points, corners)

    def seams(self, points: FloatArray, closed: IntArray | None = None) -> SeamSystem:
        """Return the equations of least change about flat points.

        Parameters
        ----------
        closed : (n,) int, optional
            Rings beside the points of darts that are to be kept closed; see `crossed`.
        """
        return seam_system(self.shapes, self.cost, points, closed)

    def with_mouths_held(self, points: FloatArray) -> Bench:
        """Return a bench that holds each mouth which has grown wider than a dart may be.

        A mouth that is wider as it was laid flat keeps that width: no narrower one was found.
        """
        ends, lengths = [], []
        asked = fixed_mouths(self.make, len(self.darts))
        laid = self.intakes(self.shapes.points)
        for intake, first in zip(self.intakes(points), laid, strict=True):
            most = max(first.width, _widest(intake, self.make))
            if intake.width > most + HELD_WITHIN_MM and intake.name not in asked:
                into, back = self._legs(intake.name)
                ends.append((int(into[0]), int(back[-1])))
                lengths.append(most)
        if not ends:
            return self
        alone = np.concatenate([self.shapes.alone, ends])
        held = np.concatenate([self.shapes.lengths, lengths])
        return replace(self, shapes=replace(self.shapes, alone=alone, lengths=held))

    def with_cap_closer(self, times: float) -> Bench:
        """Return a bench on which so many times less is let pass on the cap."""
        return replace(self, readings=self.readings.with_cap_closer(times))

    def crossed(self, points: FloatArray) -> IntArray:
        """Return the rings beside the points of darts at which the legs of flat points cross."""
        return np.flatnonzero(openings(self.shapes, points) < 0.0)

    def reach(self, tried: Tried, seams: SeamSystem, response: Response) -> Reach:
        """Return what changes of the flat points can do to what is wanted of a try."""
        _, slopes = kinks(self.shapes, seams.points)
        rows = response.followed(self.readings.slopes(tried.filled))
        return reach_of(seams, np.concatenate([rows, slopes / KINK_PASSES_RAD]))

    def wanted(self, tried: Tried, aside: FloatArray | None = None) -> FloatArray:
        """Return what the readings, and then the cap seam across closed darts, are to gain.

        Parameters
        ----------
        aside : (r,) float, optional
            Added to what the readings are to gain.
        """
        out = self.readings.wanted(tried.filled, tried.miss)
        turns, _ = kinks(self.shapes, tried.points)
        return np.concatenate([out if aside is None else out + aside, -turns / KINK_PASSES_RAD])

    def laid(self, points: FloatArray) -> tuple[Flattening, ...]:
        """Return the flattenings with other points, grain upright."""
        return tuple(relaid(f) for f in self.shapes.laid(points))

    def pieces(self, points: FloatArray, *, source: str) -> tuple[Piece, ...]:
        """Return outer, inner, armhole base and wrist base of the left arm."""
        flat = [outline(f, arm="left", source=source) for f in self.laid(points)]
        share, full = self.wrist_share(points), self.measures
        cut_wrist = replace(
            full,
            wrist_girth=share * full.wrist_girth,
            wrist_width=share * full.wrist_width,
            wrist_depth=share * full.wrist_depth,
        )
        bases = armhole_base(full), wrist_base(cut_wrist, self.make.inner_share)
        return (*flat, *(replace(base, source=source) for base in bases))

    def intakes(self, points: FloatArray) -> tuple[Intake, ...]:
        """Return what each dart takes in."""
        outer, out = self.shapes.laid(points)[0], []
        for number, dart in enumerate(self.darts, start=1):
            name = f"dart {number}"
            legs = [outer.points[path] for path in self._legs(name)]
            width = float(np.linalg.norm(legs[0][0] - legs[1][-1]))
            chord = float(np.linalg.norm(legs[0][0] - legs[0][-1]))
            angle = 2.0 * np.degrees(np.arcsin(min(0.5 * width / chord, 1.0)))
            length = path_length(self.arm, name)
            out.append(Intake(name, dart.at, length, width, float(angle), self._is_seam(name)))
        return tuple(out)

    def _legs(self, name: str) -> list[IntArray]:
        """Return a dart's two legs, into its point and back: rows of the outer piece's points."""
        sides = self.shapes.flattenings[0].panel.sides
        return [side.path for side in sides if side.seam == name]

    def _is_seam(self, name: str) -> bool:
        """Tell whether a dart runs on below the cap, as a seam down the outside does."""
        point = self.arm.mesh.vertices[self.arm.paths[name][-1]]
        return bool(point[2] < self.arm.landmarks["underarm"][2])

    def _followed(self, flattenings: tuple[Flattening, ...], sewn: Sewn) -> FloatArray:
        """Return where each vertex of the arm came to lie on the sewn shape, (n, 3) mm."""
        out = self.arm.mesh.vertices.copy()
        for flattening in flattenings:
            faces = sewn.faces_of(flattening.panel.name)
            at, weights = locate(flattening.points, sewn.rest[faces])
            corners = sewn.mesh.vertices[sewn.mesh.faces[faces[at]]]
            out[flattening.panel.arm_vertices] = np.einsum("kc,kcx->kx", weights, corners)
        plate = np.unique(self.arm.mesh.faces[self.arm.panel_faces["wrist plate"]])
        edge = np.union1d(self.arm.paths["outer wrist"], self.arm.paths["inner wrist"])
        wanted = self.arm.mesh.vertices
        turn, shift = fit_motion(wanted[edge], out[edge])
        inside = np.setdiff1d(plate, edge)
        out[inside] = wanted[inside] @ turn.T + shift
        return np.asarray(out)


def _widest(intake: Intake, make: Make) -> float:
    """Return how wide a dart's mouth may be, for what it takes in and for its point, mm."""
    half, most = np.radians([0.5 * intake.point_deg, 0.5 * make.widest_point_deg])
    at_point = intake.width * float(np.sin(most) / max(np.sin(half), 1e-9))
    return at_point if intake.is_seam else min(make.widest_dart, at_point)


def bench_of(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    edge: float,
    ease: float | None = None,
    inner_flat: Flattening | None = None,
) -> Bench:
    """Return a bench for one dart layout at one mesh size.

    Parameters
    ----------
    shape : ArmShape
        Of the left arm, with round sections; see `rounded_shape`.
    ease : float, optional
        Ease of the cap seam, mm; what the cloth takes without puckers when left out.
    inner_flat : Flattening, optional
        The inner panel of the same shape and edge laid flat: no dart changes it.
    """
    arm = mesh_arm(shape, edge=edge, inner_share=make.inner_share, darts=darts)
    ease = usual_ease(cloth, arm) if ease is None else ease
    flattenings, ease = laid_flat(arm, cut(arm), make, ease, inner_flat=inner_flat)
    fixed = list(fixed_mouths(make, len(darts)))
    shapes = flat_shapes(arm, flattenings, fixed_mouths=fixed)
    readings = readings_of(ruler_of(arm))
    return Bench(
        shape.measures,
        arm,
        shapes,
        cost_of_change(shapes),
        readings,
        make,
        cloth,
        darts,
        ease,
        edge,
    )


def round_of(bench: Bench, tried: Tried) -> Round:
    """Return a try as a round of the loop."""
    is_sewn = isinstance(tried, SewnTry)
    seen = tried.fit if isinstance(tried, SewnTry) else tried.miss
    return Round(bench.edge, is_sewn, tried.miss, shortfall(seen))


def as_taped(miss: Miss, fit: Fit) -> Miss:
    """Return a miss whose girths, hang, elbow and wrist are those measured on the sewn shape.

    A line that is carried over from one mesh to another runs along chords, a little inside, and a
    section lies otherwise across a bent elbow; between the stations that are taped, girths are off
    by what is between.
    """
    taped = {girth.name: 0.01 * girth.off_percent for girth in fit.girths}
    at = {index: taped[name] for name, index in GIRTH_STATIONS.items() if name in taped}
    inside = [found - miss.girths[index] for index, found in at.items()]
    outward, forward = np.radians([fit.outward_deg, fit.forward_deg])
    return replace(
        miss,
        girths=miss.girths + np.interp(np.arange(len(miss.girths)), list(at), inside),
        outward_rad=float(outward),
        forward_rad=float(forward),
        elbow=fit.elbow_off,
        wrist=fit.wrist_off,
    )


def with_girths(fit: Fit, miss: Miss) -> Fit:
    """Return a fit with the girths of a miss, which leaves out that chords run inside."""
    girths = tuple(
        replace(one, sewn_mm=one.asked_mm * (1.0 + float(miss.girths[GIRTH_STATIONS[one.name]])))
        if one.name in GIRTH_STATIONS else one
        for one in fit.girths
    )
    return replace(fit, girths=girths)
