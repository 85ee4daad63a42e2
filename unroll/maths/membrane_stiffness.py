"""Second derivatives of a skin's energy, face by face."""

from __future__ import annotations

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.membrane import (
    Skin,
    Stretches,
    corners_of,
    deformation,
    filling_pressures,
    stretches,
    thread_stretches,
    volume_slopes,
)

# The pairs of a face's corners that its second derivative has a block of 3 × 3 for: each corner
# with itself, then with the next. The blocks of a pair the other way round are their transposes.
FIRST, SECOND = np.array([0, 1, 2, 0, 1, 2]), np.array([0, 1, 2, 1, 2, 0])


def face_stiffness(skin: Skin, points: FloatArray) -> FloatArray:
    """Return the second derivative of stretch and filling for each cloth face, (6, 3, 3, m).

    By pair of corners, then the axis of the first and the axis of the second corner.

    Notes
    -----
    Stretch: the six eigenmodes of an isotropic energy of a 3 × 2 map, all of them stiff or slack,
    never negative (B. Smith, F. de Goes, T. Kim, "Analytic eigensystems for isotropic distortion
    energies", ACM Transactions on Graphics 38, 2019, doi 10.1145/3241041, here with two stretches).
    Filling: exact; see `filling_stiffness`.
    """
    placed = deformation(skin, points)
    out = filling_stiffness(skin, points, skin.faces)
    _add_even(out, skin, stretches(placed))
    if skin.thread:
        _add_threads(out, skin, placed)
    return out


def filling_stiffness(skin: Skin, points: FloatArray, faces: IntArray) -> FloatArray:
    """Return the second derivative of the filling's energy for each face, (6, 3, 3, m).

    By pair of corners, as `face_stiffness`.
    """
    out = np.zeros((len(FIRST), 3, 3, len(faces)))
    pressed = corners_of(points, faces) * (filling_pressures(skin, points, faces) / 6)
    for pair, third in ((3, 2), (4, 0), (5, 1)):
        # d/dx_j of (x_j × x_k) is −[x_k]×, and the energy is −pV.
        x, y, z = pressed[:, third]
        block = out[pair]
        block[0, 1], block[1, 2], block[2, 0] = -z, -x, -y
        block[1, 0], block[2, 1], block[0, 2] = z, x, y
    if np.any(skin.filling_weight):
        growth = volume_slopes(points, faces) / 4
        # The pressure sinks by a quarter of any corner's rise.
        weight = skin.filling_weight[:, None]
        for axis in range(3):
            out[:, axis] += growth[FIRST, axis][:, None] * weight
            out[:, :, axis] += weight * growth[SECOND, axis][:, None]
    return out


def as_matrices(blocks: FloatArray) -> FloatArray:
    """Return blocks of pairs (6, 3, 3, m) as matrices over all corners, (m, 9, 9)."""
    out = np.zeros((blocks.shape[3], 3, 3, 3, 3))
    for block, one, two in zip(blocks, FIRST, SECOND, strict=True):
        out[:, two, :, one, :] = block.transpose(2, 1, 0)
        out[:, one, :, two, :] = block.transpose(2, 0, 1)
    return out.reshape(-1, 9, 9)


def _add_even(out: FloatArray, skin: Skin, state: Stretches) -> None:
    """Add the stretch that all directions share, in place.

    In the frame of the principal stretches and the normal, one block is a diagonal, and what the
    swap and the turn of the two stretches add beside it.
    """
    high, low = state.high, state.low
    tight_high, tight_low = np.maximum(high - 1, 0), np.maximum(low - 1, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        swap = np.where(low > 1, 1.0, np.where(high > 1, tight_high / (high - low), 0.0))
    turn = (tight_high + tight_low) / np.maximum(high + low, 1e-12)
    stiff = skin.even * skin.areas
    along, across = (
        _of_corners(skin.slopes[0] * way[0] + skin.slopes[1] * way[1])
        for way in (state.flat_high, state.flat_low)
    )
    both = 0.5 * stiff * (swap + turn)
    straight = along[0] * along[1], across[0] * across[1]
    on_one = straight[0] * (stiff * (high > 1)) + straight[1] * both
    on_two = straight[1] * (stiff * (low > 1)) + straight[0] * both
    on_normal = straight[0] * (stiff * tight_high / np.maximum(high, 1e-12))
    on_normal += straight[1] * (stiff * tight_low / np.maximum(low, 1e-12))
    apart = 0.5 * stiff * (swap - turn)
    one_two, two_one = across[0] * along[1] * apart, along[0] * across[1] * apart
    on_one -= on_normal
    on_two -= on_normal
    one, two = state.placed_high, state.placed_low
    for x in range(3):
        out[:, x, x] += on_normal
        for y in range(3):
            block = out[:, x, y]
            block += on_one * (one[x] * one[y])
            block += on_two * (two[x] * two[y])
            block += one_two * (one[x] * two[y])
            block += two_one * (two[x] * one[y])


def _add_threads(out: FloatArray, skin: Skin, placed: FloatArray) -> None:
    """Add the threads' stretch, in place."""
    lengths = np.maximum(thread_stretches(placed), 1e-12)
    for slopes, thread, length in zip(skin.slopes, placed, lengths, strict=True):
        way = thread / length
        turn = np.maximum(length - 1, 0) / length
        first, second = _of_corners(slopes)
        pairs = first * second * (skin.thread * skin.areas)
        straight, turned = pairs * ((length > 1) - turn), pairs * turn
        for x in range(3):
            out[:, x, x] += turned
            for y in range(3):
                out[:, x, y] += straight * (way[x] * way[y])


def _of_corners(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a value of each corner (3, m) at the first and the second of every pair, (6, m)."""
    return values[FIRST], values[SECOND]
