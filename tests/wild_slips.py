"""Slips of a maker's hand, one to a sheet, which the program must tell and not work with."""

from __future__ import annotations

import random
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.wild_sheets import WildSheet

NUMBER = re.compile(r"\d[\d.,]*")


def slipped(sheet: WildSheet, chance: random.Random) -> WildSheet:
    """Return the sheet with a slip."""
    slip = chance.choice(list(SLIPS))
    lines = SLIPS[slip](list(sheet.lines), sheet.unit)
    if lines != sheet.lines:
        sheet.lines, sheet.slip = lines, slip
    return sheet


def _key(lines: list[str], name: str) -> int:
    return next((k for k, line in enumerate(lines) if line.startswith(f"{name} =")), -1)


def _changed(lines: list[str], name: str, value: str) -> list[str]:
    at = _key(lines, name)
    if at >= 0:
        lines[at] = value
    return lines


def _other_unit(lines: list[str], unit: str) -> list[str]:
    if any(mark in line for line in lines for mark in (" mm", " cm", " in", "mm'", "cm'", "\"'")):
        return lines  # lengths that carry their own unit are right whatever the sheet says
    other = {"in": "cm", "cm": "in", "mm": "cm"}[unit]
    return [f'unit = "{other}"', *lines[1:]]


def _swapped(lines: list[str], unit: str) -> list[str]:
    one, two = _key(lines, "wrist_girth"), _key(lines, "upper_arm_girth")
    values = [lines[k].split("=", 1)[1] for k in (one, two)]
    lines[one], lines[two] = f"wrist_girth ={values[1]}", f"upper_arm_girth ={values[0]}"
    return lines


def _tenfold(lines: list[str], unit: str) -> list[str]:
    return _changed(lines, "wrist_girth", {"in": "wrist_girth = 62", "cm": "wrist_girth = 158",
                                           "mm": "wrist_girth = 15.8"}[unit])  # fmt: skip


SLIPS = {
    "another unit": _other_unit,
    "wrist and upper arm swapped": _swapped,
    "decimal point slipped": _tenfold,
    "misspelt key": lambda lines, unit: [re.sub(r"^wrist_girth", "wirst_girth", x) for x in lines],
    "a required measure forgotten": lambda lines, unit: [
        x for x in lines if not x.startswith("upper_arm_girth")],
    "a fraction without quotes": lambda lines, unit: _changed(
        lines, "wrist_girth", "wrist_girth = 6 1/4"),
    "no such paper": lambda lines, unit: [
        *[x for x in lines if not x.startswith("paper =")],
        *([] if "[make]" in lines else ["[make]"]), 'paper = "A5"'],
    "an inch mark in quotes": lambda lines, unit: _changed(
        lines, "wrist_girth", 'wrist_girth = "6 1/4""'),
    "no unit": lambda lines, unit: lines[1:],
    "cap misspelt": lambda lines, unit: [
        *[x for x in lines if not x.startswith("cap =")],
        *([] if "[make]" in lines else ["[make]"]), 'cap = "dart"'],
    "a drawing that is not there": lambda lines, unit: [
        'armhole = { outline = "armole.svg" }' if x.startswith("armhole =") else x for x in lines],
    "elbow to wrist in the wrong line": lambda lines, unit: _changed(
        lines, "inner_elbow_to_wrist", {"in": "inner_elbow_to_wrist = 1", "cm":
        "inner_elbow_to_wrist = 2.4", "mm": "inner_elbow_to_wrist = 24"}[unit]),
}  # fmt: skip
