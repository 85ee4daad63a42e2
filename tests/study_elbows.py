"""Where a scan's elbow is found, and each way of telling it, against the joints that files name.

`python -m tests.study_elbows` prints, for every arm of meshes/, how far below its named joint lie
the kink of the middle lines, the slimmest place, the usual share of the length, and the elbow that
is found, mm. The last column is leave-one-out: found with the shares and the slimmest place's depth
taken from all the other arms alone.
"""

from __future__ import annotations

from pathlib import Path
from unittest.mock import patch

import numpy as np

from tests.study_scans import MESHES
from unroll.disk.scans import read_scan
from unroll.maths.arrays import FloatArray
from unroll.nouns import Mesh
from unroll.nouns.scan import ScanHints
from unroll.scans import finding, middles
from unroll.scans.freeing import freed
from unroll.scans.mending import mend

HINTS = ScanHints()


class Arm:
    """One arm with the joint that its file names and what each witness says."""

    def __init__(self, path: Path) -> None:
        self.name = path.stem
        row = path.read_text().splitlines()[0].split()
        self.joint = np.array(row[-3:], dtype=float)
        self.mesh: Mesh = freed(mend(read_scan(path), None).mesh, HINTS)[0]
        self.seen: dict[str, float] = {}
        with patch.object(finding, "with_elbow", self._spied):
            self.found = self.below(finding.find_pose(self.mesh, HINTS))

    def _spied(self, cutter, lines, start, fore, usual):  # type: ignore[no-untyped-def]
        """Keep what the witnesses say, below the joint, mm."""
        joint, upper = lines.below(self.joint), float((lines.corner - start) @ lines.down)
        waist = middles._waist(cutter, lines, fore, joint)
        self.seen = {
            "bend": np.degrees(lines.bend),
            "kink": lines.kink - joint,
            "share": (fore - joint) / (upper + fore),
            "usual": fore - usual[0] * (upper + fore) - joint,
            "waist": np.nan if waist is None else waist - joint,
            "depth": np.nan if waist is None else (waist - joint) / (fore - joint),
            "is_open": float(usual is finding.OPEN_SHARE),
        }
        return middles.with_elbow(cutter, lines, start, fore, usual)

    def below(self, pose: finding.Pose) -> float:
        way: FloatArray = pose.down + pose.fore
        return float((pose.corner - self.joint) @ way / np.linalg.norm(way))


def left_out(arm: Arm, others: list[Arm]) -> float:
    """Return how far below its joint an arm's elbow is found by what the other arms teach, mm."""
    def share(is_open: float) -> float:
        return float(np.mean([o.seen["share"] for o in others if o.seen["is_open"] == is_open]))

    depth = [o.seen["depth"] for o in others]
    near = [d for d in depth if abs(d) < 0.12]  # a fold of fat is no elbow's waist
    with (
        patch.object(finding, "ELBOW_SHARE", (share(0.0), finding.ELBOW_SHARE[1])),
        patch.object(finding, "OPEN_SHARE", (share(1.0), finding.OPEN_SHARE[1])),
        patch.object(middles, "WAIST_BELOW", float(np.mean(near))),
    ):
        return arm.below(finding.find_pose(arm.mesh, HINTS))


def main() -> None:
    arms = [Arm(path) for path in sorted(MESHES.glob("arm_*.obj"))]
    print(f"{'below the joint, mm':20} bend   kink  waist  usual |  found  left out")
    for arm in arms:
        seen, rest = arm.seen, [other for other in arms if other is not arm]
        row = "".join(f" {seen[name]:6.1f}" for name in ("kink", "waist", "usual"))
        print(f"{arm.name:20} {seen['bend']:4.0f} {row} | {arm.found:6.1f} "
              f"{left_out(arm, rest):9.1f}", flush=True)


if __name__ == "__main__":
    main()
