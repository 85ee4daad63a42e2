"""The shapes of an SVG drawing, each held to limits and to the grammar before it is worked on.

Elements, units and path data: W3C, Scalable Vector Graphics (SVG) 1.1 (Second Edition), 2011,
chapters 7 to 9. A reader of drawings that skips what it does not understand would cut a wrong
armhole, and one that follows every reference or nesting can be made to run for ever; so the XML is
walked here, and only shapes that are sound and small reach the library that knows their geometry.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from xml.parsers import expat

from svgelements import Matrix

from unroll.errors import UnrollError

DEEPEST = 100
LARGEST_NUMBER = 1e7
_LONGEST = 30  # characters that a number needs at most
_LONGEST_TRANSFORM = 1000  # characters

# Atomic groups: a text of a million digits must not be tried in every division.
_NUMBER_TEXT = r"(?>[-+]?(?>\d++\.?\d*+|\.\d++)(?:[eE][-+]?\d++)?)"
_GAP = r"[\s,]*+"
_NUMBER = re.compile(_NUMBER_TEXT)
_LENGTH = re.compile(rf"\s*({_NUMBER_TEXT})\s*(px|mm|cm|in|pt|pc|[qQ]|%|)\s*")
_TRANSFORM = re.compile(r"\s*+(\w++)\s*+\(([^()]*+)\)")
_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*+)")
_ARC = re.compile(
    rf"{_GAP}({_NUMBER_TEXT}){_GAP}({_NUMBER_TEXT}){_GAP}({_NUMBER_TEXT}){_GAP}"
    rf"([01]){_GAP}([01]){_GAP}({_NUMBER_TEXT}){_GAP}({_NUMBER_TEXT})"
)
_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_TRANSFORM_TAKES = {
    "matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,),
    "skewY": (1,),
}  # fmt: skip
_GROUPS = ("g", "a", "switch")
_SHELVES = ("defs", "symbol")  # what is in them shows only where it is copied
_HREFS = ("href", "http://www.w3.org/1999/xlink}href")
DEEPEST_COPIES, NAMES_AROUND = 8, 20  # copies of copies; named elements around one, the inner ones
_LENGTHS = {
    "line": ("x1", "y1", "x2", "y2"),
    "rect": ("x", "y", "width", "height", "rx", "ry"),
    "circle": ("cx", "cy", "r"),
    "ellipse": ("cx", "cy", "rx", "ry"),
}
_PEN = ("stroke", "stroke-width", "stroke-dasharray")
_SHAPES = (*_LENGTHS, "path", "polygon", "polyline")
_NAMESPACES = ("", "http://www.w3.org/2000/svg")
_NO_DISPLAY = re.compile(r"(?:^|;)\s*display\s*:\s*none")


@dataclass(frozen=True)
class Limits:
    """How much a drawing may hold.

    Attributes
    ----------
    elements, numbers : int
    too_much : str
        What is told where there is more.
    """

    elements: int
    numbers: int
    too_much: str


# an armhole of four curves has 26 numbers, an automatic tracing some thousands
ARMHOLE = Limits(5000, 40_000, "more than an armhole's line? trace it with fewer points")
PIECES = Limits(40_000, 600_000, "more than the pieces' lines? keep these alone")


@dataclass(frozen=True)
class SvgShape:
    """One shape of a drawing, its text rewritten without anything that can be misread.

    Attributes
    ----------
    tag : str
        "path", "polygon", "polyline", "line", "rect", "circle" or "ellipse".
    name : str
        Its id; "" where it has none.
    values : dict of str to str
        Its geometry: path data, points or lengths.
    placed : Matrix
        From its own coordinates to the drawing's.
    style: str
        Its class, else its pen: what tells one kind of line from another.
    """

    tag: str
    name: str
    values: dict[str, str]
    placed: Matrix
    style: str = ""


@dataclass
class SvgDrawing:
    """What of a drawing matters here.

    Attributes
    ----------
    page : dict of str to str
        The outermost element's width, height and viewBox, as far as it has them.
    shapes : list of SvgShape
        Those that show: not in definitions, clips, masks, symbols or hidden groups.
    copies : int
        Copies by reference (<use>) of something that is not in the drawing, and so are left out.
    """

    page: dict[str, str] = field(default_factory=dict)
    shapes: list[SvgShape] = field(default_factory=list)
    copies: int = 0


def read_drawing(raw: bytes, limits: Limits = ARMHOLE) -> SvgDrawing:
    """Return the page and the shapes of an SVG drawing.

    Parameters
    ----------
    raw : bytes
        The file; how large it may be is the caller's to say.
    limits : Limits

    Raises
    ------
    UnrollError
        When it is no SVG drawing, its encoding is unknown, it declares entities, or anything in
        it is beyond the limits or breaks the grammar. The text goes on after the file's name.
    """
    return _Walk(limits).over(raw)


def length_of(text: str, what: str) -> tuple[float, str]:
    """Return a length's number and its unit, "" where it has none.

    Examples
    --------
    >>> length_of("4.5mm", "a width"), length_of("50 %", "a width")
    ((4.5, 'mm'), (50.0, '%'))
    """
    found = _LENGTH.fullmatch(text)
    if found is None:
        raise UnrollError(f'has {what} of "{_short(text)}"; expected a number, alone or with mm, '
                          "cm, in, pt, pc, px or %")
    return _sound(found[1], what), found[2].lower()


def article(tag: str) -> str:
    """Return a shape's name after "a" or "an"."""
    return f"an {tag}" if tag == "ellipse" else f"a {tag}"


def numbers_of(text: str, what: str, limits: Limits = ARMHOLE) -> list[float]:
    """Return the numbers of a list that spaces and commas part."""
    if len(text) > _LONGEST * limits.numbers:
        raise _too_many(len(text) // 8, limits, about="about ")
    left_over = _NUMBER.sub(" ", text).replace(",", " ").strip()
    if left_over:
        raise UnrollError(f'has {what} with "{_short(left_over)}" among its numbers (a broken '
                          "drawing?)")
    return [_sound(number, what) for number in _NUMBER.findall(text)]


def _sound(number: str, what: str) -> float:
    value = float(number)
    if not abs(value) <= LARGEST_NUMBER:
        raise UnrollError(f"has {what} that holds {_short(number)}; expected at most "
                          f"{LARGEST_NUMBER:.0f} (a broken drawing?)")
    return value


def _short(text: str) -> str:
    return text if len(text) <= 30 else text[:27] + "..."


def _too_many(count: int, limits: Limits, about: str = "") -> UnrollError:
    return UnrollError(f"has {about}{count} numbers; expected at most {limits.numbers} "
                       f"({limits.too_much})")


def _arcs_apart(text: str) -> str:
    """Return an arc's numbers with gaps between them; a search would try a million digits anew."""
    apart: list[str] = []
    at = 0
    while found := _ARC.match(text, at):
        apart += found.groups()
        at = found.end()
    return f"{' '.join(apart)} {text[at:]}"


def _words(values: list[float]) -> str:
    return " ".join(f"{value:.15g}" for value in values)


def _pen(attributes: dict[str, str]) -> str:
    """Return what tells one kind of line from another: the class, else the pen's properties."""
    if attributes.get("class"):
        return attributes["class"][:80]
    properties = dict(
        (part.split(":", 1) + [""])[:2] for part in attributes.get("style", "")[:2000].split(";")
    ) | attributes
    found = {key.strip(): value.strip() for key, value in properties.items()}
    return " ".join(found[name] for name in _PEN if name in found)[:80]


@dataclass(frozen=True)
class _Place:
    """Where an element lies: its matrix, whether it shows, and the named elements around it.

    With each name goes the matrix of that element's parent.
    """

    matrix: Matrix
    shows: bool
    names: tuple[tuple[str, Matrix], ...] = ()


@dataclass(frozen=True)
class _Copy:
    """A copy by reference: of what, and where."""

    of: str
    placed: Matrix


class _Walk:
    """One walk through a drawing's XML."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.drawing = SvgDrawing()
        self.pens: list[str] = []  # of each open element
        self.open: list[_Place | None] = []  # of each open element; None: never shown
        self.named: dict[str, list[tuple[SvgShape | _Copy, Matrix]]] = {}  # what is in each name
        self.copies: list[_Copy] = []  # that show
        self.elements = 0
        self.numbers = 0
        self.encoding = ""

    def over(self, raw: bytes) -> SvgDrawing:
        parser = expat.ParserCreate(namespace_separator="}")
        parser.buffer_text = True
        parser.XmlDeclHandler = self.declared
        parser.EntityDeclHandler = self.entity
        parser.StartElementHandler = self.start
        parser.EndElementHandler = self.end
        try:
            parser.Parse(raw, True)
        except UnrollError:
            raise
        except LookupError:
            raise UnrollError(f'is written in an unknown encoding, "{_short(self.encoding)}"; save '
                              "it as UTF-8") from None
        except (expat.ExpatError, ValueError):
            raise UnrollError("is no SVG drawing") from None
        for copy in self.copies:
            found = list(self.copied(copy, 0))
            self.drawing.shapes += found
            self.drawing.copies += not found
        return self.drawing

    def copied(self, copy: _Copy, depth: int) -> Iterator[SvgShape]:
        """Yield the shapes that a copy by reference draws; all of them count as if written out."""
        if depth >= DEEPEST_COPIES:
            raise UnrollError(f"has copies by reference nested more than {DEEPEST_COPIES} deep; "
                              "unlink the clones")
        for item, parent in self.named.get(copy.of, ()):
            self.one_more()
            try:
                placed = item.placed * ~parent * copy.placed
            except ZeroDivisionError:  # scaled to nothing
                continue
            if isinstance(item, SvgShape):
                self.count(sum(text.count(" ") + 1 for text in item.values.values()))
                yield replace(item, placed=placed)
            else:
                yield from self.copied(_Copy(item.of, placed), depth + 1)

    def declared(self, _version: str, encoding: str | None, _standalone: int) -> None:
        self.encoding = encoding or ""

    def entity(self, name: str, *_rest: object) -> None:
        raise UnrollError(f'declares an entity, "{_short(name)}"; save it as plain SVG')

    def end(self, _tag: str) -> None:
        self.open.pop()
        self.pens.pop()

    def start(self, full_tag: str, attributes: dict[str, str]) -> None:
        namespace, _, tag = full_tag.rpartition("}")
        self.one_more()
        if len(self.open) >= DEEPEST:
            raise UnrollError(f"has elements nested more than {DEEPEST} deep; ungroup its lines")
        known = tag if namespace in _NAMESPACES else ""
        self.pens.append(_pen(attributes) or (self.pens[-1] if self.pens else ""))
        self.open.append(self.root(known, attributes) if not self.open
                         else self.inner(known, attributes, self.open[-1]))

    def root(self, tag: str, attributes: dict[str, str]) -> _Place:
        if tag != "svg":
            raise UnrollError("is no SVG drawing")
        names = ("width", "height", "viewBox")
        self.drawing.page = {name: attributes[name] for name in names if name in attributes}
        return _Place(Matrix(), shows=True)

    def inner(
        self, tag: str, attributes: dict[str, str], around: _Place | None
    ) -> _Place | None:
        if around is None or tag not in (*_GROUPS, *_SHELVES, *_SHAPES, "svg", "use"):
            return None
        if tag == "symbol" and "viewBox" in attributes:  # it would be scaled where it is copied
            return None
        if attributes.get("display") == "none" or _NO_DISPLAY.search(attributes.get("style", "")):
            return None
        if tag == "svg":
            raise UnrollError("has a drawing within the drawing; expected one <svg> alone")
        placed = self.transform(attributes.get("transform", "")) * around.matrix
        name = attributes.get("id", "")[:200]
        names = (*around.names, *([(name, around.matrix)] if name else []))[-NAMES_AROUND:]
        shows = around.shows and tag not in _SHELVES
        if tag in _SHAPES:
            values = dict(self.values(tag, attributes))
            shape = SvgShape(tag, name, values, placed, self.pens[-1])
            self.keep(shape, names)
            self.drawing.shapes += [shape] if shows else []
        elif tag == "use":
            copy = self.copy(attributes, placed)
            self.keep(copy, names)
            self.copies += [copy] if shows else []
        return _Place(placed, shows, names)

    def keep(self, item: SvgShape | _Copy, names: tuple[tuple[str, Matrix], ...]) -> None:
        """Note what a copy of each element around it would draw."""
        for name, parent in names:
            self.named.setdefault(name, []).append((item, parent))

    def copy(self, attributes: dict[str, str], placed: Matrix) -> _Copy:
        """Return a copy of an element of this drawing; of anything elsewhere it is of nothing."""
        target = next((attributes[key] for key in _HREFS if key in attributes), "")
        moved = [attributes.get(key, "0") for key in ("x", "y")]
        (x, one), (y, other) = (length_of(text, "a copy with a place") for text in moved)
        if not {one, other} <= {"", "px"}:
            raise UnrollError(f"has a copy by reference moved by {_short(', '.join(moved))}; "
                              "expected numbers alone (unlink the clones)")
        shift = Matrix(f"translate({x:.15g} {y:.15g})")
        return _Copy(target[1:] if target.startswith("#") else "", shift * placed)

    def values(self, tag: str, attributes: dict[str, str]) -> Iterator[tuple[str, str]]:
        if tag == "path":
            yield "d", self.path(attributes.get("d", ""))
        elif tag in ("polygon", "polyline"):
            points = self.counted(attributes.get("points", ""), f"a {tag}")
            if len(points) % 2:
                raise UnrollError(f"has a {tag} of {len(points)} numbers; expected two a point (a "
                                  "broken drawing?)")
            yield "points", _words(points)
        for name in _LENGTHS.get(tag, ()):
            if name in attributes:
                value, unit = length_of(attributes[name], f"{article(tag)} with {name}")
                yield name, f"{value:.15g}{unit}"

    def one_more(self) -> None:
        self.elements += 1
        if self.elements > self.limits.elements:
            raise UnrollError(f"has more than {self.limits.elements} elements "
                              f"({self.limits.too_much})")

    def counted(self, text: str, what: str) -> list[float]:
        values = numbers_of(text, what, self.limits)
        self.count(len(values))
        return values

    def count(self, count: int) -> None:
        self.numbers += count
        if self.numbers > self.limits.numbers:
            raise _too_many(self.numbers, self.limits)

    def path(self, data: str) -> str:
        """Return path data with each command's numbers counted and written alike."""
        if len(data) > _LONGEST * self.limits.numbers:
            raise _too_many(len(data) // 8, self.limits, about="about ")
        commands = list(_COMMAND.finditer(data))
        self.count(len(commands))
        before = data[: commands[0].start()] if commands else data
        if before.strip() or (commands and commands[0][1] not in "Mm"):
            raise UnrollError('has a path that does not start with "M" (a broken drawing?)')
        return " ".join(self.command(found[1], found[2]) for found in commands)

    def command(self, letter: str, text: str) -> str:
        takes = _TAKES[letter.upper()]
        if letter in "Aa":  # the two flags may be written without a gap: "01" or "013"
            text = _arcs_apart(text)
        values = self.counted(text, "a path")
        whole = not values if takes == 0 else values and len(values) % takes == 0
        if not whole:
            raise UnrollError(f'has a path with {len(values)} numbers after "{letter}"; expected '
                              f"{f'a multiple of {takes}' if takes else 'none'} (a broken "
                              "drawing?)")
        if letter in "Aa" and not set(values[3::7] + values[4::7]) <= {0.0, 1.0}:
            raise UnrollError("has a path with an arc whose flags are not 0 or 1 (a broken "
                              "drawing?)")
        return letter + _words(values)

    def transform(self, text: str) -> Matrix:
        """Return the matrix of a transform list: the rightmost acts first."""
        found = list(_TRANSFORM.finditer(text[:_LONGEST_TRANSFORM]))
        if len(text) > _LONGEST_TRANSFORM or _TRANSFORM.sub(" ", text).replace(",", " ").strip():
            raise UnrollError(f'has a transform of "{_short(text)}", which cannot be read')
        written = [self.one_transform(part[1], part[2]) for part in found]
        return Matrix(" ".join(written)) if written else Matrix()

    def one_transform(self, kind: str, inside: str) -> str:
        values = self.counted(inside, f"a transform {_short(kind)}")
        takes = _TRANSFORM_TAKES.get(kind, ())
        if len(values) not in takes:
            expected = " or ".join(map(str, takes)) or "matrix, translate, scale, rotate or skew"
            raise UnrollError(f"has a transform {_short(kind)} of {len(values)} numbers; expected "
                              f"{expected}")
        return f"{kind}({_words(values)})"
