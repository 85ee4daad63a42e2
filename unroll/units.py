"""Lengths as people type them, and as they read them: inches with fractions, centimetres, mm."""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction
from typing import Literal, get_args

from unroll.errors import UnrollError

Unit = Literal["in", "cm", "mm"]
UNITS: tuple[Unit, ...] = get_args(Unit)

MM_PER_UNIT: dict[Unit, Fraction] = {"in": Fraction(254, 10), "cm": Fraction(10), "mm": Fraction(1)}

_SPELLINGS: dict[str, Fraction] = {
    "in": MM_PER_UNIT["in"], "ins": MM_PER_UNIT["in"], "inch": MM_PER_UNIT["in"],
    "inches": MM_PER_UNIT["in"], '"': MM_PER_UNIT["in"], "''": MM_PER_UNIT["in"],
    "cm": MM_PER_UNIT["cm"], "mm": MM_PER_UNIT["mm"], "m": Fraction(1000),
}
_ALIKE = str.maketrans({
    "″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "⁄": "/", "∕": "/",
    "−": "-", "–": "-", "—": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\t": " ",
})
_LENGTH = re.compile(
    r"(?P<sign>[-+]?)\s*(?P<number>\d[\d., /-]*|[.,]\d+)?(?P<unit>[^\d\s.,/-].*)?", re.DOTALL
)
# "4 mm", "20 to 200 mm", "37, 40 mm": not what a maker typed, a place in brackets or a file's name
_SAID_MM = re.compile(
    r"""(?<![\w"(.,-])(?P<numbers>[-+]?\d+(?:\.\d+)?(?:(?:,| to| by| and) \d+(?:\.\d+)?)*) mm"""
    r"(?![\w²]|\.\w)"
)
_DECIMAL = re.compile(r"\d+|\d*[.,]\d+|\d+[.,]")
_FRACTION = re.compile(r"(?:(?P<whole>\d+)(?:\s*-\s*|\s+))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")
_SIXTEENTH_MM = 25.4 / 16
_LONGEST = 40  # characters; nobody writes a longer length


def parse_length(value: str | int | float, default_unit: Unit) -> float:
    """Return a length in millimetres, read as people type it.

    Parameters
    ----------
    value : str, int or float
        `3 5/8`, `3-5/8"`, `3⅝ in`, `30,5 cm`, `.625`, `92 mm`, or a plain number.
    default_unit : {"in", "cm", "mm"}
        Unit of a value that carries none.

    Returns
    -------
    float
        Millimetres; may be zero or negative, which is for the caller to judge.

    Raises
    ------
    UnrollError
        When the text is no length: empty, two numbers, an unknown unit, feet, a fraction over
        zero, or a number whose comma could stand for thousands.

    Examples
    --------
    >>> parse_length('3-5/8"', "cm"), parse_length("30,5 cm", "in"), parse_length(".625", "in")
    (92.075, 305.0, 15.875)
    """
    if isinstance(value, str):
        number, scale = _read_text(value, default_unit)
    elif isinstance(value, bool) or not isinstance(value, int | float):
        raise UnrollError(f"{value!r} is not a length")
    elif isinstance(value, float) and not math.isfinite(value):
        raise UnrollError(f"{value} is not a length")
    else:
        number, scale = Fraction(repr(value)), MM_PER_UNIT[default_unit]
    try:
        return float(number * scale)
    except OverflowError:
        raise UnrollError(f"a number of {len(str(value))} digits is not a length") from None


def parse_number(text: str) -> Fraction:
    """Return the number in `text`: decimal (point or comma), fraction, or whole and fraction.

    Raises
    ------
    UnrollError
        When the text is no such number.

    Examples
    --------
    >>> parse_number("1/3"), parse_number("1 1/2"), parse_number("0,35")
    (Fraction(1, 3), Fraction(3, 2), Fraction(7, 20))
    """
    typed = _plain(text)
    if len(typed) > _LONGEST:
        raise UnrollError(f'{_quoted(typed[:_LONGEST] + "...")} is too long for a number')
    if _THOUSANDS.fullmatch(typed):
        raise UnrollError(f'{_quoted(text)} could be {typed.replace(",", ".")} or '
                          f'{typed.replace(",", "")}; write it with a point, or without a comma')
    if _DECIMAL.fullmatch(typed):
        return Fraction(typed.replace(",", ".").rstrip("."))
    parts = _FRACTION.fullmatch(typed)
    if parts is None:
        raise UnrollError(f'{_quoted(text)} is not one number')
    whole, top, bottom = (int(parts[k] or 0) for k in ("whole", "top", "bottom"))
    if bottom == 0:
        raise UnrollError(f'{_quoted(text)} divides by zero')
    if parts["whole"] is not None and top >= bottom:
        raise UnrollError(f"{_quoted(text)} has a fraction of {top}/{bottom}, which is a whole or "
                          "more")
    return whole + Fraction(top, bottom)


def format_length(mm: float, unit: Unit, *, denominator: int = 16) -> str:
    """Return a length as a maker reads it, with its unit.

    Parameters
    ----------
    mm : float
        Millimetres.
    unit : {"in", "cm", "mm"}
        Inches come as a fraction, centimetres to 0.1, millimetres to 0.1 with no idle zero.
    denominator : int
        Inches are rounded to the nearest one of this many parts.

    Examples
    --------
    >>> format_length(92.075, "in"), format_length(304.6, "cm"), format_length(92.0, "mm")
    ('3 5/8 in', '30.5 cm', '92 mm')
    >>> format_length(92.075, "in", denominator=2)
    '3 1/2 in'
    """
    if unit == "in":
        return f"{_as_fraction(mm / 25.4, denominator)} in"
    if unit == "cm":
        return f"{_without_minus_zero(mm / 10.0)} cm"
    return f"{_without_minus_zero(mm).removesuffix('.0')} mm"


def format_small(mm: float, unit: Unit, *, decimals: int = 0) -> str:
    """Return a short length as a maker reads it: inches from 1/16 up, else whole millimetres.

    Examples
    --------
    >>> format_small(3.2, "in"), format_small(3.2, "cm"), format_small(0.4, "in")
    ('1/8 in', '3 mm', '1/16 in')
    """
    if unit == "in":
        return format_length(max(mm, 25.4 / 16), "in")
    return f"{mm:.{decimals}f} mm"


def inches_first(text: str, unit: Unit) -> str:
    """Return a sentence whose millimetres are said in the maker's inches first.

    Parameters
    ----------
    text : str
        A fault, or a step of the work, as stages tell it that know no sheet.
    unit : {"in", "cm", "mm"}
        Of the sheet; millimetres are left to those who measure in metres.

    Examples
    --------
    >>> inches_first("cap_height is 17 mm; expected 20 to 200 mm", "in")
    'cap_height is 11/16 in (17 mm); expected 13/16 to 7 7/8 in (20 to 200 mm)'
    >>> inches_first("a gap of 0.4 mm", "in"), inches_first("a gap of 0.4 mm", "cm")
    ('a gap of 1/64 in (0.4 mm)', 'a gap of 0.4 mm')
    """
    return _SAID_MM.sub(_said_in_inches, text) if unit == "in" else text


def _said_in_inches(found: re.Match[str]) -> str:
    def inches(number: re.Match[str]) -> str:
        mm = float(number[0])
        parts = 64 if abs(mm) < _SIXTEENTH_MM else 16 if abs(mm) < 2540.0 else 1
        shown = mm and math.copysign(max(abs(mm), 25.4 / 64), mm)
        return format_length(shown, "in", denominator=parts).removesuffix(" in")

    return f"{re.sub(r'[-+]?[0-9.]+', inches, found['numbers'])} in ({found[0]})"


def _plain(text: str) -> str:
    """Return the text with look-alikes made plain and ⅝ spelt " 5/8"."""
    spelt = []
    for character in text.translate(_ALIKE):
        if "VULGAR FRACTION" in unicodedata.name(character, ""):
            # NFKC spells the slash U+2044; the blank parts it from a whole number before it
            character = " " + unicodedata.normalize("NFKC", character).replace("⁄", "/")
        spelt.append(character)
    return "".join(spelt).strip()


def _quoted(text: str) -> str:
    """Return the text between quotes, on one line."""
    return '"' + "".join(c if c.isprintable() else " " for c in text).strip() + '"'


def _read_text(text: str, default_unit: Unit) -> tuple[Fraction, Fraction]:
    typed = _plain(text)
    if not typed:
        raise UnrollError("the length is empty")
    if len(typed) > _LONGEST:
        raise UnrollError(f'{_quoted(typed[:_LONGEST] + "...")} is too long for a length')
    parts = _LENGTH.fullmatch(typed)
    if parts is None or parts["number"] is None:
        raise UnrollError(f'{_quoted(text)} is not a length')
    number = parse_number(parts["number"])
    return (-number if parts["sign"] == "-" else number), _scale(parts["unit"], text, default_unit)


def _scale(spelling: str | None, text: str, default_unit: Unit) -> Fraction:
    if spelling is None:
        return MM_PER_UNIT[default_unit]
    word = spelling.strip().lower().rstrip(".")
    if word in _SPELLINGS:
        return _SPELLINGS[word]
    if word in {"'", "ft", "foot", "feet"} or word.startswith(("'", "ft", "feet")):
        raise UnrollError(f'{_quoted(text)} is in feet; write it in inches')
    raise UnrollError(f'{_quoted(text)} has the unit {_quoted(spelling)}; expected in, cm or mm')


def _as_fraction(inches: float, denominator: int) -> str:
    parts = Fraction(round(abs(inches) * denominator), denominator)
    whole, rest = divmod(parts, 1)
    sign = "-" if inches < 0 and parts else ""
    if not rest:
        return f"{sign}{whole}"
    return f"{sign}{whole} {rest}" if whole else f"{sign}{rest}"


def _without_minus_zero(value: float) -> str:
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text


def unit_named(name: str) -> Unit:
    """Return `name` as a unit.

    Raises
    ------
    UnrollError
        When it is none of "in", "cm" and "mm".

    Examples
    --------
    >>> unit_named("cm")
    'cm'
    """
    if name not in UNITS:
        raise UnrollError(f'unit is "{name}"; expected "in", "cm" or "mm"')
    return name
