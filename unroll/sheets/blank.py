"""A blank sheet to fill in: every key, what the tape does, and what happens if it is left out."""

from __future__ import annotations

from unroll.units import Unit, unit_named

_SAMPLES: dict[Unit, dict[str, str]] = {
    "in": {
        "unit_name": "inches", "samples": '"13 5/16", "13 5/16 in", 13.25 or "338 mm"',
        "readings": '["6 1/4", "6 1/4", "6 3/8"]', "inch": "1 in", "wide": "3/4", "small": "1/2",
        "dart": 'at = "2", length = "4", intake = "1"',
    },
    "cm": {
        "unit_name": "centimetres", "samples": '35.2, "35,2", "352 mm" or "13 7/8 in"',
        "readings": "[15.8, 15.8, 16.0]", "inch": "2.5 cm", "wide": "2", "small": "1",
        "dart": 'at = "5", length = "10", intake = "2.5"',
    },
    "mm": {
        "unit_name": "millimetres", "samples": '352, "35.2 cm" or "13 7/8 in"',
        "readings": "[158, 158, 160]", "inch": "25 mm", "wide": "20", "small": "10",
        "dart": 'at = "50", length = "100", intake = "25"',
    },
}
_DEFAULTS: dict[Unit, tuple[str, str, str, str]] = {
    # cap ease, seam allowance, rounding, width of cloth: common practice, no source
    "in": ("1", "3/8", "1/8", "54"), "cm": ("2.5", "1", "", "140"), "mm": ("25", "10", "", "1400"),
}

_TEMPLATE = '''\
# Arm measures for a body double                                     (1 to 15: see the guide)
#
# Write each measure between the quote marks. Leave "" where you did not measure: the value is
# then estimated, and marked so wherever it is used. Four measures cannot be guessed; they are
# marked required. Lengths are in {unit_name} unless they say otherwise:
# {samples}.
# Measured more than once? List the readings: wrist_girth = {readings}
# (the most frequent wins, else the middle one).
#
# Let the arm hang as the double's arm shall hang. Do not bend the elbow further for any tape.
# The tape lies on the skin without pressing it in; bare arm or thin sleeve.

unit = "{unit}"
owner = ""                        # for the labels
date = ""                         # 2024-05-14

[arm]                             # two unlike arms: [left_arm] here, and a [right_arm] like it

# Lengths
shoulder_to_elbow = ""            #  1 required (or 2): shoulder point to elbow point, down the back
shoulder_to_inner_elbow = ""      #  2 shoulder point to the crease of the elbow, down the front
inner_elbow_to_wrist = ""         #  3 required: crease of the elbow to the wrist line, inside

# Girths, level all round, and where they lie
upper_arm_girth = ""              #  4 required: fullest girth of the upper arm
upper_arm_up = ""                 #  5 how far above the inner elbow you took it
elbow_girth = ""                  #  6 around elbow point and crease
forearm_girth = ""                #  7 fullest girth of the forearm
forearm_down = ""                 #  8 how far below the inner elbow you took it
girths = [                        # further girths, as many as you like: down or up, from the
  {{ down = "", girth = "" }},      #    inner elbow. Best are half-way from 7 to the wrist, and
  {{ up = "", girth = "" }},        #    level with the underarm; ratio = width over depth, if known
]
wrist_girth = ""                  #  9 required: at the wrist bone
wrist_width = ""                  # 10 across, thumb side to little-finger side, between two books
wrist_depth = ""                  # 11    that just touch, not calipers; and depth through, likewise

# Cap: the arm above the level of the underarm
cap_height = ""                   # 12 over the outside, shoulder point to the underarm's level
cap_arcs = [                      # 13 front to back over the outside, armhole edge to armhole
  {{ up = "", length = "" }},       #    edge; up = its level above the underarm, straight up.
  {{ up = "", length = "" }},       #    Usually at half the armhole's height, and {inch} above
  {{ up = "", length = "" }},       #    and below that
]

# The double's armhole plate: width front to back, height underarm to shoulder, girth along its
# edge. Any one will do, more are better. Or trace it: armhole = {{ outline = "armhole.svg" }}
# (true scale, front to the right, shoulder up), or a list of points [[x, y], ...].
armhole = {{ width = "", height = "", girth = "" }}   # 14

# How the double's armhole stands: hang a plumb line from the double's shoulder point and measure
# level, with a ruler. A minus sign stands for the other way: "-{small}".
underarm_inside = ""              # how far the underarm point lies from the line, to the body
underarm_behind = ""              # and to the back, seen from the side
front_inside = ""                 # half-way down: how much nearer to the double's middle the
                                  #   armhole's front edge stands than its back edge
# How the arm shall hang: the line from the arm's own shoulder point, the arm hanging
elbow_outward = ""                # how far the elbow's middle lies outward of the line
elbow_forward = ""                # and forward of it
wrist_outward = ""                # the wrist's middle, likewise
wrist_forward = ""                #   (this tells the elbow's bend better than 1 less 2)

# For the piece that joins the arm to the double's shoulder
shoulder_length = ""              # 15 neck point to shoulder point
shoulder_slope_front = ""         # degrees below level; 20 if left out
shoulder_slope_back = ""

# Width (front to back) over depth of the arm at three girths, each held between two books
upper_arm_ratio = ""              # 1.1 if left out
elbow_ratio = ""                  # 1.05
forearm_ratio = ""                # 0.95

[double]                          # for the tape round the double and both arms, half-way down
between_armholes = ""             # straight from armhole to armhole, half-way down them
depth = ""                        # of the double there, front to back
round_both_arms = ""              # what the tape shall read, if you know

[cloth]
name = "plain cotton"
stretch_percent = ""              # stretch along the thread under a pull of 1 N a cm; 0.4
bias_stretch_percent = ""         # the same on the bias; 3
gives_percent = ""                # how far it gives in its plane before it puckers; 3
eases_percent = ""                # least and most of a seam it eases in: [3, 5]
ends = "card"                     # end plates backed with "card", or "cloth" alone
width = "{width}"{width_gap}# usable width off the roll
pressure_kpa = ""                 # firmness of the filling; 2
filling_g_per_litre = ""          # 60
weighs_g_per_m2 = ""              # of the cloth; 150

[make]
inner_share = "1/3"               # of each girth that the inner arm takes
cap = "darts"                     # "darts" or "ease"
cap_ease = "{ease}"{ease_gap}# raised over the cap where it is "ease"
dart_count = ""                   # 0 to 4; the program proposes a number if left out
darts = []                        # to fix them: [ {{ {dart} }} ]
                                  #   at: along the cap seam from the shoulder, + to the front
widest_dart = ""                  # most that one dart may take in; 110 mm if left out
narrowest_tongue = ""             # least cloth between two darts; 25 mm
widest_point = ""                 # widest angle between a dart's legs, degrees; 60
most_darts = ""                   # how many may be proposed, 2 to 4; 4
seam_allowance = "{allowance}"{allowance_gap}# on every seam
seam_allowances = {{}}              # where one differs: {{ outer_wrist = "{wide}" }}
round_to = "{rounding}"{rounding_gap}# flat draft: inner widths to the nearest; "" for no rounding
paper = "{paper}"{paper_gap}# a4, a3, a0, letter, tabloid or roll
weave = "woven"                   # "woven", or "even" for cloth that gives alike all ways

# Later, when a trial of the corrected pieces is sewn and filled, measure it and run unroll refit:
# [trial]
# upper_arm_girth = ""            # where 4 was taken; likewise elbow_girth and forearm_girth
# cap_arcs = [ {{ up = "", length = "" }} ]
# hang_outward = ""               # degrees that it hangs away from the body; hang_forward likewise
'''


def blank_sheet(unit: str = "cm") -> str:
    """Return a commented sheet to fill in.

    Parameters
    ----------
    unit : {"in", "cm", "mm"}
        Unit that the maker measures in.

    Returns
    -------
    str
        TOML. An empty text `""` stands for what was not measured.

    Raises
    ------
    UnrollError
        When the unit is none of the three.

    Examples
    --------
    >>> blank_sheet("in").splitlines()[12]
    'unit = "in"'
    """
    chosen = unit_named(unit)
    ease, allowance, rounding, width = _DEFAULTS[chosen]
    paper = "letter" if chosen == "in" else "a4"
    entries = {"ease": ease, "allowance": allowance, "rounding": rounding, "width": width,
               "paper": paper}
    keys = {"ease": "cap_ease", "allowance": "seam_allowance", "rounding": "round_to"}
    gaps = {
        f"{name}_gap": " " * (34 - len(f'{keys.get(name, name)} = "{value}"'))
        for name, value in entries.items()
    }
    return _TEMPLATE.format(unit=chosen, **_SAMPLES[chosen], **entries, **gaps)
