"""Papers: sizes from the open standards, and how much of them a page uses."""

from __future__ import annotations

from dataclasses import dataclass

from unroll.errors import UnrollError

# ISO 216 for the A series; ANSI/ASME Y14.1 A and B for letter and tabloid (8.5 x 11, 11 x 17 in)
SIZES = {
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
    "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8),
    "a0": (841.0, 1189.0),
}
ROLL_WIDTH = 914.4  # mm; a 36 in plotter roll: common practice, no source
ONE_SHEET = ("a0", "roll")
MARGIN = 8.0  # mm; home printers leave 4 to 7 mm white: common practice, no source
FOOT = 13.0  # mm; lower margin, with the page's number
OVERLAP = 10.0  # mm shared by neighbouring pages


@dataclass(frozen=True)
class Paper:
    """A paper and its margins, mm.

    Attributes
    ----------
    name : str
    width, height : float
        Size; the height of a roll is what the pieces need, and is 0 here.
    margin, foot : float
        White border at the sides and top, and at the bottom.
    overlap : float
        What neighbouring pages share.
    """

    name: str
    width: float
    height: float
    margin: float = MARGIN
    foot: float = FOOT
    overlap: float = OVERLAP

    @property
    def is_one_sheet(self) -> bool:
        """Tell whether all pieces go on one sheet."""
        return self.name in ONE_SHEET

    @property
    def tile(self) -> tuple[float, float]:
        """Width and height of the pattern from joint to joint, mm."""
        return (
            self.width - 2 * self.margin - self.overlap,
            self.height - self.margin - self.foot - self.overlap,
        )


def paper_called(
    name: str, *, margin: float = MARGIN, overlap: float = OVERLAP, roll_width: float = ROLL_WIDTH
) -> Paper:
    """Return the paper of this name.

    Raises
    ------
    UnrollError
        When the name is unknown, or margin, overlap or roll leave no room to draw in.
    """
    key = name.strip().lower()
    if key not in SIZES and key != "roll":
        raise UnrollError(f'paper is "{name}"; expected one of {", ".join([*SIZES, "roll"])}')
    for what, value in (("margin", margin), ("overlap", overlap)):
        if not 0 <= value <= 30:
            raise UnrollError(f"{what} is {value:g} mm; expected 0 to 30")
    if not 150 <= roll_width <= 3000:
        raise UnrollError(f"roll is {roll_width:g} mm wide; expected 150 to 3000")
    width, height = SIZES.get(key, (roll_width, 0.0))
    foot = max(margin, FOOT if margin else 0.0)
    return Paper(key, width, height, margin, foot, overlap)
