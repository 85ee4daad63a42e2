"""What a walked seam comes to, in plain words: good, usable, ease in, or wrong."""

from __future__ import annotations

from unroll.types import Cloth, SeamEnd, Verdict, WalkedStretch

GOOD = 1.5  # mm (1/16 in) within which a walked seam is good: common practice, no source
USABLE = 3.0  # mm (1/8 in) within which it can be used: common practice, no source
KINK = 8.0  # degrees across a seam beyond which a line is trued: our judgement, no source
EASED = ("cap seam", "back seam")  # seams whose first line may be eased into the second


def judge_ends(
    verdict: Verdict, text: str, ends: tuple[SeamEnd, ...]
) -> tuple[Verdict, str]:
    """Return the verdict with what has to be trued where a line runs on across the seam."""
    off = [end for end in ends if abs(end.kink_deg) > KINK]
    if not off:
        return verdict, text
    words = ", ".join(
        f"{abs(e.kink_deg):.0f}° {'peak' if e.kink_deg > 0 else 'dent'} at the {e.name}"
        for e in off
    )
    return ("usable" if verdict == "good" else verdict), f"{text}; true the {words}"


def judge(
    seam: str, pieces: tuple[str, str], lengths: tuple[float, float],
    stretches: tuple[WalkedStretch, ...], cloth: Cloth,
) -> tuple[Verdict, str]:
    """Return the verdict on a seam and the sentence that says it."""
    difference = lengths[0] - lengths[1]
    if abs(difference) <= GOOD:
        return "good", f"good: the two lines are within {abs(difference):.1f} mm"
    if abs(difference) <= USABLE:
        return "usable", f"usable: {_longer(pieces, difference)}"
    if seam.startswith("dart "):
        return "wrong", (
            f"wrong: the legs differ by {abs(difference):.1f} mm; move the dart point until both "
            "are equally long")
    if seam in EASED and difference > 0:
        return _eased(seam, pieces, difference, stretches, cloth)
    return "wrong", (
        f"wrong: {_longer(pieces, difference)}{_where(stretches, difference)}; shorten it there, "
        "or lengthen the other by as much")


def _longer(pieces: tuple[str, str], difference: float) -> str:
    """Return which line is longer, and by how much."""
    names = pieces if difference > 0 else pieces[::-1]
    return f"the {names[0]}'s line is {abs(difference):.1f} mm longer than the {names[1]}'s"


def _where(stretches: tuple[WalkedStretch, ...], difference: float) -> str:
    """Return between which notches a difference lies, or nothing when it lies everywhere."""
    sign = 1.0 if difference > 0 else -1.0
    there = [s for s in stretches if sign * s.difference_mm > 0.1]
    if not there or len(there) == len(stretches):
        return ""
    return f" between {there[0].start} and {there[-1].end}"


def _eased(
    seam: str, pieces: tuple[str, str], difference: float,
    stretches: tuple[WalkedStretch, ...], cloth: Cloth,
) -> tuple[Verdict, str]:
    """Return the verdict on a surplus that the cloth may ease in between two notches."""
    most = cloth.eases_percent[1]
    where = [s for s in stretches if s.difference_mm > 0.05]
    length = sum(s.lengths_mm[1] for s in where)
    percent = 100.0 * sum(s.difference_mm for s in where) / length if length else 0.0
    span = _where(stretches, difference)
    if difference - 0.01 * most * length <= GOOD:
        return "ease in", f"ease in {difference:.1f} mm ({percent:.1f} %){span}"
    takes = 0.01 * most * length
    left = difference - takes
    amount = f"{left:.0f} mm" if left >= 10.0 else f"{left:.1f} mm"
    change = {
        "cap seam": f"take in {amount} with darts, or lower the cap",
        "back seam": f"take in {amount} with a dart at the elbow",
    }[seam]
    return "wrong", (
        f"wrong: {_longer(pieces, difference)}, {percent:.1f} %{span}, and {cloth.name} eases in "
        f"{most:g} % at most ({takes:.0f} mm); {change}")
