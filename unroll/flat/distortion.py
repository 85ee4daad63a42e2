"""How far a flat piece is from the curved panel it stands for, and what to do about it."""

from __future__ import annotations

import numpy as np

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.maths.triangles import triangles_of
from unroll.nouns import Distortion, Flattening, Mesh, Panel, PanelSide, Sewn, Trace


def measure_distortion(flattening: Flattening) -> Distortion:
    """Return the stretch of every face and the length of every side, curved to flat.

    Parameters
    ----------
    flattening : Flattening
        Laid with the grain along y.

    Notes
    -----
    All stretches are flat length over curved length. The principal ones are |alpha| + |beta| and
    |alpha| - |beta| of the face's differential (see `unroll.maths.triangles`). Warp and weft
    are those of the threads that run along y and x of the piece, followed back to the panel; the
    shear is the angle that they make on the panel less their right angle on the piece.
    """
    panel = flattening.panel
    triangles = triangles_of(panel.mesh.vertices, panel.mesh.faces)
    x, y = flattening.points.T
    alpha, beta = triangles.differentials(x + 1j * y)
    p, q = np.abs(alpha), np.abs(beta)
    determinant = (p - q) * (p + q)
    across, along = alpha - beta.conj(), alpha + beta.conj()
    turned = across * along.conj()
    return Distortion(
        flattening,
        stretch_max=p + q,
        stretch_min=p - q,
        warp=np.abs(determinant) / np.abs(along),
        weft=np.abs(determinant) / np.abs(across),
        shear_rad=np.arctan2(turned.imag, turned.real),
        area_ratio=determinant,
        weights=triangles.areas / np.sum(triangles.areas),
        seam_lengths_mm=_side_lengths(panel, flattening.points),
    )


def sewn_distortion(sewn: Sewn, piece: str) -> Distortion:
    """Return what the cloth of one piece does once it is sewn and filled.

    Parameters
    ----------
    sewn : Sewn
    piece : str
        One of its pieces; flat it lies as on the piece, curved as on the filled shape.

    Notes
    -----
    A corrected piece is not laid flat from the arm that it makes: seams moved, and the cloth finds
    its own place between them. What the threads must give is therefore read on the filled shape.
    The panel has no sides; its traces are the piece's reference lines. A vertex on a closed dart is
    doubled, as on the piece.
    """
    faces = sewn.faces_of(piece)
    corners, flat = sewn.mesh.faces[faces].ravel(), sewn.rest[faces].reshape(-1, 2)
    keys = np.column_stack([corners, np.round(flat, 6)])
    _, first, renumbered = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    mesh = Mesh(sewn.mesh.vertices[corners[first]], renumbered.reshape(-1, 3))
    place = np.full(len(sewn.mesh.faces), -1)
    place[faces] = np.arange(len(faces))
    traces = {
        name: Trace(place[trace.faces], trace.weights)
        for name, found in sewn.lines.items() for trace in found
        if (place[trace.faces] >= 0).all()
    }  # fmt: skip
    panel = Panel(piece, mesh, corners[first], (), traces)
    return measure_distortion(Flattening(panel, flat[first], "sewn", sewn.steps, 0.0))


def _side_lengths(panel: Panel, points: FloatArray) -> dict[str, tuple[float, float]]:
    """Return curved and flat length by seam; sides of one name add up, but for dart legs."""
    out: dict[str, tuple[float, float]] = {}
    for side, name in zip(panel.sides, _side_names(panel.sides), strict=True):
        curved = polylines.length(panel.mesh.vertices[side.path])
        flat = polylines.length(points[side.path])
        before = out.get(name, (0.0, 0.0))
        out[name] = (before[0] + float(curved), before[1] + float(flat))
    return out


def _side_names(sides: tuple[PanelSide, ...]) -> list[str]:
    """Return each side's name, dart legs told apart by which lies nearer the front seam."""
    names: list[str] = []
    for k, side in enumerate(sides):
        if not side.seam.startswith("dart "):
            names.append(side.seam)
            continue
        onward = [sides[(k + step) % len(sides)].seam for step in range(1, len(sides))]
        ahead = next((seam for seam in onward if seam in ("front seam", "back seam")), "front seam")
        is_first = onward[0] == side.seam
        is_front = is_first != (ahead == "front seam")
        names.append(f"{side.seam} {'front' if is_front else 'back'} leg")
    return names


def percentiles_by_area(
    values: FloatArray, weights: FloatArray, q: float | list[float] | FloatArray
) -> FloatArray:
    """Return the values below which a share of the area lies.

    Parameters
    ----------
    values, weights : (m,) float
        One value a face, and its share of the area.
    q : float or sequence of float
        Percent, 0 to 100.

    Notes
    -----
    At a dart's point the largest stretch grows without end as the mesh gets finer, while a
    percentile by area settles.

    Examples
    --------
    >>> percentiles_by_area(np.array([3.0, 1.0, 2.0]), np.array([0.5, 0.25, 0.25]), [25, 50, 51])
    array([1., 2., 3.])
    """
    order = np.argsort(values)
    below = np.cumsum(weights[order])
    wanted = np.asarray(q, dtype=float) / 100 * below[-1]
    at = np.searchsorted(below, wanted * (1 - 1e-12))
    out: FloatArray = values[order][np.minimum(at, len(values) - 1)]
    return out


def thread_give_percent(distortion: Distortion) -> FloatArray:
    """Return how much each face asks its threads to give, the worse of warp and weft, (m,)."""
    warp, weft = np.abs(np.log(distortion.warp)), np.abs(np.log(distortion.weft))
    out: FloatArray = 100 * np.expm1(np.maximum(warp, weft))
    return out


def advise(
    distortion: Distortion,
    *,
    gives_percent: float = 3.0,
    has_darts: bool = False,
    undarted: Distortion | None = None,
    cloth: str = "plain cotton",
    source: str = "common practice, no source",
) -> str:
    """Return one plain sentence on what the piece asks of the cloth.

    Parameters
    ----------
    distortion : Distortion
    gives_percent : float
        How much the cloth gives in its own plane before it puckers.
    has_darts : bool
        Whether the piece has darts.
    undarted : Distortion, optional
        The same panel without darts.
    cloth, source : str
        What the cloth is called, and where its `gives_percent` comes from.

    Notes
    -----
    The number is the 99th percentile by area of the worse of warp and weft stretch.
    """
    give = thread_give_percent(distortion)
    asked = float(percentiles_by_area(give, distortion.weights, 99))
    piece = f"The {distortion.flattening.panel.name} arm"
    direction = _direction(distortion)
    gain = ""
    if undarted is not None:
        before = thread_give_percent(undarted)
        value = float(percentiles_by_area(before, undarted.weights, 99))
        gain = f" (without darts it would be {value:.1f} %)"
    if asked <= gives_percent:
        verdict = "sew it as it is"
    elif distortion.flattening.panel.name != "outer":
        verdict = "ease and steam it in as you sew"  # darts there would show inside the arm
    elif has_darts:
        verdict = "make the darts longer or add one, or shrink the fullness with steam"
    else:
        verdict = "use darts"
    return (
        f"{piece} asks the cloth to give {asked:.1f} % {direction}{gain}; "
        f"{cloth} gives about {gives_percent:g} % ({source}): {verdict}."
    )


def _direction(distortion: Distortion) -> str:
    """Say along which thread and where the worst hundredth of the area lies."""
    give = thread_give_percent(distortion)
    worst = give >= percentiles_by_area(give, distortion.weights, 99)
    warp = np.abs(np.log(distortion.warp[worst])).mean()
    weft = np.abs(np.log(distortion.weft[worst])).mean()
    thread = "along the grain" if warp > weft else "across the grain"
    flattening = distortion.flattening
    faces = flattening.panel.mesh.faces
    height = flattening.points[faces[worst], 1].mean(axis=1)
    middle = float(np.average(height, weights=distortion.weights[worst]))
    return f"{thread} {_region(flattening, middle)}"


def _region(flattening: Flattening, height: float) -> str:
    """Say which part of the arm lies at a height of the piece."""
    panel = flattening.panel
    level = {
        name: float(trace.on(flattening.points, panel.mesh.faces)[:, 1].mean())
        for name, trace in panel.traces.items()
    }
    if height > level.get("underarm line", np.inf):
        return "in the cap"
    if "elbow line" not in level:
        return "where it is worst"
    if abs(height - level["elbow line"]) < 40:
        return "at the elbow"
    return "in the upper arm" if height > level["elbow line"] else "in the forearm"
