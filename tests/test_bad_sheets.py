"""Sheets with faults: every kind, with the line the maker reads."""

from __future__ import annotations

import re

import pytest

from unroll.errors import SheetFaults
from unroll.sheets.reading import read_sheet

GOOD = """\
unit = "cm"
owner = "Ada Brandt"
[arm]
shoulder_to_elbow = 33.8
shoulder_to_inner_elbow = 31.9
inner_elbow_to_wrist = 23.6
upper_arm_girth = 28.6
upper_arm_up = 12.5
elbow_girth = 24.6
forearm_girth = 24.3
forearm_down = 6.2
wrist_girth = 15.8
wrist_width = 5.8
wrist_depth = 4.1
cap_height = 16.0
cap_arcs = [
  {up = 3.2, length = 24.4},
  {up = 5.8, length = 21.8},
  {up = 8.3, length = 17.6},
]
armhole = {width = 9.8, height = 11.6}
shoulder_length = 12.8
[cloth]
stretch_percent = 0.4
ends = "card"
[make]
inner_share = "1/3"
cap = "darts"
seam_allowance = 1.0
"""

SUCH_AS = 'expected a length such as 30.5, "12 3/8 in" or "305 mm"'
QUOTES = "put a fraction, a decimal comma or a unit between quotes"
PAIRS = "quote marks that do not pair; leave the inch mark out, or write it between single quotes"
WRIST = "wrist_girth = 15.8"
PLATE = "{width = 9.8, height = 11.6}"
ARC = "{up = 5.8, length = 21.8}"
LAST = "seam_allowance = 1.0"
CLOTH = "stretch_percent = 0.4"

# what is replaced, by what, and the faults
BAD: dict[str, tuple[str, str, list[str]]] = {
    # --- the text -----------------------------------------------------------------------------
    "a fraction without quotes": (WRIST, "wrist_girth = 6 1/4", [
        f'line 12: wrist_girth = 6 1/4 cannot be read; {QUOTES}: wrist_girth = "3 5/8"']),
    "a decimal comma without quotes": (WRIST, "wrist_girth = 15,8", [
        f'line 12: wrist_girth = 15,8 cannot be read; {QUOTES}: wrist_girth = "3 5/8"']),
    "a unit without quotes": (WRIST, "wrist_girth = 15.8 cm", [
        f'line 12: wrist_girth = 15.8 cm cannot be read; {QUOTES}: wrist_girth = "3 5/8"']),
    "a fraction without quotes in a list of tables": (ARC, "{up = 5 1/2, length = 21.8}", [
        f'line 18: up = 5 1/2, length = 21.8}}, cannot be read; {QUOTES}: up = "3 5/8"']),
    "an inch mark within double quotes": (WRIST, 'wrist_girth = "6 1/4""', [
        f"line 12: wrist_girth = \"6 1/4\"\" has {PAIRS}: wrist_girth = '3 5/8\"'"]),
    "an open double quote": (WRIST, 'wrist_girth = "15.8', [
        f"line 12: wrist_girth = \"15.8 has {PAIRS}: wrist_girth = '3 5/8\"'"]),
    "an open single quote": (WRIST, "wrist_girth = '15.8", [
        f"line 12: wrist_girth = '15.8 has {PAIRS}: wrist_girth = '3 5/8\"'"]),
    "curly quotes": (WRIST, "wrist_girth = “15.8”", [
        'line 12: wrist_girth has curly quote marks; use straight ones: "']),
    "a point without a digit before it": (WRIST, "wrist_girth = .8", [
        "line 12: wrist_girth = .8 cannot be read; put a digit before the point: 0.5"]),
    "no value": (WRIST, "wrist_girth =  # forgot", [
        'line 12: wrist_girth has no value; write one, or "" for what was not measured']),
    "no equals sign": (WRIST, "wrist_girth: 15.8", [
        'line 12: "wrist_girth: 15.8" has no "="; expected name = value']),
    "a name of two words": (WRIST, "wrist girth = 15.8", [
        "line 12: wrist girth is not one word; expected wrist_girth"]),
    "a key given twice": (WRIST, "wrist_girth = 15.8\nwrist_girth = 15.9", [
        "line 13: wrist_girth is given a second time (first on line 12); write repeated readings "
        "as a list: wrist_girth = [15.8, 15.9, 15.8]"]),
    "readings without commas": (WRIST, "wrist_girth = [15.8 15.9]", [
        "line 12: wrist_girth = [15.8 15.9] cannot be read; put commas between readings, and "
        'quotes round fractions: wrist_girth = [15.8, "15 3/4"]']),
    "readings without commas on two lines": (WRIST, "wrist_girth = [15.8 15.9,\n16]", [
        "line 12: wrist_girth = [15.8 15.9, cannot be read; put commas between readings, and "
        'quotes round fractions: wrist_girth = [15.8, "15 3/4"]']),
    "tables without commas": ("{up = 3.2, length = 24.4},", "{up = 3.2, length = 24.4}", [
        "line 18: the entry before this one has no comma after it; put one after its }"]),
    "an open bracket": ("]\narmhole", "\narmhole", [
        "line 16: cap_arcs opens a bracket that is never closed; end the list with ] or }"]),
    "an open bracket on one line": (WRIST, "wrist_girth = [15.8, 15.9", [
        "line 12: wrist_girth opens a bracket that is never closed; end the list with ] or }"]),
    "an open bracket at the end": (LAST, "darts = [", [
        "line 29: darts opens a bracket that is never closed; end the list with ] or }"]),
    "a broken heading": ("[cloth]", "[cloth", [
        "line 23: [cloth is not a table's name; expected one such as [arm]"]),
    "a table twice": ("[make]", "[cloth]", [
        "line 26: [cloth] stands twice; keep one table of that name"]),
    "a backslash": (PLATE, '{outline = "C:\\plates\\a.svg"}', [
        "line 21: armhole has a backslash; write / instead, or put the text between single "
        "quotes"]),
    "a control character": ('"Ada Brandt"', '"Ada\x01Brandt"', [
        "line 2: owner holds a control character; type the line anew"]),
    "a number longer than a parser takes": (WRIST, "wrist_girth = " + "9" * 5000, [
        "the sheet holds a number too long or a list too deep to read"]),
    "a list deeper than a parser takes": (WRIST, "wrist_girth = " + "[" * 5000, [
        "the sheet holds a number too long or a list too deep to read"]),
    # --- the form -----------------------------------------------------------------------------
    "no unit": ('unit = "cm"\n', "\n", [
        'unit is missing; write unit = "cm" (or "in", or "mm") on the first line']),
    "an unknown unit": ('unit = "cm"', 'unit = "yd"', [
        "line 1: unit is \"yd\"; expected 'in', 'cm' or 'mm'"]),
    "the unit in a table": (LAST, LAST + '\nunit = "cm"', [
        "line 30: unit is not a key of [make]; it belongs at the top of the sheet, before any "
        "table"]),
    "a misspelt key": ("forearm_girth", "forarm_girth", [
        "line 10: forarm_girth is not a key of [arm]; did you mean forearm_girth?"]),
    "a misspelt key that must be there": ("wrist_girth", "wrist_grith", [
        "line 3: wrist_girth is missing; it must be measured (girth at the wrist)",
        "line 12: wrist_grith is not a key of [arm]; did you mean wrist_girth?"]),
    "an arm's side": ("forearm_girth", 'side = "right"\nforearm_girth', [
        "line 10: side is not a key of [arm]; leave it out: [arm] is for two arms alike, "
        "[left_arm] and [right_arm] for two that differ"]),
    "a key of another table": (LAST, "elbow_girth = 24.6", [
        "line 29: elbow_girth is not a key of [make]; it belongs in [arm]"]),
    "an unknown key of the armhole": (PLATE, "{wide = 9.8, height = 11.6}", [
        "line 21: wide is not a key of armhole; did you mean width?"]),
    "a misspelt key of an arc": (ARC, "{up = 5.8, lenght = 21.8}", [
        "line 18: lenght is not a key of cap_arcs; did you mean length?"]),
    "an unknown table": ("[cloth]", "[fabric]", [
        "line 23: fabric is not a key of the sheet; expected one of unit, owner, date, arm, "
        "left_arm, right_arm, cloth, make, trial, draft, scan, double, sizes"]),
    "a table within another": ("[cloth]", "[arm.cloth]", [
        "line 23: cloth is not a key of [arm]; it is a table of its own, [cloth]"]),
    "a list of tables": ("[cloth]", "[[cloth]]", [
        "line 23: cloth is a list [ ]; expected a table with the heading [cloth]"]),
    "a trial's girth below nothing": (LAST, f"{LAST}\n[trial]\nelbow_girth = -3", [
        "line 31: trial elbow_girth is -3.0 cm; expected 5.0 to 100.0 cm (a length is more than "
        "nothing; mistyped?)"]),
    "a trial that hangs too far off": (LAST, f"{LAST}\n[trial]\nhang_outward = 95", [
        "line 31: trial hang_outward is 95; expected -60 to 60 degrees"]),
    "no arm": ("[arm]", "[shoulder]", [
        "the sheet has no arm; expected a table [arm], or [left_arm] and [right_arm]",
        "line 3: shoulder is not a key of the sheet; expected one of unit, owner, date, arm, "
        "left_arm, right_arm, cloth, make, trial, draft, scan, double, sizes"]),
    "one arm of two": ("[arm]", "[right_arm]", [
        "line 3: [right_arm] stands without [left_arm]; expected both, or [arm] for two equal "
        "arms"]),
    "the value true": (WRIST, "wrist_girth = true", [
        f"line 12: wrist_girth is true; {SUCH_AS}"]),
    "a date for a length": (WRIST, "wrist_girth = 2024-05-14", [
        f"line 12: wrist_girth is 2024-05-14; {SUCH_AS}"]),
    "a table for a length": (WRIST, "wrist_girth = {cm = 15.8}", [
        f"line 12: wrist_girth is a table {{ }}; {SUCH_AS}"]),
    "a length for the armhole": (f"armhole = {PLATE}", "armhole = 34", [
        "line 21: armhole is 34; expected a table between braces: { ... }"]),
    "a length for an arc": (ARC, "21.8", [
        "line 18: cap_arcs 2 is 21.8; expected a table between braces: { ... }"]),
    "a number for a list of darts": (LAST, "darts = 2", [
        "line 29: darts is 2; expected a list of tables: [ { ... }, { ... } ]"]),
    "a number for a name": ('owner = "Ada Brandt"', "owner = 5", [
        'line 2: owner is 5; expected a text between quotes: "..."']),
    "a name too long": ("Ada Brandt", "x" * 100, [
        "line 2: owner is 100 characters long; expected at most 80"]),
    "a name of two lines": ("Ada Brandt", "Ada\\nBrandt", [
        "line 2: owner holds a line break or control character; expected one line of text"]),
    # --- lengths ------------------------------------------------------------------------------
    "not a number": (WRIST, "wrist_girth = nan", [
        f"line 12: wrist_girth cannot be read: nan is not a length; {SUCH_AS}"]),
    "a number too large": (WRIST, "wrist_girth = " + "9" * 500, [
        "line 12: wrist_girth is a number of some 500 digits; expected a length in cm (a slip of "
        "the pen?)"]),
    "feet": (WRIST, 'wrist_girth = "1 ft"', [
        f'line 12: wrist_girth cannot be read: "1 ft" is in feet; write it in inches; {SUCH_AS}']),
    "two fractions": (WRIST, 'wrist_girth = "6 1/4 1/2"', [
        f'line 12: wrist_girth cannot be read: "6 1/4 1/2" is not one number; {SUCH_AS}']),
    "thousands": (WRIST, 'wrist_girth = "1,580"', [
        'line 12: wrist_girth cannot be read: "1,580" could be 1.580 or 1580; write it with a '
        f"point, or without a comma; {SUCH_AS}"]),
    "no readings": (WRIST, "wrist_girth = []", [
        "line 12: wrist_girth is an empty list; give at least one reading, or leave the line "
        "out"]),
    "too many readings": (WRIST, f"wrist_girth = {[15.8] * 51}", [
        "line 12: wrist_girth has 51 readings; expected at most 50"]),
    "a reading that is a list": (WRIST, "wrist_girth = [15.8, [15.8]]", [
        f"line 12: wrist_girth reading 2 is a list [ ]; {SUCH_AS}"]),
    "one reading in another unit": (WRIST, "wrist_girth = [15.8, 158, 15.8]", [
        "line 12: wrist_girth reading 2 is 158.0 cm; expected 4.0 to 60.0 cm (mm written as "
        "cm?)"]),
    "millimetres in a sheet of centimetres": (WRIST, "wrist_girth = 158", [
        "line 12: wrist_girth is 158.0 cm; expected 4.0 to 60.0 cm (mm written as cm?)"]),
    "a slipped point": (WRIST, "wrist_girth = 1.58", [
        "line 12: wrist_girth is 1.6 cm; expected 4.0 to 60.0 cm (decimal point slipped?)"]),
    "a girth of nothing": (WRIST, "wrist_girth = 0", [
        "line 12: wrist_girth is 0.0 cm; expected 4.0 to 60.0 cm (a length is more than nothing; "
        "mistyped?)"]),
    "a girth below nothing": (WRIST, "wrist_girth = -15.8", [
        "line 12: wrist_girth is -15.8 cm; expected 4.0 to 60.0 cm (a length is more than "
        "nothing; mistyped?)"]),
    "a cap height in another unit": ("cap_height = 16.0", "cap_height = 160", [
        "line 15: cap_height is 160.0 cm; expected 2.0 to 60.0 cm (wrong unit?)"]),
    # --- what must be measured ----------------------------------------------------------------
    "no wrist girth": (WRIST + "\n", "\n", [
        "line 3: wrist_girth is missing; it must be measured (girth at the wrist)"]),
    "an empty wrist girth": (WRIST, 'wrist_girth = ""', [
        "line 12: wrist_girth is missing; it must be measured (girth at the wrist)"]),
    "no length to the elbow": (
        "shoulder_to_elbow = 33.8\nshoulder_to_inner_elbow = 31.9", "\n", [
            "line 3: shoulder_to_elbow is missing; it or shoulder_to_inner_elbow must be measured "
            "(shoulder point to elbow, down the back or the front)"]),
    # --- measures that fight ------------------------------------------------------------------
    "a back far shorter than the front": ("shoulder_to_elbow = 33.8", "shoulder_to_elbow = 21", [
        "line 4: shoulder_to_elbow is 21.0 cm; expected at least 23.9 cm with "
        "shoulder_to_inner_elbow 31.9 cm, for the back of the arm is the longer way (lines mixed "
        "up, or the arm turned?)"]),
    "an upper arm level at the shoulder": ("upper_arm_up = 12.5", "upper_arm_up = 28", [
        "line 8: upper_arm_up is 28.0 cm; expected at most 26.1 cm above the inner elbow with "
        "shoulder_to_inner_elbow 31.9 cm, for higher up no tape goes round the arm (measured from "
        "the wrong end?)"]),
    "a cap far shorter than straight down": ("cap_height = 16.0", "cap_height = 10", [
        "line 15: cap_height is 10.0 cm; expected at least 10.8 cm with armhole height 11.6 cm: "
        "the tape runs outward over the arm, not straight down (measured straight, or lines mixed "
        "up?)"]),
    "a limit that is met but for a hair": ("cap_height = 16.0", "cap_height = 10.785", [
        "line 15: cap_height is 10.8 cm; expected at least 10.9 cm with armhole height 11.6 cm: "
        "the tape runs outward over the arm, not straight down (measured straight, or lines mixed "
        "up?)"]),
    "a bent elbow": ("shoulder_to_elbow = 33.8", "shoulder_to_elbow = 75", [
        "line 4: shoulder_to_elbow is 75.0 cm; expected at most 61.8 cm with "
        "shoulder_to_inner_elbow 31.9 cm: that bends the elbow by 159 degrees (measured round "
        "a bent elbow, or lines mixed up?)"]),
    "a forearm level below the wrist": ("forearm_down = 6.2", "forearm_down = 24", [
        "line 11: forearm_down is 24.0 cm; expected at most 23.6 cm, for the level lies "
        "above the wrist, inner_elbow_to_wrist 23.6 cm (measured from the wrong end?)"]),
    "a wrist too wide for its girth": ("wrist_width = 5.8", "wrist_width = 8.5", [
        "line 12: wrist_girth is 15.8 cm; expected 17.0 to 27.5 cm around wrist_width 8.5 cm "
        "and wrist_depth 4.1 cm (lines mixed up?)"]),
    "half a wrist": ("wrist_width = 5.8\nwrist_depth = 4.1", "wrist_width = 8", [
        "line 13: wrist_width is 8.0 cm; expected at most 7.9 cm, half of wrist_girth 15.8 "
        "cm (lines mixed up, or taken with calipers?)"]),
    "a wrist larger than the upper arm": (
        "wrist_girth = 15.8\nwrist_width = 5.8\nwrist_depth = 4.1", "wrist_girth = 29", [
        "line 12: wrist_girth is 29.0 cm; expected at most 28.6 cm, for it is slimmer than "
        "upper_arm_girth 28.6 cm (lines mixed up?)"]),
    "an armhole girth too short": (PLATE, "{width = 9.8, height = 11.6, girth = 25}", [
        "line 21: armhole girth is 25.0 cm; expected 27.3 to 46.7 cm around armhole width "
        "9.8 cm and armhole height 11.6 cm (lines mixed up?)"]),
    "an armhole girth too long": (PLATE, "{width = 9.8, height = 11.6, girth = 50}", [
        "line 21: armhole girth is 50.0 cm; expected 27.3 to 46.7 cm around armhole width "
        "9.8 cm and armhole height 11.6 cm (lines mixed up, or measured over cloth?)"]),
    "an armhole wider than its girth": (PLATE, "{width = 20, girth = 34}", [
        "line 21: armhole width is 20.0 cm; expected at most 17.0 cm, half of armhole girth "
        "34.0 cm (lines mixed up, or taken with calipers?)"]),
    "an armhole that lies on its side": (
        "cap_height = 16.0\n", "\n", [
        "line 21: armhole width is 14.0 cm; expected at most 13.6 cm, 1.6 times armhole "
        "height 8.5 cm (width and height swapped?)"]),
    "an armhole below the elbow": (
        "cap_height = 16.0\n", "\n", [
        "line 21: armhole height is 33.0 cm; expected at most 25.5 cm with "
        "shoulder_to_inner_elbow 31.9 cm, for the underarm lies well above the elbow (lines "
        "mixed up?)"]),
    "a cap as long as the arm": ("cap_height = 16.0", "cap_height = 32", [
        "line 15: cap_height is 32.0 cm; expected at most 26.3 cm with armhole height 11.6 "
        "cm and upper_arm_girth 28.6 cm (measured to the elbow, or lines mixed up?)"]),
    "an arc above the armhole": (ARC, "{up = 12, length = 21.8}", [
        "line 18: cap_arcs 2 up is 12.0 cm; expected at most 11.6 cm, below the top of "
        "armhole height 11.6 cm (measured up the arm's slope?)"]),
    "an arc shorter than the armhole's width": (ARC, "{up = 5.8, length = 9}", [
        "line 18: cap_arcs 2 length is 9.0 cm; expected at least 9.8 cm, the armhole's own "
        "width at that level (armhole width 9.8 cm) (lines mixed up?)"]),
    "an arc longer than the arm's girth": (ARC, "{up = 5.8, length = 39}", [
        "line 18: cap_arcs 2 length is 39.0 cm; expected at most 37.1 cm with "
        "upper_arm_girth 28.6 cm (went round under the arm?)"]),
    "two arcs at one level": (ARC, "{up = 3.2, length = 24.6}", [
        "line 18: cap_arcs 2 is at the level 3.2 cm, as is cap_arcs 1; write repeated readings as "
        "a list: length = [19.6, 19.8]"]),
    "an arc without a level": (ARC, "{length = 21.8}", [
        "line 18: cap_arcs 2 lacks up; each arc needs up (its level above the underarm) and "
        "length"]),
    # --- traced armholes ----------------------------------------------------------------------
    "a tracing that is not there": (PLATE, '{outline = "plate.svg"}', [
        'line 21: armhole outline names "plate.svg", which is not there']),
    "a tracing of two points": (PLATE, "{outline = [[0, 0], [1, 2]]}", [
        "line 21: armhole outline has 2 points; expected at least 8"]),
    "a tracing of numbers": (PLATE, "{outline = [1, 2, 3]}", [
        'line 21: armhole outline is neither a file such as "armhole.svg" nor a list of points '
        "[[x, y], ...]"]),
    "a tracing of words": (PLATE, '{outline = [["a", 1]]}', [
        f'line 21: armhole outline cannot be read: "a" is not a length; {SUCH_AS}']),
    # --- shape, cloth and make ----------------------------------------------------------------
    "a ratio of three": (LAST, LAST, ["line 23: elbow_ratio is 3; expected 0.5 to 2 (width over "
                                      "depth)"]),
    "a slope in words": (LAST, LAST, ['line 23: shoulder_slope_front is "steep"; expected an angle '
                                      "in degrees such as 20"]),
    "a slope like a wall": (LAST, LAST, ["line 23: shoulder_slope_back is 80; expected -10 to 60 "
                                         "degrees"]),
    "a stretch of nothing": (CLOTH, "stretch_percent = 0", [
        "line 24: stretch_percent is 0; expected 0.01 to 60 percent"]),
    "a stretch in words": (CLOTH, 'stretch_percent = "a little"', [
        'line 24: stretch_percent is "a little"; expected a percentage such as 0.4']),
    "a stretch past counting": (CLOTH, "stretch_percent = " + "9" * 500, [
        "line 24: stretch_percent is 1e+09; expected 0.01 to 60 percent"]),
    "ease the wrong way round": (CLOTH, "eases_percent = [5, 3]", [
        "line 24: eases_percent is [5, 3]; expected the smaller first"]),
    "ease of three numbers": (CLOTH, "eases_percent = [1, 2, 3]", [
        "line 24: eases_percent has 3 entries; expected two, least and most: [3, 5]"]),
    "a cloth of wood": ('ends = "card"', 'ends = "wood"', [
        "line 25: ends is \"wood\"; expected 'card' or 'cloth'"]),
    "a ribbon for cloth": (CLOTH, "width = 14", [
        "line 24: width is 14.0 cm; expected 20.0 to 500.0 cm (wrong unit?)"]),
    "a pressure of a tyre": (CLOTH, "pressure_kpa = 200", [
        "line 24: pressure_kpa is 200; expected 0.05 to 50 kPa"]),
    "a filling of lead": (CLOTH, "filling_g_per_litre = 11000", [
        "line 24: filling_g_per_litre is 11000; expected 1 to 500 grams a litre"]),
    "a share of three halves": ('"1/3"', '"3/2"', [
        "line 27: inner_share is 1.5; expected 0.15 to 0.6 (the inner arm's share of the girth)"]),
    "a share past counting": ('"1/3"', '"' + "9" * 400 + '"', [
        f'line 27: inner_share is "{"9" * 46}...; expected a share such as "1/3"']),
    "a share in words": ('"1/3"', '"a third"', [
        'line 27: inner_share is "a third"; expected a share such as "1/3"']),
    "an unknown cap": ('cap = "darts"', 'cap = "pleats"', [
        "line 28: cap is \"pleats\"; expected 'ease' or 'darts'"]),
    "an allowance in another unit": (LAST, "seam_allowance = 10", [
        "line 29: seam_allowance is 10.0 cm; expected 0.0 to 6.0 cm (wrong unit?)"]),
    "an allowance for an unknown seam": (LAST, "seam_allowances = {side_seam = 1}", [
        "line 29: seam_allowances side_seam is not a seam; expected one of front_seam, back_seam, "
        "cap_seam, underarm_seam, outer_wrist, inner_wrist"]),
    "an allowance in words": (LAST, 'seam_allowances = {cap_seam = "wide"}', [
        f'line 29: seam_allowances cap_seam cannot be read: "wide" is not a length; {SUCH_AS}']),
    "seven darts": (LAST, "dart_count = 7", ["line 29: dart_count is 7; expected 0 to 4"]),
    "two darts and a half": (LAST, "dart_count = 2.5", [
        "line 29: dart_count is 2.5; expected a whole number, 0 to 4"]),
    "five darts listed": (LAST, "darts = [{}, {}, {}, {}, {}]", [
        "line 29: darts lists 5 darts; expected at most 4"]),
    "one dart and two listed": (LAST, "dart_count = 1\ndarts = [{at = 1}, {at = 3}]", [
        "line 29: dart_count is 1 but darts lists 2; leave one of them out"]),
    "a dart that its legs cannot span": (LAST, "darts = [{at = 3, length = 3, intake = 8}]", [
        "line 29: darts 1 intake is 8.0 cm; its legs, 3.0 cm long, cannot span that (is length "
        "and intake swapped?)"]),
    "a dart at another arm": (LAST, "darts = [{at = 90}]", [
        "line 29: darts 1 at is 90.0 cm; expected -40.0 to 40.0 cm (wrong unit?)"]),
    "a dart as wide as a sleeve": (LAST, "widest_dart = 80", [
        "line 29: widest_dart is 80.0 cm; expected 2.0 to 20.0 cm (wrong unit?)"]),
    "a tongue like a thread": (LAST, 'narrowest_tongue = "2 mm"', [
        "line 29: narrowest_tongue is 0.2 cm; expected 1.0 to 8.0 cm (wrong unit?)"]),
    "a point of two right angles": (LAST, "widest_point = 180", [
        "line 29: widest_point is 180; expected 20 to 90 degrees (between a dart's legs)"]),
    "a point in words": (LAST, 'widest_point = "sharp"', [
        'line 29: widest_point is "sharp"; expected an angle in degrees such as 20']),
    "nine darts at most": (LAST, "most_darts = 9", [
        "line 29: most_darts is 9; expected 2 to 4"]),
    "darts past counting": (LAST, f"most_darts = {'9' * 400}", [
        "line 29: most_darts is a number of some 400 digits; expected 2 to 4"]),
    "two darts and a half at most": (LAST, "most_darts = 2.5", [
        "line 29: most_darts is 2.5; expected a whole number, 2 to 4"]),
    "three darts of two at most": (LAST, "dart_count = 3\nmost_darts = 2", [
        "line 30: most_darts is 2 but dart_count is 3; leave one of them out"]),
    "three darts listed of two at most": (LAST, "darts = [{}, {}, {}]\nmost_darts = 2", [
        "line 30: most_darts is 2 but darts lists 3; leave one of them out"]),
    "an unknown paper": (LAST, 'paper = "a5"', [
        'line 29: paper is "a5"; expected one of a4, a3, a0, letter, tabloid, roll']),
    "rounding below nothing": (LAST, 'round_to = "-1/8 in"', [
        "line 29: round_to is -0.3 cm; expected 0.1 to 2.6 cm (a length is more than nothing; "
        "mistyped?)"]),
    "an unknown weave": (LAST, 'weave = "knit"', [
        "line 29: weave is \"knit\"; expected 'woven' or 'even'"]),
}
# what else must change for the fault to stand alone
ALSO = {
    "an armhole that lies on its side": (PLATE, "{width = 14, height = 8.5}"),
    "an armhole below the elbow": (PLATE, "{width = 9, height = 33}"),
    "a ratio of three": ("shoulder_length = 12.8", "shoulder_length = 12.8\nelbow_ratio = 3"),
    "a slope in words": (
        "shoulder_length = 12.8", 'shoulder_length = 12.8\nshoulder_slope_front = "steep"'),
    "a slope like a wall": (
        "shoulder_length = 12.8", "shoulder_length = 12.8\nshoulder_slope_back = 80"),
}


def test_the_sheet_that_the_faults_are_put_into_is_good() -> None:
    sheet = read_sheet(GOOD)
    assert [estimate.name for estimate in sheet.arms[0].estimated] == [
        "armhole girth", "girth_142_below_elbow"]
    assert len(BAD) >= 40


@pytest.mark.parametrize("kind", BAD)
def test_each_fault_is_told_in_one_line(kind: str) -> None:
    old, new, expected = BAD[kind]
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    if kind in ALSO:
        text = text.replace(*ALSO[kind], 1)
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(text)
    assert list(refusal.value.lines) == expected
    assert str(refusal.value) == "\n".join(expected)


def test_all_faults_come_at_once_in_the_order_of_the_sheet() -> None:
    text = GOOD
    for old, new in (
        (WRIST, "wrist_girth = 6 1/4"), ("elbow_girth = 24.6", "elbow_girth = 2460"),
        ("upper_arm_up", "upper_arm_upp"), ('ends = "card"', 'ends = "wood"'),
        ("forearm_down = 6.2", "forearm_down = 24"), (PLATE, "{width = 9.8 height = 11.6}"),
        ("shoulder_to_elbow = 33.8", 'shoulder_to_elbow = "long"'),
    ):
        text = text.replace(old, new, 1)
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(text)
    assert [line.split(":")[0] for line in refusal.value.lines] == [
        f"line {number}" for number in (4, 8, 9, 11, 12, 21, 25)
    ]


def test_faults_of_two_arms_name_the_arm() -> None:
    arm = GOOD.split("[arm]\n")[1].split("[cloth]")[0]
    text = f'unit = "cm"\n[left_arm]\n{arm}[right_arm]\n{arm.replace("15.8", "158")}'
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(text)
    assert list(refusal.value.lines) == [
        "line 31: right_arm wrist_girth is 158.0 cm; expected 4.0 to 60.0 cm (mm written as cm?)"
    ]


def test_an_arm_beside_a_left_arm_is_refused() -> None:
    arm = GOOD.split("[arm]\n")[1].split("[cloth]")[0]
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(f'unit = "cm"\n[arm]\n{arm}[left_arm]\n{arm}')
    assert list(refusal.value.lines) == [
        "line 22: [left_arm] stands beside [arm]; expected [arm] alone for two equal arms, or "
        "[left_arm] and [right_arm]"
    ]


def test_an_empty_sheet_says_what_is_missing() -> None:
    with pytest.raises(SheetFaults) as refusal:
        read_sheet("")
    assert list(refusal.value.lines) == [
        'unit is missing; write unit = "cm" (or "in", or "mm") on the first line',
        "the sheet has no arm; expected a table [arm], or [left_arm] and [right_arm]",
    ]


@pytest.mark.parametrize("text", ["Ada\\uFFFEBrandt", "Ada\\u0085Brandt", "Ada\\u2028Brandt"])
@pytest.mark.parametrize("key", ["owner", "date", "name"])
def test_what_no_page_can_show_is_refused_in_one_line(key: str, text: str) -> None:
    sheet = GOOD.replace('owner = "Ada Brandt"\n', "" if key == "name" else f'{key} = "{text}"\n')
    if key == "name":
        sheet = sheet.replace("[cloth]", f'[cloth]\nname = "{text}"')
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(sheet)
    assert [line.split(": ", 1)[1] for line in refusal.value.lines] == [
        f"{key} holds a line break or control character; expected one line of text"]


def test_a_mark_that_an_editor_left_is_stripped() -> None:
    assert read_sheet(GOOD.replace("Ada", "\ufeffAda\ufeff")).owner == "Ada Brandt"


@pytest.mark.parametrize("text", [
    GOOD.replace(LAST, LAST + "".join(f"\nkey{k} = {k}" for k in range(3000))),
    GOOD.replace('"Ada Brandt"', '"Ada\n' + 2000 * "and so on\n" + '"'),
    GOOD.replace(WRIST, "wrist_girth = [" + ", ".join(["true"] * 40_000) + "]"),
    GOOD.replace("wrist_girth", "w" * 100_000),
])
def test_many_faults_or_long_ones_stay_one_screen(text: str) -> None:
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(text)
    assert len(refusal.value.lines) <= 13
    assert max(map(len, refusal.value.lines)) <= 420
    if len(refusal.value.lines) == 13:
        assert re.fullmatch(r"and \d+ more", refusal.value.lines[-1])


# --- the whole sheet in another unit, two girths swapped --------------------------------------

LENGTH = re.compile(r"(?<![\w.])(\d+\.\d+)(?=[,}\n])")


def scaled(text: str, factor: float, unit: str) -> str:
    """Return the sheet with every length of its arm times `factor`, and saying `unit`."""
    head, arm = text.split("[cloth]")[0].split("[arm]")
    return (head.replace('"cm"', f'"{unit}"') + "[arm]"
            + LENGTH.sub(lambda found: f"{float(found[1]) * factor:.2f}", arm))


FOUR = "\n".join(line for line in GOOD.splitlines() if line.startswith((
    "unit", "[arm]", "shoulder_to_elbow", "inner_elbow", "upper_arm_girth", "wrist_girth"))) + "\n"


@pytest.mark.parametrize("text", [GOOD, FOUR])
@pytest.mark.parametrize(("factor", "says", "like", "words"), [
    (1 / 2.54, "cm", "in", "inches"), (10, "cm", "mm", "mm"), (1, "in", "cm", "cm"),
    (10, "in", "mm", "mm"), (1, "mm", "cm", "cm"), (1 / 2.54, "mm", "in", "inches"),
])
@pytest.mark.parametrize("size", [0.9, 1.0, 1.15])
def test_a_sheet_in_another_unit_is_told_first_and_alone(
    text: str, factor: float, says: str, like: str, words: str, size: float
) -> None:
    wrong = scaled(text, size * factor, says).replace("wrist_depth", "wrist_dept")
    with pytest.raises(SheetFaults) as refusal:
        read_sheet(wrong)
    assert len(refusal.value.lines) == 1
    assert refusal.value.lines[0].startswith(
        f"line 1: these look like {words} in a sheet that says {says} (shoulder_to_elbow ")
    assert refusal.value.lines[0].endswith(f'); write unit = "{like}" if they are')


@pytest.mark.parametrize("back", [17.5, 20.5, 24.0])
def test_a_child_s_sheet_is_in_no_other_unit(back: float) -> None:
    # from memory: upper arms of 17 cm and wrists of 12 cm go with children of five
    text = (f'unit = "cm"\n[arm]\nshoulder_to_elbow = {back}\n'
            f"inner_elbow_to_wrist = {0.76 * back:.1f}\nupper_arm_girth = {10 + back / 3:.1f}\n"
            f"wrist_girth = {9 + back / 7:.1f}\n")
    assert read_sheet(text).arms[0].shoulder_to_elbow == 10 * back


@pytest.mark.parametrize(("one", "other", "line"), [
    ("wrist_girth", "upper_arm_girth", "line 12: wrist_girth 28.6 cm and upper_arm_girth 15.8 cm"),
    ("wrist_girth", "elbow_girth", "line 12: wrist_girth 24.6 cm and elbow_girth 15.8 cm"),
    ("wrist_girth", "forearm_girth", "line 12: wrist_girth 24.3 cm and forearm_girth 15.8 cm"),
])
def test_two_girths_that_look_swapped_are_told_alone(one: str, other: str, line: str) -> None:
    text = GOOD.replace(one, "?").replace(other, one).replace("?", other)
    lines = text.splitlines()
    first, second = (next(k for k, row in enumerate(lines) if row.startswith(f"{name} ="))
                     for name in (one, other))
    lines[first], lines[second] = lines[second], lines[first]  # each on its own line again
    with pytest.raises(SheetFaults) as refusal:
        read_sheet("\n".join(lines))
    assert list(refusal.value.lines) == [
        f"{line} look swapped; the wrist is the slimmest part of an arm"]


def test_a_full_upper_arm_over_a_slim_elbow_is_no_swap() -> None:
    text = (FOUR.replace("28.6", "54").replace("15.8", "13.2")
            + "elbow_girth = 23.9\nforearm_girth = 29.8\n")
    assert read_sheet(text).arms[0].elbow_girth == 239.0
