"""What the guide says of each tape, by the number it has on the drawing and in the blank sheet."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tape:
    """One numbered tape.

    Attributes
    ----------
    number : int
        As on the drawing.
    key : str
        What to write in the sheet.
    text : str
        What the tape does; one or two short lines.
    is_must : bool
        Whether the arm cannot be made without it.
    """

    number: int
    key: str
    text: str
    is_must: bool = False


TAPES: tuple[Tape, ...] = (
    Tape(1, "shoulder_to_elbow", "shoulder point to elbow point,\ndown the back of the arm", True),
    Tape(2, "shoulder_to_inner_elbow", "shoulder point to the crease of the\nelbow, down the front "
         "(1 or 2 is a must)"),
    Tape(3, "inner_elbow_to_wrist", "crease of the elbow to the wrist line", True),
    Tape(4, "upper_arm_girth", "level round the fullest upper arm", True),
    Tape(5, "upper_arm_up", "straight from the crease up to tape 4"),
    Tape(6, "elbow_girth", "round elbow point and crease, so\nthat it slants"),
    Tape(7, "forearm_girth", "round the fullest forearm"),
    Tape(8, "forearm_down", "straight from the crease down to tape 7"),
    Tape(9, "wrist_girth", "round the wrist bone", True),
    Tape(10, "wrist_width", "thumb side to little-finger side,\nbetween two books that just touch"),
    Tape(11, "wrist_depth", "palm side to back of the hand, likewise"),
    Tape(12, "cap_height", "over the outside, shoulder point\nto the level of the underarm"),
    Tape(13, "cap_arcs", "level, over the outside, armhole edge\nto armhole edge; three of them. "
         "up: how\nfar straight above the underarm"),
    Tape(14, "armhole", "the double's armhole plate: width and\nheight, or the girth along its "
         "edge;\nor trace it"),
    Tape(15, "shoulder_length", "neck point to shoulder point; and the\nslope of that line, front "
         "and back, degrees"),
)

CAUTIONS: tuple[str, ...] = (
    "Let the arm hang as the double's arm shall hang, the same for every tape: a bent elbow "
    "measures thicker and longer.",
    "The tape lies on the skin and does not press it in. Keep girths level all round.",
    "Mark shoulder point, elbow crease, underarm level and wrist line on the skin first; measure "
    "to the marks.",
    "Take each measure three times and write all three down; the sheet says where they lie too far "
    "apart.",
    "Leave out what you cannot reach: it is estimated, and every output says so. This page is not "
    "drawn to scale.",
)
