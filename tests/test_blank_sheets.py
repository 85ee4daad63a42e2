"""The blank sheet: it reads once it is filled in, and asks for no more than it must."""

from __future__ import annotations

import re

import pytest

from tests.test_measuring import DEMO, LENGTHS
from unroll.errors import SheetFaults, UnrollError
from unroll.nouns import ArmMeasures
from unroll.sheets.blank import blank_sheet
from unroll.sheets.reading import read_sheet
from unroll.units import format_length


def filled(unit: str, arm: ArmMeasures) -> str:
    """Return the blank sheet with an arm's measures written in."""
    text = blank_sheet(unit)
    for name in LENGTHS:
        said = format_length(getattr(arm, name), unit).removesuffix(unit).strip()  # type: ignore[arg-type]
        text, count = re.subn(rf'^{name} = ""', f'{name} = "{said}"', text, flags=re.MULTILINE)
        assert count == 1, name
    for arc in arm.cap_arcs:
        up, length = (f'"{format_length(mm, unit)}"' for mm in (arc.up, arc.length))  # type: ignore[arg-type]
        text = text.replace('{ up = "", length = "" }', f"{{ up = {up}, length = {length} }}", 1)
    plate = arm.armhole
    return text.replace(
        '{ width = "", height = "", girth = "" }',
        f'{{ width = "{plate.width} mm", height = "{plate.height} mm", girth = "" }}')


@pytest.mark.parametrize("unit", ["in", "cm", "mm"])
def test_the_blank_sheet_reads_once_the_demo_s_values_are_filled_in(unit: str) -> None:
    demo = read_sheet(DEMO).arms[0]
    sheet = read_sheet(filled(unit, demo))
    assert sheet.unit == unit
    step = {"in": 25.4 / 16, "cm": 1.0, "mm": 0.1}[unit]
    for name in LENGTHS:
        assert abs(getattr(sheet.arms[0], name) - getattr(demo, name)) <= 0.5 * step + 1e-9
    assert len(sheet.arms[0].cap_arcs) == 3
    assert sheet.arms[0].armhole.width == pytest.approx(demo.armhole.width)
    assert sheet.make.cap_ease == pytest.approx(25.0, abs=0.5)
    assert sheet.make.seam_allowance == pytest.approx(10.0, abs=0.5)
    assert sheet.cloth.name == "plain cotton"


@pytest.mark.parametrize("unit", ["in", "cm", "mm"])
def test_an_unfilled_sheet_asks_only_for_what_must_be_measured(unit: str) -> None:
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(blank_sheet(unit))
    asked = [line.split(": ")[1].split(" is missing")[0] for line in refusal.value.lines]
    assert asked == [
        "shoulder_to_elbow", "inner_elbow_to_wrist", "upper_arm_girth", "wrist_girth"]
    rows = blank_sheet(unit).splitlines()
    for line, name in zip(refusal.value.lines, asked, strict=True):
        number = int(line.removeprefix("line ").split(":")[0])
        assert rows[number - 1].startswith(name) and "required" in rows[number - 1]
    assert max(len(row) for row in rows) <= 100


def test_the_blank_sheet_s_own_examples_are_good() -> None:
    for unit in ("in", "cm", "mm"):
        text = filled(unit, read_sheet(DEMO).arms[0])
        dart = re.search(r"to fix them: \[ (\{.*\}) \]", text)
        wide = re.search(r"one differs: (\{.*\})", text)
        readings = re.search(r"readings: wrist_girth = (\[.*\])", text)
        assert dart and wide and readings
        text = text.replace("darts = []", f"darts = [{dart[1]}]").replace(
            "seam_allowances = {}", f"seam_allowances = {wide[1]}")
        text = re.sub(r"(?m)^wrist_girth = .*", f"wrist_girth = {readings[1]}", text)
        sheet = read_sheet(text)
        assert sheet.make.darts[0].length == pytest.approx(100, abs=2)
        assert sheet.make.seam_allowances["outer wrist"] == pytest.approx(20, abs=1)


def test_a_blank_sheet_in_another_unit_is_refused() -> None:
    with pytest.raises(UnrollError, match='unit is "yd"'):
        blank_sheet("yd")
