"""The armhole traced, given to the page as a file: kept beside the sheet, named by the program."""

from __future__ import annotations

import io
import math
import tomllib
from pathlib import Path

import ezdxf
import pytest

from tests.page_desk import KEY
from unroll.disk import sheets
from unroll.disk.sheets import LARGEST_TRACING

DEMO = Path(__file__).parent.parent / "meshes" / "demo.toml"
OVAL = ('<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="140mm" '
        'viewBox="0 0 120 140"><ellipse cx="60" cy="70" rx="49.2" ry="58"/></svg>')  # fmt: skip


def send(page, raw: bytes | str, *, table: str = "arm", kind: str = "application/octet-stream"):
    content = raw.encode() if isinstance(raw, str) else raw
    return page.post(f"/{KEY}/armhole/{table}", content=content, headers={"Content-Type": kind})


def outline_in(sheet: Path) -> object:
    return tomllib.loads(sheet.read_text("utf8"))["arm"]["armhole"].get("outline")


def beside(sheet: Path) -> set[str]:
    return {one.name for one in sheet.parent.iterdir()} - {sheet.name}


def as_dxf() -> bytes:
    drawing = ezdxf.new(units=ezdxf.units.MM)
    drawing.modelspace().add_lwpolyline(
        [(49.2 * math.cos(a), 58 * math.sin(a)) for a in (k * math.tau / 60 for k in range(60))],
        close=True,
    )
    text = io.StringIO()
    drawing.write(text)
    return text.getvalue().encode()


@pytest.mark.parametrize(("raw", "name"), [(OVAL, "armhole.svg"), (as_dxf(), "armhole.dxf")])
def test_a_drawing_is_kept_beside_the_sheet_and_makes_the_armhole(
    page, desk, sheet, raw, name
) -> None:
    told = send(page, raw).json()
    assert told["entries"]["arm.armhole.outline"] == name and told["is_ready"]
    assert outline_in(sheet) == name and beside(sheet) == {name}
    armhole = desk.session.sheet.arms[0].armhole
    assert armhole.outline is not None and armhole.width == pytest.approx(98.4, abs=0.4)


def test_it_is_undone_and_redone_and_a_second_one_takes_no_ones_place(page, desk, sheet) -> None:
    before = sheet.read_text("utf8")
    (sheet.parent / "armhole.svg").write_text("her own", "utf8")
    send(page, OVAL)
    second = send(page, OVAL.replace("49.2", "48.8")).json()
    assert second["entries"]["arm.armhole.outline"] == "armhole-3.svg"
    assert (sheet.parent / "armhole.svg").read_text("utf8") == "her own"
    desk.session.undo()
    assert outline_in(sheet) == "armhole-2.svg" and desk.session.sheet is not None
    desk.session.undo()
    assert sheet.read_text("utf8") == before
    desk.session.redo()
    assert outline_in(sheet) == "armhole-2.svg" and desk.session.sheet is not None


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (OVAL.replace("ellipse", "text"), 'armhole outline "armhole.svg" has no line; expected'),
        (OVAL.replace("</svg>", '<circle r="9"/></svg>'), '"armhole.svg" has 2 lines; expected'),
        (OVAL.replace('"58"', '"40"'), "armhole outline has a height of"),
        ("<html/>", 'armhole outline "armhole.svg" is no SVG drawing'),
        ("0\nSECTION", '"armhole.dxf" '),
        (b"\xff\xd8\xff not a picture", 'armhole outline "armhole.jpg" is no JPEG or PNG picture'),
        ("unit = 3", "the file is neither a drawing nor a photograph; expected SVG, DXF, JPEG"),
        ("", "the file is neither a drawing nor a photograph"),
    ],
)
def test_a_file_that_cannot_be_used_is_told_in_the_readers_words(page, sheet, raw, said) -> None:
    before = sheet.read_text("utf8")
    answer = send(page, raw)
    assert answer.status_code == 422 and said in answer.json()["trouble"]
    assert "\n" not in answer.json()["trouble"]
    assert sheet.read_text("utf8") == before and beside(sheet) == set()


def test_it_is_read_even_while_the_sheet_has_other_faults(page, desk, sheet) -> None:
    desk.session.edit(("arm", "wrist_girth"), "6 1/")
    assert "has no line" in send(page, OVAL.replace("ellipse", "text")).json()["trouble"]
    assert send(page, OVAL).status_code == 200 and beside(sheet) == {"armhole.svg"}


def test_it_is_bounded_in_size_kind_and_count(page, desk, sheet, monkeypatch) -> None:
    large = send(page, b"<" * (LARGEST_TRACING + 1))
    assert large.status_code == 403 and "too large" in large.text
    parts = (b"<" * 1_000_000 for _ in range(LARGEST_TRACING // 1_000_000 + 2))  # no length told
    sent = page.post(f"/{KEY}/armhole/arm", content=parts,
                     headers={"Content-Type": "application/octet-stream"})  # fmt: skip
    assert sent.status_code == 422 and "too large" in sent.json()["trouble"]
    with pytest.raises(sheets.UnrollError, match="holds 20.0 MB; expected at most 20 MB"):
        desk.session.keep_tracing("arm", b"<" * (LARGEST_TRACING + 1))
    assert send(page, OVAL, kind="image/svg+xml").status_code == 415
    assert "of no arm" in send(page, OVAL, table="cloth").json()["trouble"]
    assert send(page, OVAL, table="..%2f..").status_code in (403, 404, 422)
    monkeypatch.setattr(sheets, "MOST_BESIDE", 1)
    assert send(page, OVAL).status_code == 200
    assert "expected room for one more" in send(page, OVAL).json()["trouble"]
    assert beside(sheet) == {"armhole.svg"}


def test_a_foreign_page_cannot_put_a_file_here(page, sheet) -> None:
    for headers in ({"Origin": "http://evil.example"}, {"Host": "evil.example"}):
        answer = page.post(f"/{KEY}/armhole/arm", content=OVAL.encode(), headers={
            "Content-Type": "application/octet-stream", **headers})  # fmt: skip
        assert answer.status_code == 403
    assert beside(sheet) == set()


def test_a_photograph_is_read_once_and_not_at_every_keystroke(page, desk, monkeypatch) -> None:
    asked = []
    real = sheets.load_outline
    monkeypatch.setattr(sheets, "load_outline", lambda path: asked.append(path) or real(path))
    send(page, OVAL)
    for text in ("6", "6 3", "6 3/8"):
        desk.session.edit(("arm", "wrist_girth"), text)
    assert len(asked) == 1
    (desk.session.file.path.parent / "armhole.svg").write_text(OVAL.replace("49.2", "49.9"), "utf8")
    desk.session.edit(("arm", "wrist_girth"), "6 1/4")
    assert len(asked) == 2  # it was drawn anew
