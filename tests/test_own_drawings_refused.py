"""Drawings of a draft that must not get through: one clear line each, nothing read elsewhere."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest

from tests.test_own_drawings import SHEET, written
from unroll.disk import own_drawings
from unroll.disk.own_drawings import dxf_lines, svg_lines
from unroll.disk.own_pieces import read_pieces
from unroll.drafts import own_outlines
from unroll.drafts.own_outlines import outlines_of
from unroll.errors import UnrollError
from unroll.nouns.own import DrawnLine

PAGE = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm">{}</svg>'
BOMB = ('<!DOCTYPE s [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
        + PAGE.format("<text>&b;</text>"))
OUTSIDE = '<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/hostname">]>' + PAGE.format("&x;")
BAD_SVG = {
    "entities": (BOMB, "declares an entity"),
    "a reference outside": (OUTSIDE, "declares an entity"),
    "a script alone": (PAGE.format("<script>alert(1)</script>"), "has no line"),
    "copies of nothing": (PAGE.format('<use href="other.svg#p"/>'), "of what is not in it"),
    "a copy of itself": (PAGE.format('<g id="a"><path d="M0 0h50v60z"/><use href="#a"/></g>'),
                         "nested more than 8 deep"),
    "copies without end": (PAGE.format('<g id="a0"><path d="M0 0h50v60z"/></g>' + "".join(
        f'<g id="a{k}">' + f'<use href="#a{k - 1}"/>' * 40 + "</g>" for k in range(1, 6))),
        "more than 40000 elements"),
    "a copy moved by millimetres": (PAGE.format('<path id="p" d="M0 0h50v60z"/>'
                                                '<use href="#p" x="5mm"/>'), "numbers alone"),
    "a picture from the network": (PAGE.format('<image href="http://0.0.0.0/x"/>'), "has no line"),
    "huge numbers": (PAGE.format('<path d="M0 0 L1e99 0 L0 50 Z"/>'), "expected at most"),
    "no numbers": (PAGE.format('<path d="M0 0 LNaN 0 Z"/>'), "among its numbers"),
    "far away": (PAGE.format('<path transform="scale(9999)" d="M0 0 L9999 0 L0 50 Z"/>'),
                 "from the page's corner"),
    "a million points": (PAGE.format(f'<polyline points="{"1 2 " * 1_000_000}"/>'),
                         "expected at most 600000"),
    "nothing closed": (PAGE.format('<path d="M0 0 L100 0 L100 50 L0 90"/>'),
                       "no closed outline"),
    "curves that go nowhere": (PAGE.format('<path d="M5 5 C5 5 5 5 5 5 Z"/>' * 9),
                               "no closed outline"),
    "a figure of eight": (PAGE.format('<path d="M0 0 L300 290 L300 0 L0 250 Z"/>'),
                          "crosses itself near"),
    "no drawing": ("hello", "is no SVG drawing"),
}


@pytest.mark.parametrize("kind", BAD_SVG)
def test_a_hostile_svg_gets_one_clear_line(tmp_path, kind) -> None:
    content, why = BAD_SVG[kind]
    path = written(tmp_path, "bad.svg", content)
    with pytest.raises(UnrollError, match=why) as caught:
        read_pieces(SHEET, [path])
    assert str(caught.value).startswith("bad.svg ") and "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


def dxf_of(draw) -> bytes:
    document = ezdxf.new("R2000", units=4)
    draw(document)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def _nested(document) -> None:
    for depth in range(12):
        block = document.blocks.new(f"B{depth}")
        if depth:
            block.add_blockref(f"B{depth - 1}", (0, 0))
        block.add_line((0, 0), (1, 1))
    document.modelspace().add_blockref("B11", (0, 0))


def _doubling(document) -> None:
    for depth in range(8):
        block = document.blocks.new(f"B{depth}")
        for k in range(12):
            if depth:
                block.add_blockref(f"B{depth - 1}", (k, 0))
        block.add_line((0, 0), (1, 1))
    document.modelspace().add_blockref("B7", (0, 0))


def _many(document) -> None:
    document.blocks.new("B").add_line((0, 0), (1, 1))
    document.modelspace().add_blockref(
        "B", (0, 0), dxfattribs={"row_count": 9999, "column_count": 9999,
                              "row_spacing": 1, "column_spacing": 1})


BAD_DXF = {
    "no drawing": (lambda: b"hello", "is no DXF drawing"),
    "binary": (lambda: b"AutoCAD Binary DXF\r\n\x1a\x00", "is a binary DXF"),
    "blocks in blocks": (lambda: dxf_of(_nested), "nested more than 8 deep"),
    "blocks that double": (lambda: dxf_of(_doubling), "has more than 40000 lines"),
    "a block a million times": (lambda: dxf_of(_many), "inserts a block"),
    "far away": (lambda: dxf_of(lambda d: d.modelspace().add_circle((0, 0), 1e12)),
                 "from the page's corner"),
    "nothing": (lambda: dxf_of(lambda d: None), "has no line"),
    "no numbers": (lambda: dxf_of(lambda d: d.modelspace().add_line((0, 0), (float("nan"), 1))),
                   "from the page's corner|is no DXF"),
}


@pytest.mark.parametrize("kind", BAD_DXF)
def test_a_hostile_dxf_gets_one_clear_line(tmp_path, kind) -> None:
    make, why = BAD_DXF[kind]
    with pytest.raises(UnrollError, match=why):
        read_pieces(SHEET, [written(tmp_path, "bad.dxf", make())])


def test_limits_on_how_much_there_is_are_told(tmp_path, monkeypatch) -> None:
    text = dxf_of(lambda d: d.modelspace().add_circle((0, 0), 40))
    monkeypatch.setattr(own_drawings, "MOST_DXF_LINES", 10)
    with pytest.raises(UnrollError, match="lines of text; expected at most 10"):
        dxf_lines(text)
    monkeypatch.setattr(own_drawings, "MOST_POINTS", 10)
    with pytest.raises(UnrollError, match="points; expected at most 10"):
        svg_lines(PAGE.format('<circle cx="40" cy="40" r="30"/>').encode())
    monkeypatch.setattr(own_outlines, "MOST_LOOPS", 1)
    loops = [DrawnLine(np.array([[0, 0], [50, 0], [40, 60], [0, 0]]) + [k, 0]) for k in (0, 99)]
    with pytest.raises(UnrollError, match="2 closed lines; expected at most 1"):
        outlines_of(loops, file="a", closes_within=1.0)


def test_a_broken_entity_is_told(monkeypatch) -> None:
    def broken(_entity):
        raise ValueError

    text = dxf_of(lambda d: d.modelspace().add_circle((0, 0), 40))
    monkeypatch.setattr("ezdxf.path.make_path", broken)
    with pytest.raises(UnrollError, match="has a CIRCLE that cannot be drawn"):
        dxf_lines(text)


def test_files_of_other_kinds_and_none_are_refused(tmp_path) -> None:
    with pytest.raises(UnrollError, match="is neither a drawing nor a photograph"):
        read_pieces(SHEET, [written(tmp_path, "draft.pdf", "x")])
    with pytest.raises(UnrollError, match="the draft is 0 files; expected 1 to 20"):
        read_pieces(SHEET, [])
    with pytest.raises(UnrollError, match="nowhere.svg is not there"):
        read_pieces(SHEET, [tmp_path / "nowhere.svg"])
