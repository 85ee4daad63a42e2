"""Curved things: the mesh, the lofted arm, the panels cut from it, and their flattening."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray, own


@dataclass(frozen=True, eq=False)
class Mesh:
    """A triangle mesh.

    Attributes
    ----------
    vertices : (n, 3) float
        Positions, mm.
    faces : (m, 3) int
        Anticlockwise from outside.
    """

    vertices: FloatArray
    faces: IntArray

    def __post_init__(self) -> None:
        """Copy, check and seal the arrays."""
        object.__setattr__(self, "vertices", own(self.vertices, float, None, 3))
        object.__setattr__(self, "faces", own(self.faces, int, None, 3))


@dataclass(frozen=True, eq=False)
class Trace:
    """A line drawn on a mesh, which may cross faces.

    Attributes
    ----------
    faces : (k,) int
        Face that each point of the line lies on.
    weights : (k, 3) float
        Barycentric weights of the point on that face.
    """

    faces: IntArray
    weights: FloatArray

    def __post_init__(self) -> None:
        """Copy, check and seal the arrays."""
        object.__setattr__(self, "faces", own(self.faces, int, None))
        object.__setattr__(self, "weights", own(self.weights, float, len(self.faces), 3))

    def on(self, points: FloatArray, faces: IntArray) -> FloatArray:
        """Return the line's points, (k, d), for vertex positions `points` (n, d) and `faces`."""
        out: FloatArray = np.einsum("ij,ijk->ik", self.weights, points[faces[self.faces]])
        return out


@dataclass(frozen=True, eq=False)
class Station:
    """A level with a cross-section.

    Attributes
    ----------
    name : str
        "upper_arm", "elbow", "forearm", "wrist" or "underarm".
    origin, normal : (3,) float
        Plane of the section, mm and unit vector; the normal points towards the shoulder.
    girth : float
        Girth asked for there, mm.
    """

    name: str
    origin: FloatArray
    normal: FloatArray
    girth: float

    def __post_init__(self) -> None:
        """Copy, check and seal the arrays."""
        object.__setattr__(self, "origin", own(self.origin, float, 3))
        object.__setattr__(self, "normal", own(self.normal, float, 3))


@dataclass(frozen=True, eq=False)
class Level:
    """A closed section of the limb below the underarm.

    Attributes
    ----------
    along : float
        Distance along the limb's axis from the underarm's level, mm.
    girth : float
        mm.
    ratio : float or None
        Width (front to back) : depth (side to side); None lets it run between its neighbours'.
    exponent : float or None
        Of the superellipse: 2 is an ellipse; None likewise.
    outline : (k, 2) float or None
        The section's own shape, which overrules both: x forward, y outward from the axis, mm, from
        the innermost point over the front and the outside to the back; the last point is not the
        first again. Its size follows the girth.
    """

    along: float
    girth: float
    ratio: float | None = None
    exponent: float | None = None
    outline: FloatArray | None = None

    def __post_init__(self) -> None:
        """Seal the outline."""
        if self.outline is not None:
            object.__setattr__(self, "outline", own(self.outline, float, None, 2))


@dataclass(frozen=True, eq=False)
class LimbScan:
    """The arm below the underarm as something finer than a tape found it: a level every few mm.

    Attributes
    ----------
    levels : tuple of Level
        From just below the underarm to the wrist, which needs its width : depth.
    axis : (k, 3) float
        The sections' centres, in the arm's frame (x forward, y outward, z up, origin at the
        shoulder point), from the underarm's level to the wrist. Down to `straight`, sections are
        level and `along` counts straight down; below it they are square to the axis, and `along`
        is the length of the axis.
    elbow : float
        Where the elbow lies along the axis, mm.
    straight : float
        Where the elbow's bend begins, mm.
    inside : float
        By how much the inner side of the elbow, where tapes lie, is short of the axis from the
        middle of the bend to where it ends, either way, mm.
    """

    levels: tuple[Level, ...]
    axis: FloatArray
    elbow: float
    straight: float
    inside: float = 0.0

    def __post_init__(self) -> None:
        """Copy, check and seal the axis."""
        object.__setattr__(self, "axis", own(self.axis, float, None, 3))

    def along(self, down: float) -> float:
        """Return where along the axis lies what is taped so far below the inner elbow, mm.

        Parameters
        ----------
        down : float
            mm; negative above it.
        """
        return self.elbow + down + self.inside * float(np.clip(down / self._half, -1.0, 1.0))

    def taped(self, along: float) -> float:
        """Return how far below the inner elbow a tape finds a place on the axis, mm."""
        off = along - self.elbow
        share = np.clip(off / (self._half + self.inside), -1.0, 1.0)
        return off - self.inside * float(share)

    @property
    def _half(self) -> float:
        """Half the bend, along its inner side, mm."""
        return max(self.elbow - self.straight - self.inside, 1.0)


@dataclass(frozen=True)
class DartLine:
    """Where a dart lies on the arm's cap.

    Attributes
    ----------
    at : float
        Its mouth: distance along the cap seam from the shoulder point, mm; positive to the front.
    length : float
        Over the surface from the cap seam to the dart point, mm.
    lean : float
        Offset of the dart point from the middle of the arm, as a share of the mouth's offset:
        1 keeps the dart parallel to the middle, less leads it towards the fullest place.
    """

    at: float
    length: float
    lean: float = 0.75


@dataclass(frozen=True, eq=False)
class ArmMesh:
    """The arm as one closed mesh, with the lines and landmarks that later stages need.

    Frame: x forward, y to the wearer's left, z up, origin at the shoulder point. The left arm
    lies at y > 0, the right arm at y < 0.

    Attributes
    ----------
    side : {"left", "right"}
    mesh : Mesh
        Closed, watertight, oriented: side surface first, then armhole plate and wrist plate.
    panel_faces : mapping of str to (k,) int
        Faces of "outer", "inner", "armhole plate", "wrist plate".
    paths : mapping of str to (k,) int
        Vertex paths that are mesh lines: "front seam" and "back seam" (armhole to wrist),
        "cap seam" (armhole edge, front seam over the shoulder to back seam), "underarm seam"
        (armhole edge, front seam under the arm to back seam), "outer wrist" and "inner wrist"
        (front seam to back seam), "outer middle" and "inner middle" (armhole to wrist, down the
        middle of each panel), and "dart 1", "dart 2", ... (cap seam to dart point).
    stations : mapping of str to Station
        "underarm", "upper_arm", "elbow", "forearm", "wrist".
    landmarks : mapping of str to (3,) float
        "shoulder", "underarm", "elbow point", "elbow crease", "wrist point", "wrist centre",
        "elbow centre", "armhole front", "armhole back".
    up : (3,) float
        Unit vector away from the ground when the arm hangs on the double, whose armhole may lean.
    """

    side: str
    mesh: Mesh
    panel_faces: Mapping[str, IntArray]
    paths: Mapping[str, IntArray]
    stations: Mapping[str, Station]
    landmarks: Mapping[str, FloatArray]
    up: FloatArray = field(default_factory=lambda: np.array([0.0, 0.0, 1.0]))

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(
            self, "panel_faces", {k: own(v, int, None) for k, v in self.panel_faces.items()}
        )
        object.__setattr__(self, "paths", {k: own(v, int, None) for k, v in self.paths.items()})
        object.__setattr__(
            self, "landmarks", {k: own(v, float, 3) for k, v in self.landmarks.items()}
        )
        object.__setattr__(self, "up", own(self.up, float, 3))


@dataclass(frozen=True, eq=False)
class PanelSide:
    """A run of a panel's boundary that is sewn as one.

    Attributes
    ----------
    seam : str
        The seam it belongs to: "front seam", "back seam", "cap seam", "underarm seam",
        "outer wrist", "inner wrist", "dart 1", ...
    path : (k,) int
        Panel vertices in boundary order (anticlockwise, cloth on the left), both corners included.
    """

    seam: str
    path: IntArray

    def __post_init__(self) -> None:
        """Seal the path."""
        object.__setattr__(self, "path", own(self.path, int, None))


@dataclass(frozen=True, eq=False)
class Panel:
    """A curved, disk-shaped part of the arm's surface.

    Attributes
    ----------
    name : str
        "outer" or "inner".
    mesh : Mesh
        Its own vertices and faces (a dart doubles the vertices along its slit).
    arm_vertices : (n,) int
        The vertex of the arm's mesh that each panel vertex came from.
    sides : tuple of PanelSide
        The whole boundary, anticlockwise, each side starting where the last one ended.
    traces : mapping of str to Trace
        Reference lines on the panel: "grain" (down the middle, shoulder to wrist), "underarm line",
        "upper arm line", "elbow line", "forearm line".
    """

    name: str
    mesh: Mesh
    arm_vertices: IntArray
    sides: tuple[PanelSide, ...]
    traces: Mapping[str, Trace] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(
            self, "arm_vertices", own(self.arm_vertices, int, len(self.mesh.vertices))
        )


@dataclass(frozen=True, eq=False)
class Flattening:
    """A panel laid flat: right side of the cloth up, grain along y, shoulder end up.

    Attributes
    ----------
    panel : Panel
    points : (n, 2) float
        Flat position of each panel vertex, mm.
    energy : str
        "even" (symmetric Dirichlet) or "woven".
    steps : int
        Descent steps taken, all phases together.
    seam_error : float
        Largest relative error of a held boundary edge's length.
    """

    panel: Panel
    points: FloatArray
    energy: str
    steps: int
    seam_error: float

    def __post_init__(self) -> None:
        """Seal the array."""
        count = len(self.panel.mesh.vertices)
        object.__setattr__(self, "points", own(self.points, float, count, 2))


@dataclass(frozen=True, eq=False)
class Distortion:
    """How a flattening stretches a panel, curved to flat.

    Attributes
    ----------
    flattening : Flattening
    stretch_max, stretch_min : (m,) float
        Principal stretches of each face, flat length over curved length.
    warp, weft : (m,) float
        Stretch along the grain (y) and across it (x).
    shear_rad : (m,) float
        Change of the right angle between warp and weft, radians.
    area_ratio : (m,) float
        Signed; flat area over curved area; negative where a face is flipped.
    weights : (m,) float
        Share of the panel's curved area.
    seam_lengths_mm : mapping of str to (curved, flat)
        Length of each side, by seam name (dart legs "dart 1 front leg", "dart 1 back leg").
    """

    flattening: Flattening
    stretch_max: FloatArray
    stretch_min: FloatArray
    warp: FloatArray
    weft: FloatArray
    shear_rad: FloatArray
    area_ratio: FloatArray
    weights: FloatArray
    seam_lengths_mm: Mapping[str, tuple[float, float]]

    @property
    def flips(self) -> int:
        """Count the faces that are turned over."""
        return int(np.count_nonzero(self.area_ratio <= 0))
