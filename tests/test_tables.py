"""Tables of sheets: heads as a maker writes them, faults with the row's line, sizes over a base."""

from __future__ import annotations

import datetime
import io
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook

from tests.many_jobs import TABLE, write_table
from unroll.batch.orders import orders_for, orders_in, size_orders
from unroll.disk import tables
from unroll.disk.sheets import load_sheet
from unroll.disk.tables import load_table
from unroll.errors import SheetFaults, UnrollError
from unroll.nouns.values import fingerprint
from unroll.sheets.reading import read_sheet
from unroll.sheets.tables import MOST_ROWS, size_rows, table_rows
from unroll.sheets.toml_text import parse_text

HEADS = ("sheet", "unit", "shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist",
         "upper_arm_girth", "wrist_girth")
ROW = ("ada", "cm", "33.8", "31.9", "23.6", "28.6", "15.8")
BASE = """
unit = "cm"
[arm]
shoulder_to_elbow = 33.8
shoulder_to_inner_elbow = 31.9
inner_elbow_to_wrist = 23.6
upper_arm_girth = 28.6
wrist_girth = 15.8
"""


def rows_of(*rows):
    return table_rows(list(enumerate(rows, start=1)))


def sheet_of(row):
    from unroll.sheets.reading import read_parsed

    return read_parsed(row.parsed)


# ---- what a row becomes


def test_a_row_is_the_sheet_that_its_cells_write_out():
    text = BASE.replace('[arm]', 'owner = "Ada"\n[arm]').replace(
        "upper_arm_girth = 28.6", "upper_arm_girth = [28.6, 28.4, 28.6]"
    ) + """cap_arcs = [{ up = 3, length = 24 }, { up = 5.5, length = 22 }]
armhole = { width = 9.8, height = 11.6 }
[cloth]
width = 140
[make]
dart_count = 2
seam_allowances = { outer_wrist = "2 cm" }
"""
    heads = (*HEADS, "owner", "cap_arcs.1.up", "arm.cap_arcs.1.length", "Cap arcs.2.up",
             "cap_arcs.2.length", "armhole.width", "armhole.height", "cloth.width", "dart_count",
             "make.seam_allowances.outer_wrist")
    row = (*ROW[:5], "28.6 | 28.4 | 28.6", "15,8", "Ada", "3", "24", "5.5", "22", "9.8", "11.6",
           "140", "2", "2 cm")
    (found,) = rows_of(heads, row)
    assert fingerprint(sheet_of(found)) == fingerprint(read_sheet(text))
    assert (found.name, found.line) == ("ada", 2)


def test_heads_may_be_written_with_spaces_and_capitals_and_rows_may_be_empty():
    heads = [head.replace("_", " ").capitalize() for head in HEADS]
    found = rows_of((), heads, (), ROW, ("", " "))
    assert [row.line for row in found] == [4]
    assert sheet_of(found[0]).arms[0].upper_arm_girth == pytest.approx(286.0)


def test_an_empty_cell_stands_for_what_was_not_measured():
    (row,) = rows_of((*HEADS, "elbow_girth"), (*ROW, " "))
    assert sheet_of(row).arms[0].is_estimated("elbow_girth")


def test_a_row_without_a_name_goes_by_its_owner(tmp_path):
    text = TABLE.replace("sheet,", "cap_ease,").replace("ada,", ",").replace("bea,", ",")
    names = [order.name for order in orders_in(write_table(tmp_path, text))]
    assert names[:2] == ["Ada-L", "Bea-b"]


@pytest.mark.parametrize(
    ("heads", "told"),
    [
        ((*HEADS, "wrist_girht"), "line 1: column wrist_girht is no key of the sheet; expected"),
        ((*HEADS, "name"), "line 1: column name could be several things; write owner, or cloth.n"),
        ((*HEADS, "width"), "column width could be several things; write armhole.width or cloth"),
        ((*HEADS, "Wrist girth"), "line 1: column Wrist girth stands twice; keep one"),
        ((*HEADS, "cap_arcs.99.up"), "column cap_arcs.99.up has a place beyond 1 to 20"),
        (HEADS[2:], 'the table has no column unit; expected one that says "in", "cm" or "mm"'),
        ([*HEADS, *["x"] * 300], "the table has 307 columns; expected at most 200"),
    ],
)
def test_heads_that_are_at_fault_are_told_before_any_work(heads, told):
    with pytest.raises(SheetFaults) as fault:
        rows_of(heads, ROW)
    assert told in str(fault.value)


def test_a_table_that_is_empty_or_too_long_is_told():
    with pytest.raises(SheetFaults, match="the table has no row below its heads"):
        rows_of(HEADS)
    with pytest.raises(SheetFaults, match=f"1001 rows; expected at most {MOST_ROWS}"):
        rows_of(HEADS, *[ROW] * 1001)


def test_a_fault_of_a_row_stands_on_the_rows_line(tmp_path):
    orders = orders_in(write_table(tmp_path))
    assert [order.name for order in orders] == ["ada", "bea", "carl", "dora"]
    assert [order.sheet is None for order in orders] == [False, False, True, False]
    assert orders[2].source == "class.csv, line 4"
    assert orders[2].faults[0].startswith("upper_arm_girth is 3100.0 cm; expected")


# ---- from the disk


@pytest.mark.parametrize("between", [",", ";", "\t"])
def test_csv_is_read_with_commas_semicolons_or_tabs(tmp_path, between):
    path = tmp_path / "class.csv"
    path.write_bytes(b"\xef\xbb\xbf" + TABLE.replace(",", between).encode())
    assert [row.name for row in table_rows(load_table(path))] == ["ada", "bea", "carl", "dora"]


def test_a_line_break_within_quotes_does_not_shift_the_lines(tmp_path):
    path = tmp_path / "class.csv"
    path.write_text('sheet,unit,owner\na,cm,"two\nlines"\nb,cm,x\n', "utf8")
    assert [row.line for row in table_rows(load_table(path))] == [2, 4]


def spreadsheet(path: Path, *rows) -> Path:
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


def test_a_spreadsheet_gives_the_same_sheet_as_the_csv(tmp_path):
    numbers = [float(cell) if cell[0].isdigit() else cell for cell in ROW]
    when = datetime.datetime(2024, 5, 14)
    path = spreadsheet(tmp_path / "class.xlsx", [*HEADS, "date", "owner", "most_darts", None],
                       [*numbers, when, 12, 3.0, None])
    (found,) = table_rows(load_table(path))
    (other,) = rows_of((*HEADS, "date", "owner", "most_darts"), (*ROW, "2024-05-14", "12", "3"))
    assert fingerprint(sheet_of(found)) == fingerprint(sheet_of(other))


def test_files_that_are_no_table_are_told(tmp_path, monkeypatch):
    latin, broken, odd = (tmp_path / n for n in ("latin.csv", "broken.xlsx", "odd.csv"))
    latin.write_bytes("größe,unit\n".encode("latin-1"))
    broken.write_bytes(b"no spreadsheet")
    odd.write_text("a,b\n" + '"' + "x" * 200_000 + '"\n', "utf8")
    for path, told in (
        (tmp_path / "none.csv", "is not there"),
        (latin, "is not UTF-8 text; save it as CSV UTF-8"),
        (broken, "is no spreadsheet that can be read"),
        (odd, "odd.csv, line 2 cannot be read: field larger"),
    ):
        with pytest.raises(UnrollError, match=told):
            load_table(path)
    monkeypatch.setattr(tables, "LARGEST_UNPACKED", 100)
    with pytest.raises(UnrollError, match=r"unpacks to 0 MB; expected at most 0 MB"):
        load_table(spreadsheet(tmp_path / "large.xlsx", HEADS))


def test_a_spreadsheet_without_its_reader_is_told(tmp_path, monkeypatch):
    path = spreadsheet(tmp_path / "class.xlsx", HEADS)
    monkeypatch.setitem(__import__("sys").modules, "openpyxl", None)
    with pytest.raises(UnrollError, match="needs the package openpyxl .*; or save it as CSV"):
        load_table(path)


def test_a_packed_file_of_another_kind_is_told(tmp_path):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("a.txt", "x")
    (tmp_path / "a.xlsx").write_bytes(stream.getvalue())
    with pytest.raises(UnrollError, match="is no spreadsheet that can be read"):
        load_table(tmp_path / "a.xlsx")


# ---- folders


def test_every_sheet_of_a_folder_is_an_order_good_or_not(tmp_path):
    (tmp_path / "b.toml").write_text(BASE, "utf8")
    (tmp_path / "a.toml").write_text(BASE.replace("15.8", "1580"), "utf8")
    (tmp_path / "note.txt").write_text("x", "utf8")
    first, second = orders_in(tmp_path)
    assert (first.name, first.sheet, first.source) == ("a", None, "a.toml")
    assert first.faults[0].startswith("line 8: wrist_girth")
    assert fingerprint(second.sheet) == fingerprint(load_sheet(tmp_path / "b.toml"))


def test_what_is_neither_folder_nor_table_is_told(tmp_path):
    with pytest.raises(UnrollError, match=r"holds 0 sheets \(.toml\); expected 1 to 1000"):
        orders_in(tmp_path)
    with pytest.raises(UnrollError, match="neither a folder of sheets nor a table; expected"):
        orders_in(tmp_path / "class.doc")


def test_folders_are_named_so_that_no_two_are_alike(tmp_path):
    text = TABLE.replace("bea,", "ADA,").replace("dora,", "a/d:a,")
    names = [order.name for order in orders_in(write_table(tmp_path, text))]
    assert names == ["ada", "ADA-2", "carl", "a-d-a"]


# ---- sizes


def test_a_size_is_the_base_with_what_its_row_says_otherwise():
    cells = [(1, ("size", "upper_arm_girth", "armhole.width")), (2, ("S", "27", "")),
             (3, ("L", "31", "10"))]
    small, large = size_rows(cells, parse_text(BASE))
    expected = BASE.replace("28.6", "31") + "armhole = { width = 10 }\n"
    assert small.name == "S" and large.name == "L"
    assert fingerprint(sheet_of(small)) == fingerprint(read_sheet(BASE.replace("28.6", "27")))
    assert fingerprint(sheet_of(large)) == fingerprint(read_sheet(expected))


@pytest.mark.parametrize(
    ("heads", "told"),
    [
        (("upper_arm_girth",), "the table of sizes has no column size"),
        (("size", "unit"), "the table of sizes has a column unit; expected none"),
    ],
)
def test_a_table_of_sizes_that_is_at_fault_is_told(heads, told):
    with pytest.raises(SheetFaults, match=told):
        size_rows([(1, heads), (2, ("1", "2"))], parse_text(BASE))


def test_a_sheet_may_list_its_sizes_itself_and_is_still_one_sheet(tmp_path):
    path = tmp_path / "base.toml"
    path.write_text(BASE + "[sizes]\nS = { upper_arm_girth = 27 }\nM = {}\n"
                    'L = { upper_arm_girth = 31, armhole = { width = 10 } }\n', "utf8")
    assert load_sheet(path).arms[0].upper_arm_girth == pytest.approx(286.0)
    orders = size_orders(path)
    assert [order.name for order in orders] == ["S", "M", "L"]
    assert orders[2].source == "base.toml, line 12"
    assert [o.sheet.arms[0].upper_arm_girth for o in orders] == pytest.approx([270, 286, 310])
    assert orders[2].sheet.arms[0].armhole.width == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (BASE, r"lists 0 sizes; expected 2 to 16 \(in \[sizes\], or in a table"),
        (BASE + "[sizes]\nS = 3\n", "sizes is no table of sizes; expected a line each"),
        (BASE + "[sizes]\nS = { girht = 3 }\nL = {}\n", "line 10: column girht is no key"),
    ],
)
def test_sizes_that_are_at_fault_are_told(tmp_path, text, told):
    (tmp_path / "base.toml").write_text(text, "utf8")
    with pytest.raises(UnrollError, match=told):
        size_orders(tmp_path / "base.toml")


def test_a_sheet_of_two_unlike_arms_is_not_made_in_sizes(tmp_path):
    two = Path("meshes/two_arms.toml").read_text("utf8")
    (tmp_path / "two.toml").write_text(two + "\n[sizes]\nS.owner = 'a'\nL.owner = 'b'\n", "utf8")
    with pytest.raises(UnrollError, match="has two unlike arms; expected .arm. alone where"):
        orders_for(tmp_path / "two.toml")
