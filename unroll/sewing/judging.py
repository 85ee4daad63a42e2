"""What the filled shape says of the cloth: slack, tension, gathered seams, and its own limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from unroll.geometry.averages import area_percentile
from unroll.geometry.membrane import Skin, deformation, stretches
from unroll.types import Cloth, FloatArray, IntArray
from unroll.types.sewn import SeamTake

GATHER_MM = 40.0
# A face whose lesser tension is below this share of the mean is said to be slack: the solver stops
# at a residual of about that size.
SLACK_SHARE = 0.01


@dataclass(frozen=True, eq=False)
class ClothState:
    """Stretches and tensions of every cloth face; see `Sewn`."""

    stretch_high: FloatArray
    stretch_low: FloatArray
    tension: FloatArray
    slack_share: float
    tension_p99: float


def cloth_state(skin: Skin, points: FloatArray) -> ClothState:
    """Return the stretches and principal tensions of the cloth."""
    placed = deformation(skin, points)
    state = stretches(placed)
    stress = skin.even * (
        (np.maximum(state.high - 1, 0)[:, None] * state.placed_high)[:, :, None]
        * state.flat_high[:, None, :]
        + (np.maximum(state.low - 1, 0)[:, None] * state.placed_low)[:, :, None]
        * state.flat_low[:, None, :]
    )
    length = np.linalg.norm(placed, axis=1)
    stress += (
        skin.thread * (np.maximum(length - 1, 0) / np.maximum(length, 1e-12))[:, None] * placed
    )
    tension = stretches(stress)
    weights = skin.areas
    mean = float(np.average(tension.high, weights=weights))
    is_slack = tension.low < SLACK_SHARE * mean
    return ClothState(
        state.high,
        state.low,
        tension.high,
        float(weights[is_slack].sum() / weights.sum()),
        area_percentile(tension.high, weights, 99.0),
    )


def seam_takes(
    points: FloatArray,
    paths: Mapping[str, IntArray],
    lengths: Mapping[tuple[int, int], float],
    cloth: Cloth,
) -> tuple[SeamTake, ...]:
    """Return how each seam lies in the filled shape; `lengths` are flat, of directed edges."""
    return tuple(_seam_take(name, points, path, lengths, cloth) for name, path in paths.items())


def limits_of(
    *, converged: bool, residual: float, crossings: int | None, slack_share: float
) -> tuple[str, ...]:
    """Return what the figures do not say, one plain line each."""
    lines = [
        "An even pressure stands for the filling: how fibre packs and resists is not modelled.",
        "Weight, seam allowances, friction and cloth lying on cloth are not modelled.",
        "Nothing here was compared with an arm sewn from real cloth.",
    ]
    if converged:
        lines.append(f"The shape is in balance: forces agree to {100 * residual:.1g} %.")
    else:
        lines.append(
            f"The shape is not in balance: a force of {100 * residual:.0f} % of the filling's on "
            "one place is left over; take the figures as a rough guide."
        )
    if crossings:
        lines.append(
            f"The cloth runs through itself at {crossings} places: the real shape differs there."
        )
    if slack_share > 0.25:
        lines.append(
            f"{100 * slack_share:.0f} % of the cloth is slack: its wrinkles can lie otherwise too."
        )
    return tuple(lines)


def edge_lengths(faces: IntArray, rest: FloatArray) -> dict[tuple[int, int], float]:
    """Return the flat length of every directed edge."""
    ends = np.roll(faces, -1, axis=1).ravel()
    lengths = np.linalg.norm(rest - np.roll(rest, -1, axis=1), axis=2).ravel()
    return dict(
        zip(zip(faces.ravel().tolist(), ends.tolist(), strict=True), lengths.tolist(), strict=True)
    )


def _seam_take(
    name: str,
    points: FloatArray,
    path: IntArray,
    lengths: Mapping[tuple[int, int], float],
    cloth: Cloth,
) -> SeamTake:
    pairs = list(zip(path[:-1].tolist(), path[1:].tolist(), strict=True))
    one = np.array([lengths[a, b] for a, b in pairs])
    two = np.array([lengths[b, a] for a, b in pairs])
    placed = np.linalg.norm(points[path[1:]] - points[path[:-1]], axis=1)
    gathered = max(_most_gathered(side, placed) for side in (one, two))
    long, short = max(one.sum(), two.sum()), min(one.sum(), two.sum())
    return SeamTake(
        name,
        (float(one.sum()), float(two.sum())),
        float(100 * (long / short - 1)),
        100 * gathered,
        bool(100 * gathered > cloth.eases_percent[0]),
    )


def _most_gathered(flat: FloatArray, placed: FloatArray) -> float:
    """Return the greatest share by which a window of GATHER_MM of a side lies shortened."""
    at = np.concatenate([[0.0], np.cumsum(flat)])
    reached = np.concatenate([[0.0], np.cumsum(placed)])
    window = min(GATHER_MM, float(at[-1]))
    starts = at[at <= at[-1] - window + 1e-9]
    over = np.interp(starts + window, at, reached) - np.interp(starts, at, reached)
    return max(float(1 - over.min() / window), 0.0)
