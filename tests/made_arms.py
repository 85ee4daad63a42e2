"""A simple arm built by hand, so that what shows results can be tested apart from what makes them.

A bulged elliptic tube hanging from a level plate: not what the loft gives, but of the same kind.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.samples import sample_measures
from unroll.nouns import (
    ArmMesh,
    ArmResult,
    Case,
    Certainty,
    Cloth,
    Correction,
    DartLine,
    Distortion,
    Estimate,
    Fit,
    Flattening,
    Intake,
    Laid,
    LayoutTrial,
    Make,
    MakeResult,
    Mesh,
    Notch,
    Notice,
    Panel,
    PanelSide,
    Piece,
    PieceSide,
    SeamRow,
    Sewn,
    SewnGirth,
    Sheet,
    Station,
    TapeRow,
    Trace,
    verdicts_of,
)
from unroll.nouns.corrected import DraftChange, DraftCorrection, Miss, PaperChange, Round

AROUND, OUTER = 48, 32
FLIP = np.array([1.0, -1.0, 1.0])


def made_arm(side: str = "left", rings: int = 40, dart_rings: int = 8) -> ArmMesh:
    """A closed tube 560 mm long with a front seam at column 0 and a back seam at column 32."""
    vertices, faces = _tube(rings)
    count = 2 * rings * AROUND
    is_outer = np.tile(np.repeat(np.arange(AROUND) < OUTER, 2), rings)
    side_faces = np.arange(count)
    groups = {
        "outer": side_faces[is_outer],
        "inner": side_faces[~is_outer],
        "armhole plate": np.arange(count, count + AROUND),
        "wrist plate": np.arange(count + AROUND, count + 2 * AROUND),
    }
    column = np.arange(rings + 1) * AROUND
    around_inner = np.concatenate([[0], np.arange(AROUND - 1, OUTER - 1, -1)])
    paths = {
        "front seam": column,
        "back seam": column + OUTER,
        "cap seam": np.arange(OUTER + 1),
        "underarm seam": around_inner,
        "outer wrist": rings * AROUND + np.arange(OUTER + 1),
        "inner wrist": rings * AROUND + around_inner,
    }
    if dart_rings:
        paths["dart 1"] = column[: dart_rings + 1] + OUTER // 2
    if side == "right":
        vertices, faces = vertices * FLIP, faces[:, ::-1]
    up = np.array([0.0, 0.0, 1.0])
    stations = {"elbow": Station("elbow", np.array([0.0, 40.0, -280.0]), up, 240.0)}
    return ArmMesh(side, Mesh(vertices, faces), groups, paths, stations, {"shoulder": np.zeros(3)})


def _tube(rings: int) -> tuple[np.ndarray, np.ndarray]:
    angle = np.radians(-30.0) + np.arange(AROUND) * 2 * np.pi / AROUND
    t = np.linspace(0, 1, rings + 1)[:, None]
    radius = 48.0 - 22.0 * t + 7.0 * np.sin(3 * np.pi * t) * (1 - t)
    x, y = 1.1 * radius * np.cos(angle), radius * (1 + np.sin(angle)) * 0.95
    z = np.broadcast_to(-560.0 * t, x.shape)
    ring = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    centres = np.stack([ring[:AROUND].mean(axis=0), ring[-AROUND:].mean(axis=0)])
    i, j = np.divmod(np.arange(rings * AROUND), AROUND)
    k = (j + 1) % AROUND
    a, b, c, d = i * AROUND + j, (i + 1) * AROUND + j, (i + 1) * AROUND + k, i * AROUND + k
    body = np.stack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)], axis=1).reshape(-1, 3)
    j = np.arange(AROUND)
    k, last, top = (j + 1) % AROUND, rings * AROUND, len(ring)
    upper = np.stack([np.full(AROUND, top), j, k], axis=1)
    lower = np.stack([np.full(AROUND, top + 1), last + k, last + j], axis=1)
    return np.concatenate([ring, centres]), np.concatenate([body, upper, lower])


def made_panel(arm: ArmMesh, name: str) -> Panel:
    """The outer or inner part as a grid of its own; a dart doubles the vertices along its slit."""
    rings = len(arm.paths["front seam"]) - 1
    columns = np.arange(OUTER + 1) if name == "outer" else np.r_[OUTER:AROUND, 0]
    width = len(columns)
    arm_vertices = (np.arange(rings + 1)[:, None] * AROUND + columns).ravel()
    faces = _grid_faces(rings, width)
    slit = arm.paths.get("dart 1", np.zeros(0, int)) if name == "outer" else np.zeros(0, int)
    depth = len(slit) - 1
    middle = width // 2
    if depth > 0:
        # Faces right of the slit get copies of its vertices, the dart point excepted.
        old = np.arange(depth) * width + middle
        new = len(arm_vertices) + np.arange(depth)
        swap = np.arange(len(arm_vertices) + depth)
        swap[old] = new
        is_right = (faces % width).min(axis=1) >= middle
        faces = np.where(is_right[:, None], swap[faces], faces)
        arm_vertices = np.concatenate([arm_vertices, arm_vertices[old]])
    sides = _sides(name, rings, width, depth, middle)
    if arm.side == "right":
        faces = faces[:, ::-1]
        sides = tuple(PanelSide(s.seam, s.path[::-1]) for s in reversed(sides))
    traces = {
        "grain": _trace(faces, width, [(i, middle // 2) for i in range(rings)]),
        "elbow line": _trace(faces, width, [(rings // 2, j) for j in range(width - 1)]),
    }
    return Panel(name, Mesh(arm.mesh.vertices[arm_vertices], faces), arm_vertices, sides, traces)


def _grid_faces(rings: int, width: int) -> np.ndarray:
    i, j = np.divmod(np.arange(rings * (width - 1)), width - 1)
    a = i * width + j
    b, c, d = a + width, a + width + 1, a + 1
    return np.stack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)], axis=1).reshape(-1, 3)


def _trace(faces: np.ndarray, width: int, cells: list[tuple[int, int]]) -> Trace:
    index = np.array([2 * (i * (width - 1) + j) for i, j in cells])
    weights = np.tile([1.0, 0.0, 0.0], (len(index), 1))
    return Trace(index, weights if faces[0, 0] == 0 else weights[:, ::-1])


def _sides(name: str, rings: int, width: int, depth: int, middle: int) -> tuple[PanelSide, ...]:
    column = np.arange(rings + 1) * width
    bottom = rings * width + np.arange(width)
    first, last = ("front seam", "back seam") if name == "outer" else ("back seam", "front seam")
    lower = (
        PanelSide(first, column),
        PanelSide(f"{name} wrist", bottom),
        PanelSide(last, column[::-1] + width - 1),
    )
    top = np.arange(width)
    if depth <= 0:
        return (PanelSide("cap seam" if name == "outer" else "underarm seam", top[::-1]), *lower)
    copies = (rings + 1) * width + np.arange(depth)
    point = depth * width + middle
    return (
        PanelSide("cap seam", np.r_[top[:middle:-1], copies[0]]),
        PanelSide("dart 1", np.r_[copies, point]),
        PanelSide("dart 1", np.r_[point, column[:depth][::-1] + middle]),
        PanelSide("cap seam", top[middle::-1]),
        *lower,
    )


def made_distortion(panel: Panel, opening: float = 9.0) -> Distortion:
    """Lay a panel flat row by row (not well: it has stretch to show); a dart opens as a wedge."""
    flat = _row_by_row(panel, opening)
    frames = _face_frames(panel.mesh.vertices[panel.mesh.faces])
    corners = flat[panel.mesh.faces]
    edges = np.stack([corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]], axis=2)
    jacobian = edges @ np.linalg.inv(frames)
    stretch = np.linalg.svd(jacobian, compute_uv=False)
    areas = 0.5 * np.linalg.det(frames)
    lengths = {
        s.seam: (_length(panel.mesh.vertices[s.path]), _length(flat[s.path]))
        for s in panel.sides
        if not s.seam.startswith("dart")
    }
    return Distortion(
        Flattening(panel, flat, "woven", 12, 1e-9),
        stretch[:, 0],
        stretch[:, 1],
        np.linalg.norm(jacobian[:, 1], axis=1),
        np.linalg.norm(jacobian[:, 0], axis=1),
        np.einsum("ij,ij->i", jacobian[:, 0], jacobian[:, 1]),
        np.linalg.det(jacobian),
        areas / areas.sum(),
        lengths,
    )


def _row_by_row(panel: Panel, opening: float) -> np.ndarray:
    rings = int(panel.arm_vertices.max()) // AROUND
    row, column = np.divmod(panel.arm_vertices, AROUND)
    start = 0 if panel.name == "outer" else OUTER
    across = (column - start) % AROUND
    width = (OUTER if panel.name == "outer" else AROUND - OUTER) + 1
    grid = panel.mesh.vertices[: (rings + 1) * width].reshape(rings + 1, width, 3)
    steps = np.linalg.norm(np.diff(grid, axis=1), axis=2)
    x = np.concatenate([np.zeros((rings + 1, 1)), np.cumsum(steps, axis=1)], axis=1)
    x -= x[:, [-1]] / 2
    down = np.linalg.norm(np.diff(grid[:, width // 2], axis=0), axis=1)
    y = -np.concatenate([[0.0], np.cumsum(down)])
    flat = np.stack([x[row, across], y[row]], axis=1)
    depth = len(flat) - (rings + 1) * width
    if depth:
        sideways = np.sign(across - width // 2) * opening * np.clip(1 - row / depth, 0, None)
        sideways[(across == width // 2) & (row < depth)] *= 0
        slit = (across == width // 2) & (row < depth)
        is_copy = np.arange(len(flat)) >= (rings + 1) * width
        sideways[slit] = (np.where(is_copy, 1, -1) * opening * (1 - row / depth))[slit]
        flat[:, 0] += sideways
    return flat * np.array([1.0 if panel.mesh.vertices[:, 1].mean() > 0 else -1.0, 1.0])


def _face_frames(corners: np.ndarray) -> np.ndarray:
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    u = e1 / np.linalg.norm(e1, axis=1, keepdims=True)
    normal = np.cross(e1, e2)
    v = np.cross(normal / np.linalg.norm(normal, axis=1, keepdims=True), u)
    rows = [[(e * axis).sum(axis=1) for e in (e1, e2)] for axis in (u, v)]
    return np.moveaxis(np.array(rows), 2, 0)


def _length(points: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def made_piece(distortion: Distortion, arm: str) -> Piece:
    """The flat piece of a panel, with a notch on its second side."""
    panel, points = distortion.flattening.panel, distortion.flattening.points
    sides = tuple(PieceSide(s.seam, points[s.path]) for s in panel.sides)
    lines = {name: trace.on(points, panel.mesh.faces) for name, trace in panel.traces.items()}
    notches = (Notch("elbow", len(sides) - 1, 200.0, 2), Notch("shoulder", 0, 20.0, 1))
    return Piece(panel.name, "unrolled", arm, sides, lines, notches)


def made_arm_result(side: str = "left", rings: int = 40) -> ArmResult:
    """Everything that was made for one arm, nothing sewn, nothing corrected."""
    arm = made_arm(side, rings)
    distortions = {name: made_distortion(made_panel(arm, name)) for name in ("outer", "inner")}
    undarted = made_distortion(made_panel(made_arm(side, rings, 0), "outer"))
    pieces = tuple(made_piece(d, side) for d in distortions.values())
    measures = sample_measures(
        side=side, estimated=(Estimate("forearm_girth", 243.0, "from wrist_girth and elbow_girth"),)
    )
    tape = (
        TapeRow("upper_arm_girth", 286.0, 286.02),
        TapeRow("forearm_girth", 243.0, 242.96),
        TapeRow("cap_arc 1", 232.0, 228.4, "comes to 1/8 in less than measured"),
    )
    seams = (
        SeamRow("front seam", "unrolled", (561.2, 561.2), 0.0, "walks"),
        SeamRow("cap seam", "unrolled", (224.1, 211.0), 6.21, "ease it in over the top"),
    )
    return ArmResult(
        measures=measures, arm=arm, wanted=arm, tape=tape, source="unrolled",
        distortions=distortions, intakes=(Intake("dart 1", 0.0, 112.0, 18.0, 9.2),), ease=8.0,
        layouts=made_layouts(), undarted=undarted, pieces={"unrolled": pieces}, seams=seams,
    )  # fmt: skip


def made_layouts() -> tuple[LayoutTrial, ...]:
    """Two layouts: one dart, which is taken, and two, which are too wide."""
    one, two = DartLine(0.0, 112.0), (DartLine(30.0, 120.0), DartLine(-30.0, 120.0))
    intakes = (
        Intake("dart 1", 30.0, 120.0, 44.0, 21.0), Intake("dart 2", -30.0, 120.0, 46.0, 22.0),
    )  # fmt: skip
    return (
        LayoutTrial("1 dart", (one,), 8.0, (Intake("dart 1", 0.0, 112.0, 18.0, 9.2),), made_miss(),
                    offered=True, chosen=True),
        LayoutTrial("2 darts", two, 6.0, intakes, made_miss(cap_mean=1.9),
                    faults=("dart 1 takes in 1 3/4 in, too much",), offered=True),
    )  # fmt: skip


def made_miss(**changes: object) -> Miss:
    """Every figure within its limit, but for what is changed."""
    values: dict[str, object] = dict(
        girths=np.full(7, 0.0012), outward_rad=0.004, forward_rad=0.003, twist_rad=0.0,
        elbow=np.array([0.0, 0.0, 1.5]), wrist=np.array([0.0, 0.0, 2.0]), cap_mean=1.2,
        cap_p95=3.1,
    )  # fmt: skip
    return Miss(**{**values, **changes})  # type: ignore[arg-type]


def made_sewn(arm: ArmMesh, source: str = "unrolled") -> Sewn:
    """The arm itself as if it were sewn and filled."""
    mesh = arm.mesh
    names = ("outer", "inner", "armhole base", "wrist base")
    groups = ("outer", "inner", "armhole plate", "wrist plate")
    face_pieces = np.zeros(len(mesh.faces), dtype=int)
    for k, group in enumerate(groups):
        face_pieces[arm.panel_faces[group]] = k
    ones = np.ones(len(mesh.faces))
    rest = mesh.vertices[mesh.faces][:, :, :2].copy()  # of the ends, which lie level
    for name in ("outer", "inner"):
        flat = made_distortion(made_panel(arm, name)).flattening
        rest[arm.panel_faces[name]] = flat.points[flat.panel.mesh.faces]
    return Sewn(
        source, arm.side, mesh, rest, names, face_pieces,
        face_pieces >= 2, ones, ones, ones, {}, arm.paths, (), 1e6, 0.1, 0.5, 0, 1e-6, 9, True,
        Cloth(),
    )  # fmt: skip


def made_fit(arm: ArmMesh, source: str = "unrolled", **changes: object) -> Fit:
    """A fit with every figure within its limit, but for what is changed."""
    is_cap = arm.mesh.vertices[:, 2] > -100.0
    bulge = changes.get("bulge_max", 3.0)
    line = np.array([[0.0, 0.0], [40.0, -60.0], [48.0, -100.0]])
    values: dict[str, object] = dict(
        source=source, arm=arm.side, swing_deg=0.31, wrist_mm=2.2, elbow_mm=1.2, outward_deg=0.3,
        forward_deg=0.1, twist_deg=0.0, bulge_max=bulge, bulge_mean=1.0, bulge_below_seam=20.0,
        bulge_forward=0.0, bulge_breadth=30.0, hollow_max=1.0, hollow_mean=0.4, cap_mean=1.2,
        cap_p95=3.1,
        girths=(SewnGirth("upper_arm", 286.0, 286.4), SewnGirth("wrist", 158.0, 157.9)),
        length_asked=560.0, length_sewn=560.4, bend_asked_deg=9.0, bend_sewn_deg=9.2,
        volume_asked=1e6, volume_sewn=1e6,
        faces=np.flatnonzero(is_cap[arm.mesh.faces].all(axis=1)),
        distances=np.where(is_cap, bulge, np.nan), turned=arm.mesh.vertices,
        profile_asked=line, profile_sewn=line + [1.0, 0.0], profile_swung=line + [2.0, 0.0],
    )  # fmt: skip
    return Fit(**{**values, **changes})  # type: ignore[arg-type]


def made_filled(arm: ArmMesh, bulge: float = 3.0) -> tuple[Sewn, Fit]:
    """The arm itself as if it were sewn and filled, standing out by `bulge` above z = -100."""
    return made_sewn(arm), made_fit(arm, bulge_max=bulge)


def corrected_result(side: str = "left", **changes: object) -> ArmResult:
    """The same arm with corrected pieces, sewn and filled, judged; fit figures may be changed."""
    plain = made_arm_result(side, rings=12)
    arm = plain.arm
    corrected = tuple(replace(piece, source="corrected") for piece in plain.pieces["unrolled"])
    pieces = {"corrected": corrected, "unrolled": plain.pieces["unrolled"]}
    fits = {
        "corrected": made_fit(arm, "corrected", **changes),
        "unrolled": made_fit(arm, swing_deg=4.2, wrist_mm=31.0, cap_p95=9.4),
        "drafted-darts": made_fit(arm, "drafted-darts", swing_deg=6.3, wrist_mm=55.0),
    }
    sewn = {source: made_sewn(arm, source) for source in fits}
    flattenings = tuple(d.flattening for d in plain.distortions.values())
    before, after = (
        Laid(source, pieces[source], flattenings, (DartLine(0.0, 112.0),), plain.intakes, 8.0,
             sewn[source], fits[source], arm)
        for source in ("unrolled", "corrected")
    )  # fmt: skip
    on_paper = (
        PaperChange("cap height", 150.0, 153.2), PaperChange("front seam", 561.0, 561.2),
        PaperChange("elbow width", 246.0, 243.0), PaperChange("dart 1 intake", 14.0, 18.0),
    )  # fmt: skip
    rounds = (
        Round(13.0, False, made_miss(cap_mean=2.0), 9.0), Round(11.0, True, made_miss(), 2.0),
        Round(11.0, True, made_miss(cap_mean=1.3), 2.5),
    )  # fmt: skip
    return replace(
        plain, source="corrected", pieces=pieces, fits=fits, sewn=sewn,
        seams=tuple(replace(row, source=source) for source in pieces for row in plain.seams),
        correction=Correction(before, after, rounds, on_paper, 2.1, 4.4),
        certainty=made_certainty(fits["corrected"]),
        verdicts=verdicts_of(fits["corrected"], "longer darts would help"),
    )  # fmt: skip


def made_certainty(fit: Fit) -> Certainty:
    """Cloth, cutting and mesh changed; two cuttings."""
    cases = (
        Case("cloth half as stiff", "stiffness", replace(fit, swing_deg=0.9)),
        Case("cut 0.7 mm astray (1)", "cutting", replace(fit, wrist_mm=7.8)),
        Case("cut 0.7 mm astray (2)", "cutting", replace(fit, wrist_mm=1.5)),
        Case("meshed finer", "mesh", replace(fit, swing_deg=0.35)),
    )
    return Certainty(Case("as assumed", "", fit), cases, 0.7)


def made_redraft(arm: ArmResult) -> DraftCorrection:
    """A hand draft with corrected numbers, which still misses at the shoulder."""
    after = made_fit(arm.arm, "drafted-darts", cap_mean=2.6)
    before = made_fit(arm.arm, "drafted-darts", swing_deg=6.3, wrist_mm=55.0)
    changes = (
        DraftChange("cap_height", 160.0, 166.6), DraftChange("upper_arm_girth", 286.0, 284.0),
        DraftChange("dart 1 intake", 105.0, 105.0), DraftChange("elbow_wedge", 19.0, 17.0),
    )  # fmt: skip
    pieces = arm.pieces["unrolled"]
    sewn = made_sewn(arm.arm, "drafted-darts")
    return DraftCorrection(
        "darts", pieces, changes, before, after, pieces, arm.arm, sewn, sewn, (0.0, 7.0),
        verdicts_of(after), ("tape the cap again",),
    )  # fmt: skip


def result_of(*arms: ArmResult, unit: str = "in") -> MakeResult:
    """A whole answer of given arms."""
    sheet = Sheet(
        tuple(arm.measures for arm in arms),
        Cloth(),
        Make(),
        unit=unit,
        owner="A <maker> & co",
        notices=(
            Notice("elbow_girth", "elbow_girth: three readings spread by 3.4 %; tape it again."),
        ),
    )
    return MakeResult(sheet, arms, "0.1.0")


def made_result(*sides: str, rings: int = 40, unit: str = "in") -> MakeResult:
    """A whole answer for the given arms, laid flat alone."""
    arms = tuple(made_arm_result(side, rings) for side in sides or ("left",))
    return result_of(*arms, unit=unit)
