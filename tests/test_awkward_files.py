"""Files that no maker means to give: each is refused in one clear line, at once, or read right."""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.test_bad_sheets import GOOD
from unroll.disk.outlines import load_outline
from unroll.disk.sheets import load_sheet
from unroll.errors import UnrollError

PAGE = 'width="200mm" height="200mm" viewBox="0 0 200 200"'
OVAL = '<ellipse cx="100" cy="100" rx="49" ry="58"/>'
UNITS = "expected a number, alone or with mm, cm, in, pt, pc, px or %"
BROKEN = "(a broken drawing?)"
MANY = "expected at most 40000 (more than an armhole's line? trace it with fewer points)"


def drawing(body: str, page: str = PAGE, head: str = "") -> bytes:
    """Return a drawing's bytes."""
    return f'{head}<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}</svg>'.encode()


def path(data: str) -> bytes:
    """Return a drawing of one path."""
    return drawing(f'<path d="{data}"/>')


def moved(transform: str) -> bytes:
    """Return a drawing whose oval has a transform."""
    return drawing(f'<g transform="{transform}">{OVAL}</g>')


BAD_DRAWINGS: dict[str, tuple[bytes, str]] = {
    # --- the issue's ---------------------------------------------------------------------------
    "an empty cx": (drawing('<circle cx="" r="49"/>'), f'has a circle with cx of ""; {UNITS}'),
    "two points in a width": (drawing(OVAL, 'width="4.0.0mm" viewBox="0 0 9 9"'),
                              f'has a page width of "4.0.0mm"; {UNITS}'),
    "a point for a width": (drawing(OVAL, 'width="." viewBox="0 0 9 9"'),
                            f'has a page width of "."; {UNITS}'),
    "3000 nested groups": (drawing("<g>" * 3000 + OVAL + "</g>" * 3000),
                           "has elements nested more than 100 deep; ungroup its lines"),
    "20 000 nested transforms": (
        drawing('<g transform="translate(1,0)">' * 20_000 + OVAL + "</g>" * 20_000),
        "has elements nested more than 100 deep; ungroup its lines"),
    "an arc of radius 1e308": (path("M0 0A1e308 1e308 0 0 1 50 50z"),
                               "has a path that holds 1e308; expected at most 10000000 "
                               f"{BROKEN}"),
    "an unknown encoding": (drawing(OVAL, head='<?xml version="1.0" encoding="x-klingon"?>'),
                            'is written in an unknown encoding, "x-klingon"; save it as UTF-8'),
    "a million points": (drawing(f'<polygon points="{"1,2 " * 10**6}"/>'),
                         f"has about 500000 numbers; {MANY}"),
    "a path of a million points": (path(f"M0 0{' 1,2' * 10**6}z"),
                                   f"has about 500000 numbers; {MANY}"),
    # --- sizes and counts ----------------------------------------------------------------------
    "20 001 points": (drawing(f'<polyline points="{"1,2 " * 20_001}"/>'),
                      f"has 40002 numbers; {MANY}"),
    "40 001 commands": (path("M" + "z" * 40_001), f"has 40002 numbers; {MANY}"),
    "5001 elements": (drawing("<desc/>" * 5001),
                      "has more than 5000 elements (more than an armhole's line? trace it with "
                      "fewer points)"),
    "4000 ovals": (drawing(OVAL * 4000), "has 4000 lines; expected one closed path, or one whose "
                                         'id is "armhole"'),
    "25 MB": (b" " * 25_000_000, "holds 25.0 MB; expected at most 20 MB (another kind of file?)"),
    "a transform without an end": (moved("rotate(1)" * 9999),
                                   'has a transform of "rotate(1)rotate(1)rotate(1)...", which '
                                   "cannot be read"),
    "a million digits": (path("M" + "1" * 1_000_000),
                         "has a path that holds 111111111111111111111111111...; expected at "
                         f"most 10000000 {BROKEN}"),
    "an arc of digits": (path("M0 0A" + "1" * 100_000),
                         "has a path that holds 111111111111111111111111111...; expected at "
                         f"most 10000000 {BROKEN}"),
    "scaled out of sight": (drawing('<g transform="scale(1e7)">' * 60 + OVAL + "</g>" * 60),
                            "has a line more than 1000000 mm from the page's corner "
                            f"{BROKEN}"),
    "far off": (moved("translate(2e6)"),
                f"has a line more than 1000000 mm from the page's corner {BROKEN}"),
    # --- XML -----------------------------------------------------------------------------------
    "nothing": (b"", "is no SVG drawing"),
    "zeros": (bytes(500), "is no SVG drawing"),
    "another XML": (b"<html><svg/></html>", "is no SVG drawing"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "is no SVG drawing"),
    "an open element": (b"<svg><g></svg>", "is no SVG drawing"),
    "an encoding of many bytes": (drawing(OVAL, head='<?xml version="1.0" encoding="euc-jp"?>'),
                                  "is no SVG drawing"),
    "bytes that are no UTF-8": (drawing(OVAL) + b"\xff", "is no SVG drawing"),
    "a bomb": (drawing(OVAL, head='<!DOCTYPE svg [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]>'),
               'declares an entity, "a"; save it as plain SVG'),
    "a file for an entity": (
        drawing(OVAL, head='<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>'),
        'declares an entity, "a"; save it as plain SVG'),
    "a drawing in another": (drawing(f"<svg>{OVAL}</svg>"),
                             "has a drawing within the drawing; expected one <svg> alone"),
    "another namespace": (drawing('<x:circle xmlns:x="urn:x" r="49"/>'),
                          "has no line; expected one closed path"),
    "hidden": (drawing(f'<g style="fill:red; display : none">{OVAL}</g>'),
               "has no line; expected one closed path"),
    "in a clip": (drawing(f"<clipPath>{OVAL}</clipPath>"), "has no line; expected one closed path"),
    # --- lengths -------------------------------------------------------------------------------
    "a page in ems": (drawing(OVAL, 'width="3em" viewBox="0 0 9 9"'),
                      f'has a page width of "3em"; {UNITS}'),
    "a page of nothing": (drawing(OVAL, 'width="0mm" viewBox="0 0 9 9"'),
                          'has a page width of "0mm"; expected more than 0'),
    "a page inside out": (drawing(OVAL, 'height="-9mm" viewBox="0 0 9 9"'),
                          'has a page height of "-9mm"; expected more than 0'),
    "a view of nothing": (drawing(OVAL, 'width="9mm" viewBox="0 0 0 9"'),
                          'has a viewBox of "0 0 0 9"; expected four numbers, the last two above '
                          "0"),
    "a view of three": (drawing(OVAL, 'width="9mm" viewBox="0 0 9"'),
                        'has a viewBox of "0 0 9"; expected four numbers, the last two above 0'),
    "a view in words": (drawing(OVAL, 'width="9mm" viewBox="all of it"'),
                        f'has a viewBox with "all of it" among its numbers {BROKEN}'),
    "a radius in words": (drawing('<circle r="big"/>'),
                          f'has a circle with r of "big"; {UNITS}'),
    "a radius that is none": (drawing('<ellipse rx="nan" ry="5"/>'),
                              f'has an ellipse with rx of "nan"; {UNITS}'),
    "a width beyond floats": (drawing('<rect width="1e999" height="5"/>'),
                              "has a rect with width that holds 1e999; expected at most "
                              f"10000000 {BROKEN}"),
    "percent of no page": (drawing('<circle cx="50%" r="49"/>', ""),
                           "has a circle at 50% of a page without a size; give the page a width "
                           "and a height in mm"),
    # --- paths ---------------------------------------------------------------------------------
    "a letter that is no command": (path("M0 0 B 5 5"),
                                    f'has a path with "B" among its numbers {BROKEN}'),
    "points alone": (path("M0 0 L . ."), f'has a path with ". ." among its numbers {BROKEN}'),
    "an arc of six": (path("M0 0 A 5 5 0 1 9 9"),
                      'has a path with 6 numbers after "A"; expected a multiple of 7 (a broken '
                      "drawing?)"),
    "a flag of 2": (path("M0 0 A 5 5 0 2 1 9 9"),
                    f"has a path with an arc whose flags are not 0 or 1 {BROKEN}"),
    "a number after Z": (path("M0 0h9v9z5"),
                         f'has a path with 1 numbers after "z"; expected none {BROKEN}'),
    "a start without a place": (path("M"),
                                'has a path with 0 numbers after "M"; expected a multiple of 2 '
                                f"{BROKEN}"),
    "an odd number of points": (drawing('<polygon points="1 2 3"/>'),
                                f"has a polygon of 3 numbers; expected two a point {BROKEN}"),
    "a radius too small for a float": (path("M0 0A1e-320 1e-320 0 0 1 50 50z"),
                                       f"has a path that cannot be drawn {BROKEN}"),
    "an open line": (path("M0 0h90v90"),
                     "has a line that is open by 127.3 mm; expected a closed path"),
    # --- transforms ----------------------------------------------------------------------------
    "a matrix of five": (moved("matrix(1 0 0 1 5)"),
                         "has a transform matrix of 5 numbers; expected 6"),
    "turned about x alone": (moved("rotate(5 5)"),
                             "has a transform rotate of 2 numbers; expected 1 or 3"),
    "an unknown transform": (moved("bend(5)"),
                             "has a transform bend of 1 numbers; expected matrix, translate, "
                             "scale, rotate or skew"),
    "a transform with a unit": (moved("translate(5mm)"),
                                f'has a transform translate with "mm" among its numbers {BROKEN}'),
    "an open transform": (moved("scale(2"),
                          'has a transform of "scale(2", which cannot be read'),
    "a transform of words": (moved("none at all"),
                             'has a transform of "none at all", which cannot be read'),
}


@pytest.mark.parametrize("kind", BAD_DRAWINGS)
def test_an_awkward_drawing_is_refused_in_one_line(tmp_path: Path, kind: str) -> None:
    content, expected = BAD_DRAWINGS[kind]
    (tmp_path / "plate.svg").write_bytes(content)
    with warnings.catch_warnings(), pytest.raises(UnrollError) as refusal:
        warnings.simplefilter("error")
        load_outline(tmp_path / "plate.svg")
    assert str(refusal.value) == f'"plate.svg" {expected}'


WIDE = 2 * 49.0
READ: dict[str, bytes] = {
    "millimetres": drawing('<circle cx="100mm" cy="1cm" r="49"/>'.replace("100mm", "377.953")),
    "a centre in mm": drawing('<circle cx="100mm" r="49"/>'),
    "a centre in percent": drawing('<circle cx="50%" r="49"/>'),
    "a radius in percent": drawing('<circle cx="50%" r="24.5%"/>'),
    "inches on a page in pixels": drawing(f'<circle r="{49 / 25.4}in"/>', ""),
    "a public document type": drawing(OVAL.replace("58", "49"), head=(
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://localhost/svg11.dtd">')),
    "UTF-16": drawing(OVAL.replace("58", "49")).decode().encode("utf-16"),
    "another alphabet": drawing(
        '<desc>\xe9</desc><circle r="49"/>', head='<?xml version="1.0" encoding="latin-1"?>'
    ).decode().encode("latin-1"),
    "a link around it": drawing(f'<a href="http://localhost/">{OVAL}</a>'.replace("58", "49")),
    "a picture beneath it": drawing(f'<image href="http://localhost/a.png"/>{OVAL}'.replace(
        "58", "49")),
    "a number with a bare point": path("M51. 100.a49. 49. 0 1 1 98. 0.a49. 49. 0 1 1-98. 0.z"),
    "a rounded rectangle": drawing('<rect width="98" height="98" rx="49"/>'),
    "20 000 points": drawing('<polygon points="' + " ".join(
        f"{49 * x:.4f},{49 * y:.4f}" for x, y in np.column_stack([
            np.cos(np.linspace(0, 2 * np.pi, 19_000)), np.sin(np.linspace(0, 2 * np.pi, 19_000))])
        ) + '"/>'),
    "4000 small arcs": path("M49 0" + "".join(
        f"A49 49 0 0 1 {49 * np.cos(t):.5f} {49 * np.sin(t):.5f}"
        for t in np.linspace(0, 2 * np.pi, 4001)[1:])),
}


@pytest.mark.parametrize("kind", READ)
def test_a_round_of_98_mm_is_read_however_awkwardly_it_is_drawn(tmp_path: Path, kind: str) -> None:
    (tmp_path / "plate.svg").write_bytes(READ[kind])
    points = load_outline(tmp_path / "plate.svg")
    # 64 chords a quarter: the widest reach is met at the quarters themselves
    assert np.ptp(points, axis=0) == pytest.approx([WIDE, WIDE], abs=0.05)


def fifo(path: Path) -> None:
    """Put a pipe that nobody writes to at `path`."""
    os.mkfifo(path)


SPECIAL: dict[str, tuple[Callable[[Path], object], str]] = {
    "a pipe": (fifo, "is a pipe, a socket or a device; expected an ordinary file"),
    "a device": (lambda path: path.symlink_to("/dev/zero"),
                 "is a pipe, a socket or a device; expected an ordinary file"),
    "a folder": (Path.mkdir, "is a folder; expected a file"),
    "a link to itself": (lambda path: path.symlink_to(path.name),
                         "cannot be opened: Too many levels of symbolic links"),
    "a link to nowhere": (lambda path: path.symlink_to("nowhere"), "is not there (mistyped?)"),
}


@pytest.mark.parametrize("kind", SPECIAL)
def test_what_is_no_ordinary_file_is_refused_at_once(tmp_path: Path, kind: str) -> None:
    make, expected = SPECIAL[kind]
    make(tmp_path / "a.toml")
    with pytest.raises(UnrollError) as refusal:
        load_sheet(tmp_path / "a.toml")
    assert str(refusal.value) == f"{tmp_path / 'a.toml'} {expected}"
    with pytest.raises(UnrollError) as refusal:
        load_outline(tmp_path / "a.toml")
    assert str(refusal.value) == f'"a.toml" {expected}'


def test_a_file_that_gives_no_size_is_read_no_further_than_allowed(
    monkeypatch: pytest.MonkeyPatch
) -> None:
    # a file of the system calls its size 0 and holds more
    monkeypatch.setattr("unroll.disk.sheets.LARGEST_SHEET", 10)
    with pytest.raises(UnrollError, match=r"^/proc/self/status holds 0\.0 MB; expected at most"):
        load_sheet("/proc/self/status")


EMPTY = ['unit is missing; write unit = "cm" (or "in", or "mm") on the first line',
         "the sheet has no arm; expected a table [arm], or [left_arm] and [right_arm]"]
BAD_SHEETS: dict[str, tuple[bytes, list[str]]] = {
    "UTF-16": (GOOD.encode("utf-16"), [
        "* is not UTF-8 text; save it as UTF-8 (a spreadsheet or a word-processor file?)"]),
    "UTF-16 without a mark": (GOOD.encode("utf-16-le"), [
        "* is not a text file; expected a sheet (another kind of file?)"]),
    "latin-1": ('unit = "cm"\nowner = "Zoë"'.encode("latin-1"), [
        "* is not UTF-8 text; save it as UTF-8 (a spreadsheet or a word-processor file?)"]),
    "300 kB": (b"#" * 300_000, [
        "* holds 0.3 MB; expected at most 0.1 MB (another kind of file?)"]),
    "2000 lines of prose": (b"It was a dark and stormy night\n" * 2000, [
        *(f'line {line}: "It was a dark and stormy night" has no "="; expected name = value'
          for line in range(1, 13)),
        "and 9 more"]),
    "3000 unknown names, near enough": ("\n".join(f"a{k} = 1" for k in range(2990)).encode(), [
        "the sheet has more than 500 names (another kind of file?)"]),
    "300 unknown names": ((GOOD + "\n".join(f"zzzz{k} = 1" for k in range(300))).encode(), [
        *(f"line {30 + k}: zzzz{k} is not a key of [make]; expected one of inner_share, cap, "
          "cap_ease, dart_count, darts, widest_dart, narrowest_tongue, widest_point, most_darts, "
          "seam_allowance, seam_allowances, round_to, paper, weave" for k in range(12)),
        "and 288 more"]),
    "40 000 readings": (GOOD.replace("= 15.8", f"= [{'1,' * 40_000}1]").encode(), [
        "the sheet has more than 20000 entries (a traced armhole of too many points?)"]),
    "60 readings": (GOOD.replace("= 15.8", f"= [{'1,' * 59}1]").encode(), [
        "line 12: wrist_girth has 60 readings; expected at most 50"]),
    "2001 points": (GOOD.replace("{width = 9.8, height = 11.6}",
                                 f"{{outline = [{'[1,2],' * 2001}]}}").encode(), [
        "line 21: armhole outline has 2001 points; expected at most 2000"]),
    "30 tables deep": (("a." * 30 + "a = 1").encode(), [
        "the sheet holds a number too long or a list too deep to read"]),
    "50 000 brackets": (b"a = " + b"[" * 50_000, [
        "the sheet holds a number too long or a list too deep to read"]),
    "5000 digits": (GOOD.replace("= 15.8", f"= {'9' * 5000}").encode(), [
        "the sheet holds a number too long or a list too deep to read"]),
    "5000 hexadecimal digits": (GOOD.replace("= 15.8", f"= 0x{'f' * 5000}").encode(), [
        "line 12: wrist_girth is a number of some 6021 digits; expected a length in cm (a slip of "
        "the pen?)"]),
    "1e308": (GOOD.replace("= 15.8", "= 1e308").encode(), [
        "line 12: wrist_girth is 1e+308; expected a length in cm (a slip of the pen?)"]),
    "-1e308": (GOOD.replace("= 15.8", "= -1e308").encode(), [
        "line 12: wrist_girth is -1e+308; expected a length in cm (a slip of the pen?)"]),
    "points at 1e308": (GOOD.replace("{width = 9.8, height = 11.6}",
                                     "{outline = [[1e308, 2]]}").encode(), [
        "line 21: armhole outline point 1 has 1e+308; expected a length in cm (a slip of the "
        "pen?)"]),
    "a line of 90 kB": (b"x" * 90_000, [*EMPTY,
        'line 1: "' + "x" * 40 + '" has no "="; expected name = value']),
    "a value of 90 kB": (b"a = " + b" " * 50_000 + b"x" * 40_000, [*EMPTY,
        "line 1: a has no value; write one, or \"\" for what was not measured"]),
    "a control character in the owner": (GOOD.replace("Ada", "\\u0007Ada").encode(), [
        "line 2: owner holds a line break or control character; expected one line of text"]),
    "no character in the owner": (GOOD.replace("Ada", "\ufffeAda").encode(), [
        "line 2: owner holds a line break or control character; expected one line of text"]),
    "a private character in the cloth": (
        GOOD.replace("[cloth]", '[cloth]\nname = "\ue000"').encode(), [
        "line 24: name holds a line break or control character; expected one line of text"]),
    "a paragraph mark in the date": (GOOD.replace("[arm]", 'date = "1\\u2029"\n[arm]').encode(), [
        "line 3: date holds a line break or control character; expected one line of text"]),
    "a NUL in an outline's name": (
        GOOD.replace("{width = 9.8, height = 11.6}", '{outline = "a\\u0000b"}').encode(), [
        'line 21: armhole outline "a?b" has a name that no file can have (a broken sheet?)']),
    "an outline's name too long": (
        GOOD.replace("{width = 9.8, height = 11.6}", f'{{outline = "{"a" * 300}"}}').encode(), [
        f'line 21: armhole outline "{"a" * 300}" cannot be opened: File name too long']),
    "an outline that is a folder": (
        GOOD.replace("{width = 9.8, height = 11.6}", '{outline = "/"}').encode(), [
        'line 21: armhole outline "" is a folder; expected a file']),
    "9000 lines": (b"\n" * 9000, [
        "the sheet has 9001 lines; expected at most 3000 (another kind of file?)"]),
}


@pytest.mark.parametrize("kind", BAD_SHEETS)
def test_an_awkward_sheet_is_refused_in_clear_lines(tmp_path: Path, kind: str) -> None:
    content, expected = BAD_SHEETS[kind]
    sheet = tmp_path / "a.toml"
    sheet.write_bytes(content)
    with warnings.catch_warnings(), pytest.raises(UnrollError) as refusal:
        warnings.simplefilter("error")
        load_sheet(sheet)
    assert str(refusal.value).splitlines() == [one.replace("*", str(sheet)) for one in expected]


def test_a_name_that_cannot_be_printed_is_told_in_one_line() -> None:
    with pytest.raises(UnrollError) as refusal:
        load_sheet("no\nsuch\udcff\x1b[31m.toml")
    assert str(refusal.value) == "no?such??[31m.toml is not there (mistyped?)"
