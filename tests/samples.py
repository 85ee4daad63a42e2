"""Sample values that tests share."""

from __future__ import annotations

from unroll.nouns import Armhole, ArmMeasures, CapArc, DartLine

# what the search proposes for the sample with two darts
SAMPLE_DARTS = (DartLine(25.2, 123.0), DartLine(-25.2, 123.0))


def sample_measures(**changes: object) -> ArmMeasures:
    """One plausible left arm in mm; keyword arguments replace fields."""
    values: dict[str, object] = dict(
        side="left",
        shoulder_to_elbow=333.5,
        shoulder_to_inner_elbow=324.0,
        inner_elbow_to_wrist=231.5,
        upper_arm_girth=286.0,
        upper_arm_up=125.0,
        elbow_girth=246.0,
        forearm_girth=243.0,
        forearm_down=62.0,
        wrist_girth=158.0,
        wrist_width=58.0,
        wrist_depth=41.0,
        cap_height=162.0,
        cap_arcs=(CapArc(45.0, 229.0), CapArc(70.0, 196.5), CapArc(95.0, 137.0)),
        armhole=Armhole(width=98.0, height=116.0, girth=336.6),
        shoulder_length=128.0,
        upper_arm_ratio=1.05,
    )
    values.update(changes)
    return ArmMeasures(**values)  # type: ignore[arg-type]
