"""Where the draft's darts lie on the cap seam, and what each takes in."""

from __future__ import annotations

from unroll.drafting.half_caps import DartTask
from unroll.errors import UnrollError
from unroll.types import Make

APART = 100.0  # mm between the middles of two darts: common practice, no source
NARROWEST_TONGUE = 40.0  # mm of cap seam left between two darts


def default_places(count: int, half_armhole: float, intake: float) -> tuple[float, ...]:
    """Return where darts lie by default: net distance from the shoulder point, front to back, mm.

    Two darts lie about 100 mm apart with the cap spread open, and leave at least 40 mm of seam
    between them; three and four are spread over the armhole's upper half.
    """
    if count == 2:
        offset = min(max(0.5 * (APART - intake), 0.5 * NARROWEST_TONGUE), 0.6 * half_armhole)
        return (offset, -offset)
    shares = {0: (), 1: (0.0,), 3: (0.3, 0.0, -0.3), 4: (0.32, 0.12, -0.12, -0.32)}
    if count not in shares:
        raise UnrollError(f"dart_count is {count}; the flat draft places 0 to 4 darts")
    return tuple(half_armhole * share for share in shares[count])


def place_darts(make: Make, half_armhole: float, surplus: float) -> tuple[DartTask, ...]:
    """Return the darts, front to back, with the surplus shared between those left free."""
    count = dart_count(make)
    fixed, left = fixed_intake(make), max(_free_darts(make), 1)
    free = max(surplus - fixed, 0.0) / left
    mean = (fixed + free * _free_darts(make)) / max(count, 1)
    places = default_places(count, half_armhole, mean)
    tasks = []
    for index in range(count):
        choice = make.darts[index] if index < len(make.darts) else None
        at = choice.at if choice and choice.at is not None else places[index]
        intake = choice.intake if choice and choice.intake is not None else free
        tasks.append(DartTask(index, at, intake, choice.length if choice else None))
    return tuple(sorted(tasks, key=lambda t: -t.at))


def dart_count(make: Make) -> int:
    """Return how many darts the draft is drawn with."""
    return make.dart_count if make.dart_count is not None else len(make.darts) or 2


def are_intakes_free(make: Make) -> bool:
    """Tell whether any dart is left to take in what the cap seam has too much."""
    return _free_darts(make) > 0


def fixed_intake(make: Make) -> float:
    """Return what the darts whose intake the sheet fixes take in together, mm."""
    return sum(c.intake for c in make.darts[: dart_count(make)] if c.intake is not None)


def _free_darts(make: Make) -> int:
    count = dart_count(make)
    return count - sum(choice.intake is not None for choice in make.darts[:count])


def darts_on_half(darts: tuple[DartTask, ...], side: int) -> tuple[DartTask, ...]:
    """Return the darts of one half, from the middle outward, with distances counted outward."""
    mine = [d for d in darts if d.at * side > 0 or d.at == 0]
    out = [DartTask(d.number, abs(d.at), d.intake, d.length) for d in mine if d.intake > 1e-9]
    return tuple(sorted(out, key=lambda d: d.at))
