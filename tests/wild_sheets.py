"""Sheets as makers might write them, at random: bodies, tapes, habits of typing, armholes, slips.

Nothing of the program is used to choose a value: bodies come from a plain model of their own, the
tape errs, and what is written is what somebody could have read off it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import atan2, hypot, pi, radians, sin, sqrt, tan

from tests.wild_armholes import armhole_entry

MM = {"in": 25.4, "cm": 10.0, "mm": 1.0}
# back of the upper arm, wrist, upper-arm girth over wrist girth: house guesses, wide on purpose
BODIES = {
    "child": ((175, 300), (108, 142), (1.35, 1.8)),
    "slim": ((300, 395), (132, 168), (1.45, 1.8)),
    "average": ((305, 390), (145, 182), (1.75, 2.05)),
    "muscular": ((335, 415), (165, 205), (2.0, 2.5)),
    "full": ((305, 385), (150, 195), (2.15, 2.7)),
    "very full": ((300, 390), (165, 225), (2.6, 3.2)),
}
NAMES = ["Zoë Ngũgĩ", "Анна К.", "林 美玲", "O'Neil, twice", "Ada", "", "Łucja & Źdźbło", "my aunt"]
CLOTHS = ["old sheet", "cotton canvas", "Leinen", "denim 12 oz", "jersey", "felt", "calico"]


@dataclass
class WildSheet:
    """A sheet, the drawings beside it, and what should become of it."""

    name: str
    body: str
    unit: str
    lines: list[str]
    files: dict[str, bytes] = field(default_factory=dict)
    traits: set[str] = field(default_factory=set)
    slip: str = ""  # what the maker did wrong; refusal is right

    @property
    def text(self) -> str:
        """The sheet's text."""
        return "\n".join(self.lines) + "\n"


@dataclass
class Body:
    """One arm and its double, mm and degrees; what tapes are read from."""

    back: float
    front: float
    lower: float
    girths: dict[str, float]
    levels: dict[str, float]
    ratios: dict[str, float]
    hole: tuple[float, float]  # width, height
    wrist: tuple[float, float]
    roundness: float  # of the cap: 2 is an ellipse's quarter
    stance: dict[str, float]

    @property
    def depth(self) -> float:
        """The upper arm's, outward."""
        return self.girths["upper_arm"] / (pi * 0.5 * (1 + self.ratios["upper_arm"]))

    def reach(self, share: float) -> float:
        """How far the cap stands out at a share of the armhole's height."""
        return self.depth * (1 - share**self.roundness) ** (1 / self.roundness)

    def cap_height(self) -> float:
        """Over the outside, shoulder point to the underarm's level."""
        steps = [k / 200 for k in range(201)]
        way = [(self.reach(s), s * self.hole[1]) for s in steps]
        return sum(hypot(a[0] - b[0], a[1] - b[1]) for a, b in zip(way, way[1:], strict=False))

    def arc(self, up: float) -> float:
        """Front to back over the outside, at a level: a piece of a circle that is as deep."""
        share = up / self.hole[1]
        half, out = self.hole[0] * sqrt(share * (1 - share)), self.reach(share)
        radius = (half**2 + out**2) / (2 * out)
        return 2 * radius * (pi - atan2(half, out - radius))

    def girth_at(self, down: float) -> float:
        """Girth below the inner elbow (above it where negative), on straight lines."""
        known = [
            (-self.levels["upper_arm"], "upper_arm"),
            (0.0, "elbow"),
            (self.levels["forearm"], "forearm"),
            (self.lower, "wrist"),
        ]
        down = max(known[0][0], down)
        for (a, one), (b, two) in zip(known, known[1:], strict=False):
            if down <= b:
                share = (down - a) / (b - a)
                return (1 - share) * self.girths[one] + share * self.girths[two]
        return self.girths["wrist"]


def body_of(chance: random.Random, kind: str) -> Body:
    """Return a body of a kind."""
    among = chance.uniform
    backs, wrists, fullness = BODIES[kind]
    back, wrist = among(*backs), among(*wrists)
    if kind == "child":  # a small child has small wrists
        wrist = 75 + 0.22 * back + among(-6, 8)
    upper = wrist * among(*fullness)
    taper = upper / wrist
    girths = {
        "upper_arm": upper,
        "elbow": wrist * taper ** among(0.55, 0.78),
        "forearm": wrist * taper ** among(0.6, 0.85),
        "wrist": wrist,
    }
    ratios = {"upper_arm": among(0.9, 1.2), "elbow": among(0.95, 1.3), "forearm": among(1.0, 1.3)}
    bend = radians(among(2, 30))
    # crease and elbow point lie about where the bend is halved; makers find them higher or lower
    front = back - girths["elbow"] / pi * 1.05 * tan(0.5 * bend) * among(0.8, 1.6)
    front = max(front, among(0.8, 0.9) * back)
    lower = back * among(0.66, 0.84)
    height = min(0.55 * front, upper * among(0.3, 0.42) + among(10, 30))
    width = height * among(0.65, 1.0)
    levels = {
        "upper_arm": (front - height) * among(0.4, 0.85),
        "forearm": lower * among(0.18, 0.33),
    }
    flat = among(1.25, 1.6)
    deep = 2 * wrist / (2 * pi * sqrt((flat**2 + 1) / 2)) * among(0.98, 1.02)
    body = Body(
        back,
        front,
        lower,
        girths,
        levels,
        ratios,
        (width, height),
        (flat * deep, deep),
        among(1.7, 2.3),
        {},
    )
    body.stance = stance_of(chance, body, bend)
    return body


def stance_of(chance: random.Random, body: Body, bend: float) -> dict[str, float]:
    """Return what plumb line and ruler would read."""
    lean, back, turn = (radians(chance.uniform(*r)) for r in ((-6, 14), (-4, 10), (-4, 20)))
    out, ahead, aside = (radians(chance.uniform(*r)) for r in ((-2, 10), (-5, 6), (-4, 4)))
    width, height = body.hole
    upper = body.front - height
    inside, behind = height * sin(lean), height * sin(back)
    ahead_of_plumb = 0.5 * body.depth * sin(turn) - behind  # a plate that is turned carries the arm
    elbow = (0.5 * body.depth - inside + upper * sin(out), ahead_of_plumb + upper * sin(ahead))
    return {
        "underarm_inside": inside,
        "underarm_behind": behind,
        "front_inside": width * sin(turn),
        "elbow_outward": elbow[0],
        "elbow_forward": elbow[1],
        "wrist_outward": elbow[0] + body.lower * sin(out + aside),
        "wrist_forward": elbow[1] + body.lower * sin(ahead + bend),
    }


class Hand:
    """How one maker reads a tape and types what she read."""

    def __init__(self, chance: random.Random, unit: str) -> None:
        """Give her habits."""
        self.chance, self.unit = chance, unit
        self.step = chance.choice(
            {"in": [1 / 8, 1 / 16], "cm": [0.1, 0.1, 0.5], "mm": [1, 1, 5]}[unit]
        )
        self.habit = chance.randrange(5)
        self.error = chance.choice([0.0, 0.004, 0.012])
        self.three = chance.random() < 0.3

    def read(self, mm: float) -> float:
        """Return what the tape shows, in her unit."""
        slack = self.chance.gauss(0, self.error * abs(mm) + 0.5)
        return round((mm + slack) / MM[self.unit] / self.step) * self.step

    def types(self, mm: float) -> str:
        """Return one reading as she types it."""
        value = self.read(mm)
        if self.unit == "in":
            return self._inches(value)
        if self.chance.random() < 0.05:
            other = value * MM[self.unit] / 10
            return self.chance.choice([f'"{10 * other:.0f} mm"', f'"{other:.1f} cm"'])
        plain = f"{value:.1f}".removesuffix(".0")
        comma = plain.replace(".", ",")
        return [
            plain,
            f'"{comma}"',
            f'"{plain} {self.unit}"',
            f"'{comma}{self.unit}'",
            f"{value:.2f}",
        ][self.habit]

    def _inches(self, value: float) -> str:
        whole, part = divmod(Fraction(round(abs(value) * 16), 16), 1)
        sign = "-" if value < 0 else ""
        if self.habit == 0 or (not part and self.habit < 3):
            return f"{value:g}" if part else f"{sign}{int(whole)}"
        glyph = {"1/2": "½", "1/4": "¼", "3/4": "¾", "1/8": "⅛", "3/8": "⅜", "5/8": "⅝", "7/8": "⅞"}
        lead = f"{int(whole)}" if whole or not part else ""
        if self.habit == 1 and str(part) in glyph:
            return f'"{sign}{lead}{glyph[str(part)]}"'
        between = "-" if self.habit == 2 and lead and not sign else " "
        text = sign + lead + (f"{between if lead else ''}{part}" if part else "")
        return [f'"{text}"', f'"{text}"', f"'{text}\"'", f'"{text} in"', f'"{text} inches"'][
            self.habit
        ]

    def entry(self, mm: float, *, often: bool = True) -> str:
        """Return what stands after the sign of equality: a reading, or three."""
        if often and self.three and self.chance.random() < 0.5:
            return f"[{', '.join(self.types(mm) for _ in range(3))}]"
        return self.types(mm)


def arm_lines(
    chance: random.Random, body: Body, hand: Hand, sheet: WildSheet, which: str
) -> list[str]:
    """Return the lines of one arm's table."""
    keep = chance.choice([0.0, 0.3, 0.6, 0.85, 1.0])
    blank = chance.random() < 0.3
    g, entries = body.girths, {}
    optional = {
        "upper_arm_up": body.levels["upper_arm"],
        "elbow_girth": g["elbow"],
        "forearm_girth": g["forearm"],
        "forearm_down": body.levels["forearm"],
        "wrist_width": body.wrist[0],
        "wrist_depth": body.wrist[1],
        "cap_height": body.cap_height() * chance.choice([1, 1, 1, 0.94, 1.05]),
        "shoulder_length": body.back * chance.uniform(0.33, 0.45),
    }
    lengths = {"shoulder_to_elbow": body.back, "shoulder_to_inner_elbow": body.front}
    spared = chance.choice(list(lengths)) if chance.random() < 0.5 else ""
    must = {
        **lengths,
        "inner_elbow_to_wrist": body.lower,
        "upper_arm_girth": g["upper_arm"],
        "wrist_girth": g["wrist"],
    }
    for name, mm in {**must, **optional}.items():
        if name != spared and (name in must or chance.random() < keep):
            entries[name] = hand.entry(mm)
        elif blank:
            entries[name] = '""'
    if chance.random() < keep:
        sheet.traits.add("cap arcs")
        places = chance.sample(range(7), chance.choice([1, 2, 3, 3, 5]))
        shares = [0.2 + 0.1 * k + chance.uniform(-0.02, 0.02) for k in sorted(places)]
        rows = [
            f"{{ up = {hand.entry(s * body.hole[1], often=False)}, length = "
            f"{hand.entry(body.arc(s * body.hole[1]))} }}"
            for s in shares
        ]
        entries["cap_arcs"] = f"[{', '.join(rows)}]"
    if chance.random() < 0.3 * keep + 0.05:
        sheet.traits.add("girths")
        entries["girths"] = girths_entry(chance, body, hand)
    if chance.random() < 0.35:
        sheet.traits.add("stance")
        share = chance.choice([0.3, 0.6, 1.0])
        entries |= {k: hand.entry(v) for k, v in body.stance.items() if chance.random() < share}
    if chance.random() < 0.2:
        for name, ratio in body.ratios.items():
            entries[f"{name}_ratio"] = f"{ratio:.2f}"
    if chance.random() < 0.25:
        entries["shoulder_slope_front"] = f"{chance.uniform(12, 28):.0f}"
        entries["shoulder_slope_back"] = f'"{chance.uniform(12, 28):.0f}"'
    entries |= armhole_entry(chance, body.hole, hand, sheet.files, sheet.traits, which)
    order = list(entries)
    if chance.random() < 0.3:
        chance.shuffle(order)
    return [f"[{which}]", *(f"{name} = {entries[name]}" for name in order)]


def girths_entry(chance: random.Random, body: Body, hand: Hand) -> str:
    """Return further girths, here and there down the arm."""
    rows = []
    for share in sorted(
        chance.sample([-0.7, -0.35, -0.2, 0.5, 0.65, 0.85], chance.randrange(1, 4))
    ):
        far = share * (body.front - body.hole[1] if share < 0 else body.lower)
        side = "up" if share < 0 else "down"
        ratio = f", ratio = {chance.uniform(0.95, 1.3):.2f}" if chance.random() < 0.2 else ""
        rows.append(
            f"{{ {side} = {hand.entry(abs(far), often=False)}, girth = "
            f"{hand.entry(body.girth_at(far))}{ratio} }}"
        )
    return f"[{', '.join(rows)}]"


def cloth_lines(chance: random.Random, hand: Hand) -> list[str]:
    """Return the cloth's table; often left out."""
    if chance.random() < 0.3:
        return []
    rows = {
        "name": f'"{chance.choice(CLOTHS)}"',
        "stretch_percent": f"{chance.choice([0.2, 0.4, 1, 3, 8])}",
        "bias_stretch_percent": f"{chance.choice([2, 3, 5, 12])}",
        "gives_percent": f"{chance.choice([1, 3, 6])}",
        "eases_percent": chance.choice(["4", "[3, 5]", "[8, 10]", "2"]),
        "ends": chance.choice(['"card"', '"cloth"']),
        "width": hand.entry(chance.choice([900, 1120, 1400, 1500]), often=False),
        "pressure_kpa": f"{chance.choice([0.8, 1.5, 2, 4])}",
        "filling_g_per_litre": f"{chance.choice([25, 50, 60, 85])}",
    }
    return ["[cloth]", *(f"{k} = {v}" for k, v in rows.items() if chance.random() < 0.4)]


def make_lines(chance: random.Random, body: Body, hand: Hand, sheet: WildSheet) -> list[str]:
    """Return how the arm is to be made; sometimes left out."""
    if chance.random() < 0.15:
        return []
    cap = chance.choice(["darts", "darts", "ease"])
    size = sqrt(body.girths["upper_arm"] * body.back) / 310
    rows = {
        "inner_share": chance.choice(['"1/3"', "0.35", '"0,4"', '"2/5"', "0.28", '"1/2"']),
        "cap": f'"{cap}"',
        "cap_ease": hand.entry(chance.choice([2, 12, 25, 38, 50]), often=False),
        "widest_dart": hand.entry(chance.choice([60, 90, 140]), often=False),
        "narrowest_tongue": hand.entry(chance.choice([15, 30, 40]), often=False),
        "widest_point": f"{chance.choice([40, 50, 70])}",
        "most_darts": f"{chance.choice([2, 3, 4])}",
        "seam_allowance": hand.entry(
            chance.choice([5, 6, 10, 10, 12, 15, 16, 20, 25]), often=False
        ),
        "seam_allowances": "{ outer_wrist = "
        + hand.types(30)
        + ", cap_seam = "
        + hand.types(8)
        + " }",
        "round_to": chance.choice(['"none"', hand.types(3.2), '"1/8 in"', '"5 mm"']),
        "paper": f'"{chance.choice(["a4", "a3", "a0", "letter", "tabloid", "roll", "A4"])}"',
        "weave": chance.choice(['"woven"', '"even"']),
    }
    often = {"seam_allowance": 0.8, "paper": 0.7, "cap": 0.7}
    kept = {k: v for k, v in rows.items() if chance.random() < often.get(k, 0.2)}
    if "cap" in kept:
        sheet.traits.add(f"cap {cap}")
    if "seam_allowance" in kept and body.hole[1] < 90:
        sheet.traits.add("small armhole")
    if cap == "darts" and "most_darts" not in kept and chance.random() < 0.3:
        fixed_darts(chance, hand, size, kept, sheet)
    return ["[make]", *(f"{k} = {v}" for k, v in kept.items())]


def fixed_darts(
    chance: random.Random, hand: Hand, size: float, kept: dict[str, str], sheet: WildSheet
) -> None:
    """Fix a number of darts, or the darts themselves."""
    if chance.random() < 0.5:
        sheet.traits.add("dart_count")
        kept["dart_count"] = f"{chance.randrange(5)}"
        return
    sheet.traits.add("fixed darts")
    places = chance.choice([(0,), (-40, 40), (-28, 32), (-60, 0, 60), (35,), (-75, -25, 25, 75)])
    rows = []
    for at in places:
        intake = (
            f", intake = {hand.types(chance.uniform(12, 30) * size)}"
            if chance.random() < 0.2
            else ""
        )
        rows.append(
            f"{{ at = {hand.types(at * size)}, length = "
            f"{hand.types(chance.uniform(60, 130) * size)}{intake} }}"
        )
    kept["darts"] = f"[{', '.join(rows)}]"


def wild_sheet(seed: int) -> WildSheet:
    """Return the sheet of a seed."""
    from tests.wild_slips import slipped

    chance = random.Random(seed)
    kind, unit = chance.choice(list(BODIES)), chance.choice(["in", "cm", "mm"])
    sheet, hand = WildSheet(f"wild{seed}", kind, unit, []), Hand(chance, unit)
    body = body_of(chance, kind)
    sheet.lines = [f'unit = "{unit}"']
    if chance.random() < 0.6:
        sheet.lines.append(f'owner = "{chance.choice(NAMES)}"')
    if chance.random() < 0.4:
        sheet.lines.append(chance.choice(['date = "3 May"', "date = 2025-05-03", 'date = "2025"']))
    if chance.random() < 0.2:
        sheet.traits.add("two arms")
        size = chance.uniform(0.88, 1.12)
        girths = {k: size * v * chance.uniform(0.97, 1.03) for k, v in body.girths.items()}
        wider = girths["wrist"] / body.girths["wrist"]
        other = replace(body, girths=girths, wrist=(wider * body.wrist[0], wider * body.wrist[1]))
        sheet.lines += arm_lines(chance, body, hand, sheet, "left_arm")
        sheet.lines += arm_lines(chance, other, hand, sheet, "right_arm")
    else:
        sheet.lines += arm_lines(chance, body, hand, sheet, "arm")
    sheet.lines += [*cloth_lines(chance, hand), *make_lines(chance, body, hand, sheet)]
    return slipped(sheet, chance) if chance.random() < 0.12 else sheet
