"""Field types of the sheet: each reads what a maker writes, or says in plain words what is wrong.

An empty text "" stands for "not measured" and comes out as None.
"""

from __future__ import annotations

import datetime
import math
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median, multimode
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, PlainValidator, ValidationInfo
from pydantic_core import PydanticCustomError

from unroll.errors import UnrollError
from unroll.units import Unit, parse_length, parse_number

SPREAD_WARNING_PERCENT = 3.0  # house rule: above it, one of the readings is likely a slip


@dataclass(frozen=True)
class Reading:
    """One measure, read once or more.

    Attributes
    ----------
    mm : float
        The value that wins, mm.
    readings : tuple of float
        As given, mm.
    """

    mm: float
    readings: tuple[float, ...]

    @property
    def spread(self) -> float:
        """Largest less smallest reading, mm."""
        return max(self.readings) - min(self.readings)

    @property
    def spread_percent(self) -> float:
        """Spread, percent of the value that wins."""
        return 100.0 * self.spread / self.mm if self.mm > 0 else 0.0


def reading_of(readings: Sequence[float]) -> Reading:
    """Return the reading that wins: the most frequent, else the median.

    Parameters
    ----------
    readings : sequence of float
        One or more values, mm. Values within 0.01 mm count as the same.

    Examples
    --------
    >>> reading_of([350.0, 352.0, 352.0]).mm, reading_of([350.0, 352.0, 355.0]).mm
    (352.0, 352.0)
    >>> reading_of([350.0, 350.0, 352.0, 352.0]).mm
    351.0
    """
    rounded = [round(value, 2) for value in readings]
    modes = multimode(rounded)
    if len(modes) == 1:
        return Reading(readings[rounded.index(modes[0])], tuple(readings))
    return Reading(float(median(readings)), tuple(readings))


MOST_READINGS = 50
MOST_POINTS = 2000
LARGEST = 1e9  # in any unit; what is nearer to sense has limits of its own


def fault(text: str) -> PydanticCustomError:
    """Return the error that pydantic carries to the sheet's list of faults."""
    # braces are pydantic's placeholders; the text goes in as a value, never as the template
    return PydanticCustomError("sheet", "{text}", {"text": text})


# A byte order mark within a text, and marks that turn the text around it: pasted in unawares.
_UNSEEN = "\ufeff\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def _unit(info: ValidationInfo) -> Unit:
    unit: Unit = info.context["unit"] if info.context else "cm"
    return unit


def shown(value: object) -> str:
    """Return a value as it stands in the sheet, shortened."""
    if isinstance(value, int) and abs(value) > LARGEST**5:  # Python refuses to write the longest
        return f"a number of some {value.bit_length() * 0.30103:.0f} digits"
    if isinstance(value, dict | list):
        return "a table { }" if isinstance(value, dict) else "a list [ ]"
    text = f'"{value}"' if isinstance(value, str) else repr(value)
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, datetime.date | datetime.time):
        text = str(value)
    return text if len(text) <= 50 else text[:47] + "..."


def _length(value: object, unit: Unit, subject: str = "is") -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise fault(f'{subject} {shown(value)}; expected a length such as 30.5, "12 3/8 in" '
                    'or "305 mm"')
    if not isinstance(value, str) and LARGEST < abs(value) < math.inf:
        raise fault(f"{subject} {shown(value)}; expected a length in {unit} (a slip of the pen?)")
    try:
        return parse_length(value, unit)
    except UnrollError as error:
        raise fault(f'cannot be read: {error}; expected a length such as 30.5, "12 3/8 in" or '
                    '"305 mm"') from error


def _read_length(value: object, info: ValidationInfo) -> float | None:
    if value == "":
        return None
    return _length(value, _unit(info))


def _read_reading(value: object, info: ValidationInfo) -> Reading | None:
    if value == "":
        return None
    if isinstance(value, str) and ";" in value:  # several in one text, as the page takes them
        value = [part for part in value.split(";") if part.strip()] or value
    if not isinstance(value, list):
        return reading_of([_length(value, _unit(info))])
    if not value:
        raise fault("is an empty list; give at least one reading, or leave the line out")
    if len(value) > MOST_READINGS:
        raise fault(f"has {len(value)} readings; expected at most {MOST_READINGS}")
    return reading_of([
        _length(one, _unit(info), f"reading {place} is") for place, one in enumerate(value, 1)
    ])


def _number(value: object, kind: str) -> float:
    number = math.nan
    if isinstance(value, str):
        try:
            number = float(parse_number(value.removesuffix("%").strip()))
        except UnrollError:
            number = math.nan
    elif isinstance(value, int | float) and not isinstance(value, bool):
        number = float(max(min(value, LARGEST), -LARGEST))  # a whole number may be too large
    if not math.isfinite(number):
        raise fault(f"is {shown(value)}; expected {kind}")
    return number


def _read_number(kind: str) -> Callable[[object], float | None]:
    def read(value: object) -> float | None:
        return None if value == "" else _number(value, kind)

    return read


def _read_share(value: object) -> Fraction | None:
    if value == "":
        return None
    if isinstance(value, str):
        try:
            return parse_number(value)
        except UnrollError as error:
            raise fault(f'is {shown(value)}; expected a share such as "1/3"') from error
    return Fraction(repr(_number(value, 'a share such as "1/3"')))


def _read_eases(value: object) -> tuple[float, float] | None:
    if value == "":
        return None
    parts = value if isinstance(value, list) else [value, value]
    if len(parts) != 2:
        raise fault(f"has {len(parts)} entries; expected two, least and most: [3, 5]")
    low, high = (_number(part, "a percentage such as 4, or two: [3, 5]") for part in parts)
    return low, high


def _read_text(value: object) -> str:
    if isinstance(value, datetime.date | datetime.time):
        return str(value)
    if not isinstance(value, str):
        raise fault(f'is {shown(value)}; expected a text between quotes: "..."')
    value = "".join(character for character in value if character not in _UNSEEN)
    if any(map(_is_unprintable, value)):
        raise fault("holds a line break or control character; expected one line of text")
    if len(value) > 80:
        raise fault(f"is {len(value)} characters long; expected at most 80")
    return value.strip()


def _is_unprintable(character: str) -> bool:
    """Tell whether a character is a control, a line break, private, half of one or none."""
    number = ord(character)
    return (unicodedata.category(character) in ("Cc", "Cs", "Co", "Zl", "Zp")
            or number & 0xFFFE == 0xFFFE or 0xFDD0 <= number <= 0xFDEF)


def _read_count(limits: str) -> Callable[[object], int | None]:
    def read(value: object) -> int | None:
        if value == "":
            return None
        if isinstance(value, bool) or not isinstance(value, int):
            raise fault(f"is {shown(value)}; expected a whole number, {limits}")
        return value

    return read


def _read_rounding(value: object, info: ValidationInfo) -> float | None:
    return None if value in ("", "none") else _length(value, _unit(info))


def _empty_is_none(value: object) -> object:
    return None if value == "" else value


Length = Annotated[float | None, PlainValidator(_read_length)]
Readings = Annotated[Reading | None, PlainValidator(_read_reading)]
Percent = Annotated[float | None, PlainValidator(_read_number("a percentage such as 0.4"))]
Degrees = Annotated[float | None, PlainValidator(_read_number("an angle in degrees such as 20"))]
Ratio = Annotated[float | None, PlainValidator(_read_number("a number such as 1.05"))]
Amount = Annotated[float | None, PlainValidator(_read_number("a number such as 2"))]
Share = Annotated[Fraction | None, PlainValidator(_read_share)]
Eases = Annotated[tuple[float, float] | None, PlainValidator(_read_eases)]
Text = Annotated[str, PlainValidator(_read_text)]
Count = Annotated[int | None, PlainValidator(_read_count("0 to 4"))]
DartLimit = Annotated[int | None, PlainValidator(_read_count("2 to 4"))]
Rounding = Annotated[float | None, PlainValidator(_read_rounding)]
Ends = Annotated[Literal["card", "cloth"] | None, BeforeValidator(_empty_is_none)]
Cap = Annotated[Literal["ease", "darts"] | None, BeforeValidator(_empty_is_none)]
Weave = Annotated[Literal["woven", "even"] | None, BeforeValidator(_empty_is_none)]
Drawn = Annotated[Literal["stitching", "cutting"] | None, BeforeValidator(_empty_is_none)]
ArmSide = Annotated[Literal["left", "right"] | None, BeforeValidator(_empty_is_none)]
Number = Annotated[int | None, PlainValidator(_read_count("as unroll check numbers them"))]


def _read_corners(value: object) -> list[int] | None:
    if value == "":
        return None
    if not isinstance(value, list) or len(value) != 4 or not all(
        isinstance(one, int) and not isinstance(one, bool) for one in value
    ):
        raise fault(f"is {shown(value)}; expected four whole numbers, as unroll check numbers the "
                    "corners: [1, 4, 5, 9]")
    return value


FourCorners = Annotated[list[int] | None, PlainValidator(_read_corners)]


def _read_yes(value: object) -> bool | None:
    if value == "":
        return None
    if not isinstance(value, bool):
        raise fault(f"is {shown(value)}; expected true or false, without quotes")
    return value


YesNo = Annotated[bool | None, PlainValidator(_read_yes)]


def read_outline(value: object, info: ValidationInfo) -> Any:
    """Return an armhole's outline: a file's name, or a list of points in mm; None for ""."""
    if value == "" or value is None:
        return None
    if isinstance(value, str):
        return value
    if not isinstance(value, list) or not all(
        isinstance(point, list) and len(point) == 2 for point in value
    ):
        raise fault('is neither a file such as "armhole.svg" nor a list of points [[x, y], ...]')
    if len(value) > MOST_POINTS:
        raise fault(f"has {len(value)} points; expected at most {MOST_POINTS}")
    unit = _unit(info)
    return [
        [_length(part, unit, f"point {place} has") for part in point]
        for place, point in enumerate(value, 1)
    ]


Outline = Annotated[str | list[list[float]] | None, PlainValidator(read_outline)]


def _read_point(value: object) -> tuple[float, float, float] | None:
    if value == "" or value == []:
        return None
    if not isinstance(value, list) or len(value) != 3:
        raise fault(f"is {shown(value)}; expected a place on the scan, three numbers of its file: "
                    "[x, y, z]")
    x, y, z = (_number(part, "three numbers") for part in value)
    return x, y, z


def _read_points(value: object) -> tuple[tuple[float, float, float], ...]:
    if value == "":
        return ()
    rows = value if isinstance(value, list) else [value]
    if len(rows) > MOST_POINTS or 0 < len(rows) < FEWEST_PLACES:
        raise fault(f"has {len(rows)} places; expected {FEWEST_PLACES} to {MOST_POINTS}, from "
                    "shoulder to wrist: [[x, y, z], ...]")
    return tuple(point for point in map(_read_point, rows) if point is not None)


FEWEST_PLACES = 8  # along an arm's axis
Point = Annotated[tuple[float, float, float] | None, PlainValidator(_read_point)]
Points = Annotated[tuple[tuple[float, float, float], ...], PlainValidator(_read_points)]
ScanUnit = Annotated[Literal["m", "cm", "mm", "in"] | None, BeforeValidator(_empty_is_none)]
ScanSide = Annotated[Literal["left", "right"] | None, BeforeValidator(_empty_is_none)]
