"""Corrected things: what is changed on the surface that is flattened, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from unroll.types.arrays import FloatArray, own


@dataclass(frozen=True, eq=False)
class Correction:
    """How the surface that is flattened departs from the arm that is wanted.

    Attributes
    ----------
    outward_rad, forward_rad : float
        Turn of the whole arm below the cap about the shoulder point: away from the body, and to
        the front, radians.
    bend_rad : float
        Turn of the forearm about the elbow's centre, more bent, radians.
    upper, lower : float
        Added length between underarm and elbow, and between elbow and wrist, mm.
    cap : float
        Outward shift of the cap's fullest place, mm; negative is a lower cap.
    arcs : (3,) float
        Relative change of the cap's reach away from the body at three levels, lowest first.
    girths : (k,) float
        Relative change of girth at k levels, from the underarm to the wrist; 0.01 is 1 %.
    """

    outward_rad: float = 0.0
    forward_rad: float = 0.0
    bend_rad: float = 0.0
    upper: float = 0.0
    lower: float = 0.0
    cap: float = 0.0
    arcs: FloatArray = field(default_factory=lambda: own([0.0] * 3, float, None))
    girths: FloatArray = field(default_factory=lambda: own([0.0] * 8, float, None))

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "arcs", own(self.arcs, float, None))
        object.__setattr__(self, "girths", own(self.girths, float, None))
