"""Feeds sheets and traced outlines with damage of every kind, for as long as one has patience.

    python -m tests.study_fuzzing 10        # minutes

Each case starts from a sound text or from raw bytes, is damaged a few times (bytes changed, cut
out, doubled, tokens of the format put in, numbers replaced by awkward ones), and is read. What
counts as a failure: anything raised that is no UnrollError, a line too long or with something
unprintable in it, a warning, more than `SLOWEST` seconds, or a file written. The seed of a failing
case is printed; `case(seed)` makes it again.
"""

from __future__ import annotations

import faulthandler
import os
import random
import re
import signal
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path

from tests.test_bad_sheets import GOOD
from unroll.disk.outlines import load_outline
from unroll.disk.sheets import load_sheet
from unroll.errors import UnrollError

SLOWEST = 5.0  # seconds
LONGEST = 700  # characters of a line
HOME = Path(__file__).parent.parent
PAGE = '<?xml version="1.0" encoding="UTF-8"?><svg xmlns="http://www.w3.org/2000/svg" '
DRAWINGS = [
    PAGE + 'width="200mm" height="20cm" viewBox="0 0 200 200"><g transform="translate(30,-7) '
    'rotate(90 1 2)"><ellipse cx="70" cy="50%" rx="49" ry="58"/></g></svg>',
    PAGE + 'width="200mm" viewBox="0 0 200 200"><path id="armhole" transform="scale(2 .5) skewX(4)'
    '" d="M51 100a49,58,0,01,98,0A49 58 0 0 1 51 100q1 2 3 4t5 6c1 2 3 4 5 6s7 8 9 0h4V7z"/></svg>',
    PAGE + 'viewBox="0 0 9in 9"><polygon points="0,0 90,0 90,80 0,80"/><rect x="1in" y="5" width='
    '"4" height="9" rx="2"/><line x1="3"/><circle r="5" style="display:none"/></svg>',
]
TOKENS = [
    "<", ">", "</g>", "<g>", '"', "'", "=", "[", "]", "{", "}", "[[arm]]", "[arm]", ",", ".", "-",
    "#", "\\", "/", "\n", "\r", "\0", "\ufeff", "\ufffe", "\u202e", "\u0301", "\U0001f9f5",
    "<!DOCTYPE", '<!DOCTYPE svg [<!ENTITY a "b">]>', "&a;", "&#0;", "<![CDATA[", "<svg>", "  ",
    'viewBox="0 0 0 0"', 'width="1e9mm"', 'transform="matrix(1 0)"', '<use href="#armhole"/>',
    'd="', 'points="', "A", "Z", "z", "M", "m", "a", "1,1", "%", "mm", "em", "nan", "inf", "true",
    "1979-05-27", '"""', "'''", "owner = ", "armhole", "cap_arcs", '\noutline = "plate.svg"\n',
    '\nunit = "in"\n', "\nunit = 3\n", "..", "0x", "1_0", "1:2:3", "a.b.c.", "\\u0000", "x = [",
]
NUMBER = re.compile(r"\d[\d.eE]*")
NUMBERS = [
    "0", "-1", "1e308", "-1e308", "1e-320", "1e999", "nan", "inf", "0x" + "f" * 5000, "9" * 400,
    "9" * 5000, "1.5.5", ".", "", "-", "+", "1e", "50%", "5mm", "007", "1_000", "1e7", "true",
]


def case(seed: int) -> tuple[str, bytes]:
    """Return the kind of a case, "sheet" or "outline", and its bytes."""
    chance = random.Random(seed)
    kind = chance.choice(["sheet", "outline"])
    if chance.random() < 0.02:
        return kind, chance.randbytes(chance.choice([0, 1, 10, 1000, 100_000]))
    sheets = [GOOD, *((HOME / "meshes" / f"{name}.toml").read_text("utf-8")
                      for name in ("demo", "two_arms", "few_measures"))]
    text = chance.choice(sheets if kind == "sheet" else DRAWINGS)
    for _ in range(chance.choice([1, 1, 2, 3, 8, 40])):
        text = damaged(text, chance)[:300_000]
    raw = bytearray(text.encode(chance.choice(["utf-8"] * 8 + ["utf-16", "latin-1"]), "replace"))
    for _ in range(chance.choice([0, 0, 0, 1, 5])):
        raw[chance.randrange(len(raw) + 1):] = chance.randbytes(1) + raw[-chance.randrange(99):]
    return kind, bytes(raw)


def damaged(text: str, chance: random.Random) -> str:
    """Return a text with one fault more."""
    at, end = sorted(chance.randrange(len(text) + 1) for _ in range(2))
    end = min(end, at + chance.choice([1, 5, 50, 5000]))
    how = chance.randrange(6)
    if how == 0 and (number := NUMBER.search(text, at)):
        return text[: number.start()] + chance.choice(NUMBERS) + text[number.end():]
    if how == 1:
        return text[:at] + text[end:]
    if how == 2:
        return text[:at] + text[at:end] * chance.choice([2, 3, 100, 3000]) + text[end:]
    if how == 3:
        return text[:at] + chr(chance.choice([9, 32, 127, 0x2028, 0xFFFF, 0x1F9F5])) + text[end:]
    return text[:at] + chance.choice(TOKENS) * chance.choice([1, 1, 1, 2, 500]) + text[at:]


def fault_of(kind: str, path: Path) -> str:
    """Return what is wrong with how a file is read; "" if nothing is."""

    def hang(*_: object) -> None:
        raise TimeoutError

    signal.signal(signal.SIGALRM, hang)
    signal.setitimer(signal.ITIMER_REAL, SLOWEST)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            (load_sheet if kind == "sheet" else load_outline)(path)
    except UnrollError as error:
        lines = str(error).splitlines()
        odd = [one for one in lines if len(one) > LONGEST or not one.isprintable()]
        return f"odd line: {odd[0][:900]!r}" if odd or not lines or len(lines) > 52 else ""
    except BaseException:
        return traceback.format_exc(limit=-6)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    return ""


def main(minutes: float, first: int = 0) -> int:
    """Read cases until the time is over; return how many failed."""
    end, seed, failed, slowest = time.monotonic() + 60 * minutes, first, 0, 0.0
    read = 0
    with tempfile.TemporaryDirectory() as place:
        while time.monotonic() < end and failed < 20:
            # a hang within one call of C is not interrupted by a signal: this ends the study
            faulthandler.dump_traceback_later(4 * SLOWEST, exit=True)
            if seed % 500 == 0:
                print(f"case {seed}", flush=True)
            kind, raw = case(seed)
            path = Path(place) / ("a.toml" if kind == "sheet" else "plate.svg")
            path.write_bytes(raw)
            start = time.monotonic()
            fault = fault_of(kind, path)
            slowest = max(slowest, time.monotonic() - start)
            written = {*os.listdir(place)} - {"a.toml", "plate.svg"}
            if fault or written:
                failed += 1
                print(f"case {seed}, {kind} of {len(raw)} bytes: {fault or written}", flush=True)
            read += 1
            seed += 1
    faulthandler.cancel_dump_traceback_later()
    print(f"{read} cases, {failed} failed, the slowest took {slowest:.2f} s")
    return failed


if __name__ == "__main__":
    sys.exit(bool(main(float(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)))
