"""The page's program: who is let in, what is written into the sheet, what is told."""

from __future__ import annotations

import asyncio
import re
import shutil
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.page_desk import HERE, KEY, PORT
from unroll.errors import UnrollError
from unroll.page import form, web
from unroll.page.editing import changed, entries, in_unit, typed, unlike
from unroll.page.form import DRAFT, GROUPS, TABLES, TRIAL, described, help_lines, is_entry
from unroll.page.session import NEW_SHEET, Session, opened
from unroll.page.web import LARGEST_BODY
from unroll.sheets.blank import blank_sheet

DEMO = Path(__file__).parent.parent / "meshes" / "demo.toml"


def do(page: TestClient, what: str, **given: object):
    return page.post(f"/{KEY}/do/{what}", json=given)


# ---- who is let in


def test_the_page_is_served_with_a_policy_that_reaches_nothing_outside(page) -> None:
    answer = page.get(f"/{KEY}/")
    assert answer.status_code == 200 and "Where the tape goes" in answer.text
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "http" not in policy and "unsafe" not in policy
    assert "://" not in answer.text.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize("path", ["/", "/wrong/", "/wrong/state", f"/{KEY}x/state", "/%2e%2e/"])
def test_an_address_without_its_key_is_refused(page, path) -> None:
    answer = page.get(path)
    assert answer.status_code == 403 and "lacks its key" in answer.text


@pytest.mark.parametrize(
    "headers",
    [{"Host": "evil.example"}, {"Host": "127.0.0.1"}, {"Host": f"127.0.0.1:{PORT + 1}"},
     {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
     {"Sec-Fetch-Site": "same-site"}, {"Origin": f"https://127.0.0.1:{PORT}"}],
)  # fmt: skip
def test_a_foreign_host_or_origin_is_refused(page, desk, headers) -> None:
    for answer in (page.get(f"/{KEY}/state", headers=headers),
                   page.post(f"/{KEY}/do/undo", json={}, headers=headers)):  # fmt: skip
        assert answer.status_code == 403 and "answers to" in answer.text
    assert desk.session.revision == 0


def test_its_own_origin_is_let_in(page) -> None:
    headers = {"Origin": HERE, "Sec-Fetch-Site": "same-origin"}
    assert page.get(f"/{KEY}/state", headers=headers).status_code == 200


def test_what_is_sent_is_bounded_in_size_and_kind(page, desk) -> None:
    large = page.post(f"/{KEY}/do/edit", json={"value": "x" * LARGEST_BODY})
    assert large.status_code == 403 and "too large" in large.text
    parts = (b"x" * 60_000 for _ in range(3))  # without its length
    sent = page.post(f"/{KEY}/do/edit", content=parts, headers={"Content-Type": "application/json"})
    assert sent.status_code == 422 and "too large" in sent.text
    form_like = page.post(f"/{KEY}/do/undo", data={"a": "b"})
    assert form_like.status_code == 415
    for text in ("{", "[" * 5000, "[1]", '"a"', "\xff"):
        answer = page.post(f"/{KEY}/do/undo", content=text.encode("latin-1"),
                           headers={"Content-Type": "application/json"})  # fmt: skip
        assert answer.status_code in (400, 422), text
    assert desk.session.revision == 0


@pytest.mark.parametrize("name", ["../demo.toml", "..%2f..%2fetc%2fpasswd", "page-9.png", "x.pdf"])
def test_no_name_from_the_page_reaches_the_disk(page, name) -> None:
    assert page.get(f"/{KEY}/out/{name}").status_code in (403, 404)
    assert page.get(f"/{KEY}/file/{name}").status_code in (403, 404)


@pytest.mark.parametrize("outline", ["/etc/passwd", "../secret.svg", "armhole.svg"])
def test_the_page_cannot_name_a_file_in_the_sheet(page, desk, outline) -> None:
    before = desk.session.text
    answer = do(page, "edit", path=["arm", "armhole", "outline"], value=outline)
    assert answer.status_code == 422 and "expected a point a line" in answer.text
    assert desk.session.text == before


@pytest.mark.parametrize(
    "path",
    [[], ["arm"], ["arm", "nonsense"], ["__class__"], ["arm", "cap_arcs", 99, "up"], "arm",
     ["arm", "cap_arcs", True, "up"], ["arm", "wrist_girth", "more"], [["arm"]], ["darts", "at"],
     ["arm", "cap_arcs", -1, "up"], ["make", "seam_allowances", "sleeve"]],
)  # fmt: skip
def test_only_entries_of_the_sheet_are_written(page, desk, path) -> None:
    before = desk.session.text
    answer = do(page, "edit", path=path, value="1")
    assert answer.status_code == 422 and "entry" in answer.json()["trouble"]
    assert desk.session.text == before


@pytest.mark.parametrize(
    ("what", "given", "said"),
    [("darts", {"darts": [[1, 2]] * 5}, "at most four"), ("darts", {"darts": ["x"]}, "is none"),
     ("darts", {"darts": [[1e9, 2]]}, "is none"),
     ("edit", {"path": ["date"], "value": 3}, "no text"),
     ("fly", {}, "something that there is not"), ("join", {}, "no table [right_arm]"),
     ("edit", {"path": ["unit"], "value": "ell"}, 'expected "in", "cm" or "mm"'),
     ("edit", {"path": ["owner"], "value": "x" * 500}, "at most 400")],
)  # fmt: skip
def test_what_cannot_be_done_is_told(page, what, given, said) -> None:
    answer = do(page, what, **given)
    assert answer.status_code == 422 and said in answer.json()["trouble"]


def test_pages_that_are_not_made_yet_are_told_so(page) -> None:
    answer = page.get(f"/{KEY}/out/pattern.pdf")
    assert answer.status_code == 404 and "press Make the pages first" in answer.text


def test_too_many_windows_are_turned_away(page, desk) -> None:
    desk.windows._queues |= {asyncio.Queue() for _ in range(web.MOST_WINDOWS)}
    assert page.get(f"/{KEY}/events").status_code == 429


# ---- the sheet


def test_what_is_typed_is_saved_as_typed_and_comments_stay(page, sheet) -> None:
    before = sheet.read_text("utf8")
    told = do(page, "edit", path=["arm", "wrist_girth"], value=" 6 3/8;  6½ ").json()
    assert told["entries"]["arm.wrist_girth"] == "6 3/8; 6½" and not told["unsaved"]
    changes = [
        (old, new)
        for old, new in zip(before.splitlines(), sheet.read_text("utf8").splitlines(), strict=True)
        if old != new
    ]
    assert changes == [('wrist_girth = "6 1/4"', 'wrist_girth = ["6 3/8", "6½"]')]


def test_every_entry_of_the_sheet_is_asked_for() -> None:
    asked = {(group.table, name) for group in (*GROUPS, TRIAL, DRAFT) for name in group.names}
    known = {(table, name) for table in ("arm", "double", "cloth", "make", "trial", "scan", "draft")
             for name in TABLES[table].model_fields}  # fmt: skip
    # a scan's file is handed over, its middle line is written by hand
    assert asked == known - {("scan", "file"), ("scan", "axis")}


def test_every_field_says_what_it_is() -> None:
    for group in described("in"):
        for field in group["fields"]:
            assert field["help"] or field["label"] in ("cap arcs", "name"), field["name"]
    assert help_lines("in")["wrist_girth"] == "at the wrist bone"
    assert is_entry(("trial", "hang_forward")) and form.MOST_ROWS >= 12


def test_a_field_of_every_kind_can_be_filled_from_a_blank_sheet(tmp_path) -> None:
    session = Session(tmp_path / "mine.toml", unit="cm")
    assert not session.file.is_there and {fault.path for fault in session.faults} == {
        "arm.shoulder_to_elbow", "arm.inner_elbow_to_wrist", "arm.upper_arm_girth",
        "arm.wrist_girth",
    }  # fmt: skip
    values = {
        "arm.shoulder_to_elbow": "33,8", "arm.inner_elbow_to_wrist": "236 mm",
        "arm.upper_arm_girth": "28.5; 28.6; 28.6", "arm.wrist_girth": '6 1/4"',
        "arm.cap_arcs.0.up": "5.8", "arm.cap_arcs.0.length": "21.9", "arm.armhole.width": "9.8",
        "arm.girths.1.down": "15", "arm.girths.1.girth": "20", "arm.wrist_outward": "-1",
        "arm.elbow_ratio": "1.1", "cloth.eases_percent": "2; 4", "cloth.ends": "cloth",
        "make.most_darts": "2", "make.darts.0.at": "5", "make.inner_share": "1/3",
        "make.seam_allowances.outer_wrist": "2", "trial.upper_arm_girth": "29",
        "date": "2024-05-14",
    }  # fmt: skip
    for path, value in values.items():
        parts = [int(part) if part.isdecimal() else part for part in path.split(".")]
        session.edit(tuple(parts), value)
    assert session.faults == () and session.sheet is not None
    arm, make = session.sheet.arms[0], session.sheet.make
    assert (arm.shoulder_to_elbow, arm.wrist_girth, arm.armhole.width) == (338.0, 158.75, 98.0)
    assert make.most_darts == 2 and make.darts[0].at == 50.0
    assert session.sheet.cloth.eases_percent == (2.0, 4.0)
    assert session.sheet.trial is not None
    again = Session(session.file.path)  # what is on the disk says the same
    assert {path: again.entries[path] for path in values} == values
    assert session.text.count("#") == blank_sheet("cm").count("#")  # not a comment was lost


def test_faults_stand_at_their_entries_in_the_readers_words(desk) -> None:
    session = desk.session
    session.edit(("arm", "wrist_girth"), "6 1/")
    session.edit(("arm", "cap_arcs", 1, "up"), "9")
    assert [(fault.path, fault.text.split(";")[0]) for fault in session.faults] == [
        ("arm.wrist_girth", 'wrist_girth cannot be read: "6 1/" is not one number'),
        ("arm.cap_arcs.1", "cap_arcs 2 up is 9 in"),
    ]
    assert session.sheet is None and "6 1/" in session.file.path.read_text("utf8")


def test_estimates_are_told_with_where_they_come_from(tmp_path) -> None:
    path = Path(shutil.copy(DEMO.with_name("few_measures.toml"), tmp_path / "few.toml"))
    told = Session(path).told()["estimates"]
    value, source = told["arm.elbow_girth"]
    assert value.endswith(" mm") and "survey 1988" in source
    assert "arm.armhole.height" in told and told["arm.elbow_ratio"] == [
        "1.05", "estimated: taken as usual"]


def test_undo_and_redo_go_through_every_change_and_typing_is_one(desk, sheet) -> None:
    session, first = desk.session, desk.session.text
    for typing in ("6", "6 3", "6 3/8"):
        session.edit(("arm", "wrist_girth"), typing)
    second = session.text
    session.edit(("cloth", "width"), "60")
    third = session.text
    for expected in (second, first, first):
        session.undo()
        assert session.text == expected == sheet.read_text("utf8")
    for expected in (second, third, third):
        session.redo()
        assert session.text == expected
    session.undo()
    session.edit(("cloth", "width"), "58")
    session.redo()  # nothing: another way was taken
    assert session.entries["cloth.width"] == "58"


def test_a_file_changed_outside_is_noticed_and_nothing_is_lost(desk, sheet) -> None:
    session = desk.session
    session.edit(("arm", "wrist_girth"), "6 3/8")
    theirs = sheet.read_text("utf8").replace("Rosa Lindqvist", "Rosa  Lindqvist the elder")
    sheet.write_text(theirs, "utf8")
    session.edit(("arm", "wrist_girth"), "6 1/2")  # typed before anybody looked
    assert session.told()["is_outside"] and sheet.read_text("utf8") == theirs
    mine = session.text
    session.take_outside()
    assert session.text == theirs and not session.told()["is_outside"]
    session.undo()
    assert session.text == mine == sheet.read_text("utf8")
    sheet.write_text(theirs, "utf8")
    assert session.look_outside() and not session.look_outside()
    session.keep_mine()
    assert sheet.read_text("utf8") == mine


def test_a_sheet_that_is_no_toml_any_more_is_told_and_comes_back(desk, sheet) -> None:
    session = desk.session
    sheet.write_text('unit = "in"\n[arm\n', "utf8")
    assert session.look_outside()
    session.take_outside()
    assert session.sheet is None and not session.is_writable
    with pytest.raises(UnrollError, match="mend it in a text editor"):
        session.edit(("arm", "wrist_girth"), "6")
    session.undo()
    assert session.sheet is not None and session.is_writable


def test_a_disk_that_refuses_is_told(desk, monkeypatch) -> None:
    def refuse(_text: str) -> None:
        raise UnrollError("the disk is full")

    monkeypatch.setattr(desk.session.file, "write", refuse)
    desk.session.edit(("arm", "wrist_girth"), "6 3/8")
    assert desk.session.told()["unsaved"] == "the disk is full"


def test_another_unit_leaves_every_length_as_long_as_it_was() -> None:
    text = DEMO.read_text("utf8")
    before, after = (Session_text(t) for t in (text, in_unit(text, "cm")))
    assert after.unit == "cm" and before.arms[0].wrist_girth == after.arms[0].wrist_girth
    assert before.arms[0].armhole == after.arms[0].armhole or (
        before.arms[0].armhole.width == after.arms[0].armhole.width
    )
    assert (before.cloth.width, before.make.seam_allowance, before.make.round_to) == (
        after.cloth.width, after.make.seam_allowance, after.make.round_to
    )  # fmt: skip


def Session_text(text: str):
    from unroll.sheets.reading import read_sheet

    return read_sheet(text)


def test_arms_are_parted_and_joined(desk) -> None:
    session = desk.session
    session.part_arms()
    assert session.sheet is not None and [a.side for a in session.sheet.arms] == ["left", "right"]
    session.edit(("right_arm", "wrist_girth"), "6 3/8")
    assert session.told()["is_unlike"] and session.sheet.arms[1].wrist_girth != (
        session.sheet.arms[0].wrist_girth)  # fmt: skip
    session.join_arms()
    assert len(session.sheet.arms) == 1 and "[cloth]" in session.text
    assert not session.told()["is_unlike"]


def test_darts_are_fixed_in_the_sheets_unit(desk) -> None:
    desk.session.edit(("make", "dart_count"), "3")
    desk.session.fix_darts([(30.0, 128.0)])
    assert desk.session.sheet is not None and desk.session.sheet.make.dart_count is None
    desk.session.edit(("make", "darts", 0, "intake"), "1 1/4")
    desk.session.fix_darts([(30.0, 128.0), (-30.0, 128.0)])
    sheet = desk.session.sheet
    assert sheet is not None and len(sheet.make.darts) == 2
    assert sheet.make.darts[0].at == pytest.approx(30.0, abs=0.8)  # to a sixteenth of an inch
    assert sheet.make.darts[0].intake == 31.75 and sheet.make.darts[1].intake is None
    desk.session.fix_darts([])
    assert desk.session.sheet is not None and desk.session.sheet.make.darts == ()


@pytest.mark.parametrize(
    ("path", "text", "value"),
    [(("make", "dart_count"), "two", "two"), (("arm", "wrist_girth"), "6;", "6"),
     (("cloth", "name"), "wool; grey", "wool; grey"), (("arm", "armhole", "outline"), "", ""),
     (("arm", "armhole", "outline"), "0 0\n-1,5 -3", [["0", "0"], ["-1,5", "-3"]])],
)  # fmt: skip
def test_what_is_typed_becomes_what_the_sheet_reads(path, text, value) -> None:
    assert typed(path, text) == value


def test_an_outline_without_end_is_refused() -> None:
    with pytest.raises(UnrollError, match="expected at most 40000"):
        typed(("arm", "armhole", "outline"), "1 1\n" * 20_000)


def test_a_missing_table_is_made_and_an_empty_entry_makes_nothing() -> None:
    assert entries(changed("[arm]\n", ("cloth", "width"), "54")) == {"cloth.width": "54"}
    assert changed("[arm]\n", ("cloth", "width"), "") == "[arm]\n" or (
        entries(changed("[arm]\n", ("cloth", "width"), "")) == {}
    )
    assert unlike("[arm]\na = 1\n[cloth]\n").endswith("a = 1\n\n[cloth]\n")


def test_open_begins_a_sheet_or_tells_that_there_is_none(tmp_path) -> None:
    session = opened(None, tmp_path)
    assert session.file.path == tmp_path / NEW_SHEET and not session.file.is_there
    session.edit(("owner",), "Rosa")
    assert opened(None, tmp_path).entries["owner"] == "Rosa"
    with pytest.raises(UnrollError, match="is not there"):
        opened(tmp_path / "other.toml", tmp_path)


# ---- looks


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_every_text_has_contrast_aa_and_every_line_three_to_one(theme) -> None:
    style = (Path(web.__file__).parent.parent / "data" / "page.css").read_text("utf8")
    block = re.findall(r":root[^{]*\{(.*?)\}", style, re.DOTALL)[theme]
    colours = dict(re.findall(r"--([\w-]+): (#\w{6})", block))
    texts = [(name, ground) for name in ("ink", "soft") for ground in ("table", "panel", "wash")]
    texts += [(name, "panel") for name in ("lit", "bad", "good", "deed")]
    texts += [("on-deed", "deed"), ("panel", "lit"), ("soft", "skin"), ("ink", "skin")]
    for name, ground in [*texts, ("old", "wash")]:
        low, high = sorted(luminance(colours[one]) for one in (name, ground))
        assert (high + 0.05) / (low + 0.05) >= (3.0 if name == "old" else 4.5), (name, ground)
