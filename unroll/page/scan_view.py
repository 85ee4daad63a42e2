"""A scan as the page shows it: thinned, upright, its landmarks where they are found or given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.triangles import vertex_normals
from unroll.nouns import Mesh, Sheet
from unroll.nouns.scan import LANDMARKS, MM_PER, ScannedArm
from unroll.nouns.shown import Look, Model, ModelLine
from unroll.page.showing import Told, side_name
from unroll.scans.mending import packed, thinned
from unroll.show.colours import OTHER_PIECE, PIECE_COLOURS, rgb_of
from unroll.show.models import packed as packed_model
from unroll.show.scan import upright_of

MOST_SHOWN = 7000  # vertices of what is looked at
ROUND_IT_MM = 40.0  # so much of a body is shown beyond the arm
DECIMALS = {"mm": 1, "cm": 2, "in": 3, "m": 4}  # of a place in the file: a tenth of a millimetre
NAME = "as scanned"
LABELS = {"shoulder": "shoulder point", "underarm": "underarm", "elbow_point": "elbow point",
          "elbow_crease": "elbow crease", "wrist": "wrist"}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Stand:
    """How a scan stands in the view: x forward, y to the wearer's left, z up, mm.

    Attributes
    ----------
    origin : (3,) float
        Of the view, in the file, mm.
    turn : (3, 3) float
        Columns: the view's axes in the file.
    """

    origin: FloatArray
    turn: FloatArray

    def seen(self, points: FloatArray) -> FloatArray:
        """Return points of the file, mm, as they stand in the view."""
        return np.asarray((points - self.origin) @ self.turn)


def stand_of(scan: ScannedArm) -> Stand:
    """Return a scan's stand: a right arm, which is held mirrored, as the right arm that it is."""
    flip = np.array([1.0 if scan.side == "left" else -1.0, 1.0, 1.0])
    out = np.array([1.0, flip[0], 1.0])
    return Stand(scan.in_file(scan.axis[0]), flip[:, None] * upright_of(scan).T * out)


def place_in_file(scan: ScannedArm, at: FloatArray) -> str:
    """Return a point of a scan as the sheet writes it: in the file's own numbers."""
    found = scan.in_file(at) / MM_PER[scan.unit]
    return "; ".join(f"{part:.{DECIMALS[scan.unit]}f}" for part in found)


class ScanView:
    """What is shown of an open sheet's scan; its stand stays while its landmarks are moved."""

    def __init__(self) -> None:
        self._whole: Mesh | None = None
        self._scan: ScannedArm | None = None
        self._stand: Stand | None = None
        self._surface: Any = None
        self._last: Told = {"kind": "scan", "side": "left", "models": []}

    def told(self, sheet: Sheet | None, entries: Mapping[str, str]) -> Told | None:
        """Return what is to be shown now; None where it is what was told last.

        While the sheet has faults, it is the scan as it was found last, with its landmarks where
        the sheet has them.
        """
        if sheet is not None:
            self._scan = sheet.scanned
        told: Told = {**self._last, "models": []}
        told.pop("marks", None)
        if self._scan is not None and entries.get("scan.file"):
            told = self._shown(self._scan, sheet, entries)
        if told == self._last:
            return None
        self._last = told
        return told

    def _shown(self, scan: ScannedArm, sheet: Sheet | None, entries: Mapping[str, str]) -> Told:
        if scan.whole is not self._whole or self._stand is None:
            self._whole, self._stand = scan.whole, stand_of(scan)
            self._surface = _surface(scan, self._stand)
        stand, mm = self._stand, MM_PER[scan.unit]
        side = self._last["side"]
        name = self._last["models"][0]["name"] if self._last["models"] else NAME
        if sheet is not None:
            side = next(arm.side for arm in sheet.arms if arm.scan is not None)
            name = f"{side_name(sheet, side)}{NAME}"
        model = packed_model(_model(scan, stand, self._surface, name))
        focus = stand.seen(scan.in_file(scan.mesh.vertices))
        model |= {"alone": True,
                  "focus": {"low": focus.min(axis=0).tolist(), "high": focus.max(axis=0).tolist()}}
        return {
            "kind": "scan", "side": side, "models": [model],
            "marks": [_mark(scan, stand, name, entries) for name in LANDMARKS
                      if name in scan.landmarks or entries.get(f"scan.{name}")],
            "origin": (stand.origin / mm).tolist(), "axes": (stand.turn.T / mm).tolist(),
            "decimals": DECIMALS[scan.unit],
        }  # fmt: skip


def _mark(scan: ScannedArm, stand: Stand, name: str, entries: Mapping[str, str]) -> Told:
    """Return a landmark where the sheet has it, else where it was found."""
    given = _place(entries.get(f"scan.{name}", ""))
    found = scan.landmarks.get(name)
    at = scan.in_file(scan.axis[0] if found is None else found)
    if given is not None:
        at = MM_PER[scan.unit] * given
    return {"name": name, "label": LABELS[name], "at": stand.seen(at).round(3).tolist(),
            "is_given": given is not None}  # fmt: skip


def _place(text: str) -> FloatArray | None:
    """Return a place of three numbers; None where it is none."""
    try:
        numbers = [float(part) for part in text.split(";")]
    except ValueError:
        return None
    return np.array(numbers) if len(numbers) == 3 and np.isfinite(numbers).all() else None


def _surface(scan: ScannedArm, stand: Stand) -> tuple[FloatArray, IntArray, FloatArray, FloatArray]:
    """Return vertices, faces, normals and colours of the arm and of what lies round it."""
    arm = scan.in_file(scan.mesh.vertices)
    whole = scan.whole or Mesh(arm, scan.mesh.faces)
    low, high = arm.min(axis=0) - ROUND_IT_MM, arm.max(axis=0) + ROUND_IT_MM
    is_near = ((whole.vertices > low) & (whole.vertices < high)).all(axis=1)
    mesh = thinned(packed(whole.vertices, whole.faces[is_near[whole.faces].all(axis=1)]),
                   MOST_SHOWN)  # fmt: skip
    off, _ = cKDTree(arm).query(mesh.vertices)  # what was not cut off is there as it was
    colours = np.where((off < 1e-3)[:, None], rgb_of(PIECE_COLOURS["outer"]), rgb_of(OTHER_PIECE))
    vertices, faces = stand.seen(mesh.vertices), _outward(mesh, scan.in_file(scan.axis))
    return vertices, faces, vertex_normals(vertices, faces), colours


def _outward(mesh: Mesh, axis: FloatArray) -> IntArray:
    """Return the faces turned away from the arm's middle line; a scan's face either way."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    middle = (a + b + c) / 3.0
    away = middle - axis[cKDTree(axis).query(middle)[1]]
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), away) < 0.0
    return np.where(inward[:, None], mesh.faces[:, ::-1], mesh.faces)


def _model(scan: ScannedArm, stand: Stand, surface: Any, name: str) -> Model:
    vertices, faces, normals, colours = surface
    return Model(
        name, scan.side, vertices, normals, faces, {NAME: np.arange(len(faces))},
        (Look("pieces and seams", colours),), tuple(_levels(scan, stand)),
    )  # fmt: skip


def _levels(scan: ScannedArm, stand: Stand) -> list[ModelLine]:
    """Return the sections where the girths of the sheet are taped."""
    values, limb = scan.values, scan.limb
    places = (limb.along(-values["upper_arm_up"]), limb.elbow,
              limb.along(values["forearm_down"]), limb.levels[-1].along)  # fmt: skip
    lines = []
    for place in places:
        section = min(scan.sections, key=lambda one: abs(one.along - place))
        ring = scan.in_file(section.placed(np.vstack([section.outline, section.outline[:1]])))
        normals = ring - ring.mean(axis=0)
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        lines.append(ModelLine("level", "tape", stand.seen(ring), normals @ stand.turn))
    return lines
