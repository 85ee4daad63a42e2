"""SVG and DXF of the finished pieces, read by other readers; the sewing guide."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
import shapely
import trimesh
from lxml import etree

from tests.own_pieces import fan, made_arm, own_sheet
from tests.test_printing import assert_legible
from unroll.disk.pattern_dxf import LAYERS, TURN_DEG, dxf_text
from unroll.disk.pattern_svg import GAP, svg_text
from unroll.drafts.drafting import draft
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.nouns import PrintFacts
from unroll.paper.sewing_guide import sewing_guide, step_pictures
from unroll.paper.wording import area_words, filling_words, length_words, steps, width_words

INCHES = replace(own_sheet(), unit="in")


@pytest.fixture(scope="module")
def both_arms():
    return finish(made_arm(), own_sheet(), arm="both", version="9.9")


@pytest.fixture(scope="module")
def dxf(both_arms):
    return dxf_text(both_arms)


# -- DXF --------------------------------------------------------------------------------------


def test_the_dxf_passes_an_audit_and_counts_in_millimetres(dxf):
    document = ezdxf.read(io.StringIO(dxf))
    assert document.audit().errors == []
    assert document.units == ezdxf.units.MM


def test_another_reader_finds_the_cutting_lines_where_they_are(dxf, both_arms):
    found = trimesh.load_path(io.BytesIO(dxf.encode()), file_type="dxf")
    assert found.units == "millimeters"
    vertices = found.vertices
    x = GAP
    for piece in both_arms:
        low, high = piece.cutting.min(axis=0), piece.cutting.max(axis=0)
        loop = piece.cutting - low + [x, GAP]
        away = shapely.distance(shapely.points(loop), shapely.multipoints(vertices))
        assert away.max() < 1e-6
        x += high[0] - low[0] + GAP


def pairs(text):
    """Read a DXF by its own rule: a group code and a value, line by line."""
    lines = text.splitlines()
    return list(zip((int(code) for code in lines[::2]), lines[1::2], strict=True))


def blocks(text):
    """Return the entities of each block: name to a list of (kind, layer, points)."""
    out, name, entity = {}, None, None
    in_blocks = False
    for code, value in pairs(text):
        if code == 2 and value == "BLOCKS":
            in_blocks = True
        if code == 0 and value == "ENDSEC":
            in_blocks = False
        if not in_blocks:
            continue
        if code == 0:
            entity = {"kind": value, "layer": None, "x": [], "y": []}
            if value == "BLOCK":
                name = None
            elif name is not None and value not in ("ENDBLK", "SEQEND"):
                out[name].append(entity)
        elif code == 2 and name is None and entity and entity["kind"] == "BLOCK":
            name = value
            out[name] = []
        elif code == 8 and entity:
            entity["layer"] = value
        elif code in (10, 20) and entity:
            entity["x" if code == 10 else "y"].append(float(value))
    return {k: v for k, v in out.items() if not k.startswith("*")}


def test_every_piece_is_one_block_whose_boundary_and_sew_line_have_its_coordinates(dxf, both_arms):
    found = blocks(dxf)
    assert len(found) == len(both_arms)
    for (name, entities), piece in zip(found.items(), both_arms, strict=True):
        assert piece.name.replace(" ", "_") in name
        corners = {
            layer: np.array([
                (e["x"][0], e["y"][0])
                for e in entities if e["kind"] == "VERTEX" and e["layer"] == layer
            ])
            for layer in ("1", "14")
        }
        assert np.allclose(corners["1"], piece.cutting, atol=1e-9)
        if piece.material == "cloth":
            points = np.concatenate([side.points for side in piece.sides])
            assert np.allclose(corners["14"], points, atol=1e-9)


def test_layers_carry_the_meanings_of_the_exchange_standard(dxf, both_arms):
    """ASTM D6673-10, layers 1 boundary, 2 turn points, 3 curve points, 4 notches, 7 grain,
    8 internal lines, 13 drill holes, 14 sew lines, 15 annotation."""
    outer = list(blocks(dxf).values())[0]
    kinds = {layer: {e["kind"] for e in outer if e["layer"] == layer} for layer in LAYERS}
    assert "POLYLINE" in kinds["1"] and kinds["2"] == {"POINT"} and kinds["3"] == {"POINT"}
    assert kinds["15"] == {"TEXT"}
    drill = sorted((e["x"][0], e["y"][0]) for e in outer if e["layer"] == "13")
    darts = sorted(tuple(dart.point) for dart in both_arms[0].darts)
    assert np.allclose(drill, darts)
    slits = sum(len(mark.slits) for mark in both_arms[0].notches)
    assert sum(e["kind"] == "POLYLINE" and e["layer"] == "4" for e in outer) == slits
    grain = [(e["x"][0], e["y"][0]) for e in outer if e["layer"] == "7" and e["kind"] == "VERTEX"]
    assert len(grain) == 2 and grain[0][0] == pytest.approx(grain[1][0])
    turns = np.array([(e["x"][0], e["y"][0]) for e in outer if e["layer"] == "2"])
    assert 4 <= len(turns) <= 16  # corners of seams, and the two peaks at the darts' mouths
    line = both_arms[0].cutting @ [1.0, 1j]
    bends = np.angle((np.roll(line, -1) - line) / (line - np.roll(line, 1)), deg=True)
    assert np.allclose(turns, both_arms[0].cutting[np.abs(bends) > TURN_DEG])


# -- SVG --------------------------------------------------------------------------------------

NAME = {"svg": "http://www.w3.org/2000/svg"}


def numbers(path):
    return np.array([float(v) for v in re.findall(r"-?\d+\.?\d*", path)]).reshape(-1, 2)


def test_the_svg_is_true_to_scale_and_has_a_group_a_piece(both_arms):
    root = etree.fromstring(svg_text(both_arms).encode())
    box = [float(v) for v in root.get("viewBox").split()]
    assert root.get("width") == f"{box[2]:.4f}mm" and root.get("height") == f"{box[3]:.4f}mm"
    groups = root.findall("svg:g", NAME)
    assert len(groups) == len(both_arms)
    for group, piece in zip(groups, both_arms, strict=True):
        cutting = group.find("svg:path[@class='cutting']", NAME)
        points = numbers(cutting.get("d"))
        # four decimals are written
        assert np.ptp(points, axis=0) == pytest.approx(np.ptp(piece.cutting, axis=0), abs=2e-4)
        area = shapely.Polygon(points).area
        assert area == pytest.approx(shapely.Polygon(piece.cutting).area, rel=1e-5)


def test_stitching_lines_in_the_svg_are_the_fitted_cubics(both_arms):
    root = etree.fromstring(svg_text(both_arms).encode())
    group = root.find("svg:g", NAME)
    curves = group.findall("svg:path[@class='stitching']", NAME)
    outer = both_arms[0]
    assert [c.get("data-seam") for c in curves] == [side.seam for side in outer.sides]
    cutting = numbers(group.find("svg:path[@class='cutting']", NAME).get("d"))
    move = cutting[0] - outer.cutting[0] * [1, -1]
    for curve, side in zip(curves, outer.sides, strict=True):
        assert curve.get("d").count("C") == len(side.cubics)
        control = np.vstack([side.cubics[0, :1], *(c[1:] for c in side.cubics)])
        assert np.allclose(numbers(curve.get("d")), control * [1, -1] + move, atol=2e-4)


def test_the_svg_keeps_the_same_gap_all_round_its_pieces_and_between_them(both_arms):
    root = etree.fromstring(svg_text(both_arms).encode())
    width, height = (float(v) for v in root.get("viewBox").split()[2:])
    lines = [numbers(group.find("svg:path[@class='cutting']", NAME).get("d"))
             for group in root.findall("svg:g", NAME)]  # fmt: skip
    edges = [0.0, *(x for line in lines for x in (line[:, 0].min(), line[:, 0].max())), width]
    assert np.array(edges[1::2]) - edges[::2] == pytest.approx(GAP, abs=2e-4)
    every = np.concatenate(lines)[:, 1]
    assert [every.min(), height - every.max()] == pytest.approx([GAP, GAP], abs=2e-4)


def test_where_nothing_is_allowed_the_cutting_line_is_the_stitching_line():
    root = etree.fromstring(svg_text(finish(made_arm(), own_sheet(seam_allowance=0.0))).encode())
    drawn = [c.get("data-seam") for c in root.findall(".//svg:path[@class='stitching']", NAME)]
    assert drawn and all(seam.startswith("dart") for seam in drawn)


def test_names_with_signs_of_the_markup_are_escaped():
    sheet = own_sheet()
    object.__setattr__(sheet, "owner", "A <b> & C")
    text = svg_text(finish(made_arm(), sheet))
    assert "A &lt;b&gt; &amp; C" in text
    etree.fromstring(text.encode())


# -- lengths and weights in the maker's unit -------------------------------------------------------


@pytest.mark.parametrize(
    ("mm", "inches", "centimetres"),
    # up to the half inch and the centimetre; a length that is one already stays
    [(1000.0, "39 1/2 in (100 cm)", "100 cm"), (1000.1, "39 1/2 in (101 cm)", "101 cm"),
     (1003.3, "39 1/2 in (101 cm)", "101 cm"), (1003.4, "40 in (101 cm)", "101 cm")],
)  # fmt: skip
def test_a_length_of_cloth_to_buy_is_rounded_up(mm, inches, centimetres):
    assert length_words(mm, INCHES) == inches
    assert length_words(mm, own_sheet()) == centimetres


@pytest.mark.parametrize(
    ("mm", "inches", "centimetres"),
    [(1143.0, "45 in", "114.3 cm"), (1142.95, "44 15/16 in", "114.2 cm"),
     (1400.0, "55 1/16 in", "140 cm")],
)  # fmt: skip
def test_a_width_of_cloth_is_never_rounded_up(mm, inches, centimetres):
    assert width_words(mm, INCHES) == inches
    assert width_words(mm, own_sheet()) == centimetres


def test_an_area_of_card_is_rounded_up():
    assert [area_words(a, INCHES) for a in (1290.3, 1290.4)] == [  # 2 x 25.4^2 is 1290.32
        "2 square inches", "3 square inches"]  # fmt: skip
    assert [area_words(a, own_sheet()) for a in (1200.0, 1200.1)] == ["12 cm²", "13 cm²"]


@pytest.mark.parametrize(
    ("litres", "arms", "inches", "metric"),
    # at 60 g a litre; an ounce is 28.35 g, a pound 16 of them (international agreement of 1959)
    [(2.3, 1, "5 oz (140 g)", "140 g (2.3 litres at 60 g/l)"),
     (2.3, 2, "10 oz (280 g)", "280 g (4.6 litres at 60 g/l)"),
     (7.56, 1, "1 lb (450 g)", "450 g (7.6 litres at 60 g/l)"),
     (10.0, 2, "2 lb 10 oz (1200 g)", "1200 g (20.0 litres at 60 g/l)")],
)  # fmt: skip
def test_filling_is_weighed_in_the_makers_unit(litres, arms, inches, metric):
    facts = PrintFacts("9.9", litres)
    assert filling_words(facts, INCHES, arms=arms) == inches
    assert filling_words(facts, own_sheet(), arms=arms) == metric


# -- sewing guide -----------------------------------------------------------------------------


def guide_text(pages):
    return " ".join(t.text for page in pages for t in page.letterings)


def test_the_guide_goes_from_darts_to_filling_in_the_order_of_work(both_arms):
    text = guide_text(sewing_guide(both_arms, own_sheet(), facts=PrintFacts("9.9", 2.3)))
    order = ["Cut and mark", "Darts", "Front seam", "Back seam", "Wrist end", "Armhole end",
             "Fill", "Close"]
    places = [text.index(f"{number} {name}") for number, name in enumerate(order, start=1)]
    assert places == sorted(places)
    assert "140 g (2.3 litres at 60 g/l)" in text
    names = [step.name for step, _ in step_pictures(both_arms, own_sheet())]
    assert names == order


def told(pieces, sheet):
    """The text of each step of the guide, by its name."""
    return {step.name: step.text for step in steps(pieces, sheet, PrintFacts("9.9", 2.3))}


def test_steps_are_told_in_the_makers_unit_and_of_her_own_ends_and_darts(both_arms):
    metric, inches = told(both_arms, own_sheet()), told(both_arms, INCHES)
    assert "thread, stitches of 2.5 mm;" in metric["Cut and mark"]
    assert "thread, 10 stitches to the inch;" in inches["Cut and mark"]
    assert "Tape it as you go: upper arm line 286 mm, elbow line 246 mm," in metric["Fill"]
    assert "Tape it as you go: upper arm line 11 1/4 in, elbow line 9 11/16 in," in inches["Fill"]
    assert "It takes about 5 oz (140 g)." in inches["Fill"]
    assert "Fold each of the 2 darts" in metric["Darts"] and "raw edges" in metric["Darts"]
    assert "wrist card" in metric["Wrist end"] and "armhole card" in metric["Close"]
    sheet = own_sheet()
    soft = told(both_arms, replace(sheet, cloth=replace(sheet.cloth, ends="cloth")))
    assert "base of cloth" in soft["Wrist end"] and "card" not in soft["Close"]
    cut_out = told(finish([fan(dart_deg=60.0)], own_sheet()), own_sheet())["Darts"]
    assert "Press the allowances open" in cut_out


def test_every_page_of_the_guide_is_legible(both_arms):
    for paper in ("a4", "letter"):
        for page in sewing_guide(both_arms, own_sheet(), paper=paper):
            assert_legible(page)


def test_drawings_of_the_guide_show_this_arms_own_lines(both_arms):
    """Each drawing of a seam holds the seam's own shape, only moved and made smaller."""
    pictures = dict((step.name, page) for step, page in step_pictures(both_arms, own_sheet()))
    bold = [s.points for s in pictures["Front seam"].strokes if s.style == "bold"]
    side = next(s for s in both_arms[0].sides if s.seam == "front seam")
    shapes = [(p - p[0]) / np.linalg.norm(p[-1] - p[0]) for p in bold]
    want = (side.points - side.points[0]) / np.linalg.norm(side.points[-1] - side.points[0])
    assert any(len(s) == len(want) and np.allclose(s, want, atol=1e-9) for s in shapes)


def test_a_step_is_left_out_when_the_arm_does_not_need_it(both_arms):
    plain = [p for p in both_arms if p.name != "wrist base"]
    names = [step.name for step, _ in step_pictures(plain, own_sheet())]
    assert "Wrist end" not in names and "Shoulder extension" not in names


def test_an_eased_cap_and_a_shoulder_extension_get_their_steps_and_drawings():
    sheet = own_sheet()
    eased = finish(place_notches(draft(sheet.arms[0], sheet.make, manner="ease")), sheet)
    names = [step.name for step, _ in step_pictures(eased, sheet)]
    assert names == [
        "Cut and mark", "Front seam", "Back seam", "Wrist end", "Ease the cap",
        "Shoulder extension", "Armhole end", "Fill", "Close", "Attach",
    ]
    for page in sewing_guide(eased, sheet):
        assert_legible(page)
    surplus = sum(span.surplus for span in eased[0].eases if span.seam == "cap seam")
    text = guide_text(sewing_guide(eased, sheet))
    assert f"draw up the {surplus:.0f} mm of ease" in text.replace("  ", " ")
