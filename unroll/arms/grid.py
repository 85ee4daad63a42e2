"""Grids of points over the outer and inner arm, whose columns follow seams and darts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from unroll.arms.axis import Layout
from unroll.arms.limb import ArmSurface
from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.triangles import edge_within
from unroll.nouns import ArmMeasures, DartLine

SMOOTHING_ROUNDS = 150
CLOSEST_ROWS = 0.4  # edges
ENDS_SHORT_MM = 3.0  # by which a dart ends above where it is asked to, at the end of the cap
INNER_REACH = 0.45  # depth of the armhole block below the underarm, in armhole heights


@dataclass(frozen=True, eq=False)
class Slit:
    """A dart on the outer grid: column, and the row of its point."""

    column: int
    row: int


@dataclass(frozen=True, eq=False)
class Grids:
    """Points of both panels; the first and last columns of the two grids coincide.

    Attributes
    ----------
    outer : (rows, columns, 3) float
        Row 0 is the cap seam, front to back; the last row the wrist.
    inner : (rows, columns, 3) float
        Row 0 is the underarm seam, front to back.
    slits : tuple of Slit
        One a dart, in the order they were given.
    """

    outer: FloatArray
    inner: FloatArray
    slits: tuple[Slit, ...]


def bounded_edge(edge: float, measures: ArmMeasures) -> float:
    """Return an edge length, longer for what is larger than any body's arm."""
    girths = (measures.upper_arm_girth, measures.elbow_girth, measures.wrist_girth)
    length = measures.shoulder_to_elbow + measures.inner_elbow_to_wrist
    return edge_within(edge, length * sum(girths) / 3.0)


def lay_grids(
    surface: ArmSurface, *, edge: float, inner_share: float, darts: Sequence[DartLine],
    is_even: bool = True,
) -> Grids:  # fmt: skip
    """Lay both grids over the arm, with edges of about `edge` mm.

    A tape asks only where the surface lies: for it, the inner grid need not be `is_even`.
    """
    block = _Block(surface, edge, inner_share)
    outer, slits = block.outer(darts)
    inner = block.inner(SMOOTHING_ROUNDS if is_even else 0)
    below = _limb_levels(surface, block.depth, edge)
    share = 0.5 * inner_share
    outer_fraction = np.linspace(share, 1.0 - share, outer.shape[1])
    inner_fraction = np.linspace(share, -share, inner.shape[1]) % 1.0
    fractions = np.concatenate([outer_fraction, inner_fraction[::-1][1:-1]])
    rings = surface.limb.rings(below, fractions)
    outer_rings = rings[:, : outer.shape[1]]
    inner_rings = np.concatenate(
        [rings[:, :1], rings[:, : outer.shape[1] - 1 : -1], rings[:, outer.shape[1] - 1 :][:, :1]],
        axis=1,
    )
    return Grids(
        np.concatenate([outer[:-1], outer_rings]),
        np.concatenate([inner[:-1], inner_rings]),
        tuple(_extended(slits, darts, outer, outer_rings)),
    )


def _block_depth(height: float, layout: Layout) -> float:
    """Return how far the armhole block reaches below the underarm, mm.

    It ends at the upper-arm station where that lies in reach, so that its girth is a row.
    """
    depth = min(INNER_REACH * height, 0.5 * layout.straight)
    near = 0.5 * depth < layout.upper_arm < 1.3 * depth
    return layout.upper_arm if near else depth


class _Block:
    """The armhole block: from the armhole's edge to a level a little below the underarm."""

    def __init__(self, surface: ArmSurface, edge: float, inner_share: float) -> None:
        self.surface, self.edge, self.share = surface, edge, inner_share
        cap, layout = surface.limb.cap, surface.limb.layout
        self.plate = cap.plate
        self.depth = _block_depth(self.plate.height, layout)
        self.bottom = surface.cap_length + self.depth
        girth = float(cap.underarm_girth)
        self.outer_columns = 2 * max(6, round((1.0 - inner_share) * girth / edge / 2))
        self.inner_columns = 2 * max(3, round(inner_share * girth / edge / 2))
        self.middle = float(self.plate.angle_at_level(-0.5 * self.plate.height))
        top = float(surface.down_at_angle(np.array(self.middle)))
        mean_length = 0.5 * (self.bottom + (self.bottom - top))
        self.rows = max(6, round(mean_length / edge))
        self.seam = self._seam(top)

    def _seam(self, top: float) -> FloatArray:
        """Return the front seam in the chart, (rows + 1, 2): a smooth line to the thirds split."""
        down = np.linspace(top, self.bottom, self.rows + 1)
        cap_length = self.surface.cap_length
        lengths = self.surface.level_length(down)
        exact = 0.5 * (1.0 - self.share) * lengths
        first, last = (
            0.5 * lengths[0],
            0.5 * (1.0 - self.share) * float(self.surface.level_length(np.array(cap_length))),
        )
        t = np.clip((down - top) / (cap_length - top), 0.0, 1.0)
        eased = first + (last - first) * t * (1.6 - 0.2 * t - 0.4 * t**2)
        return np.column_stack([np.where(down < cap_length, eased, exact), down])

    def _edge_angles(self, fractions: FloatArray, start: float, stop: float) -> FloatArray:
        """Return plate angles at fractions of the plate edge's length between two angles."""
        angle = np.linspace(start, stop, 2001)
        edge = np.column_stack(
            [self.plate.half_width(angle) + self.plate.middle(angle), self.plate.level(angle)]
        )
        walked = polylines.lengths_along(edge)
        return np.asarray(np.interp(fractions * walked[-1], walked, angle))

    def edge_length(self) -> float:
        """Length of the plate's edge from the shoulder to mid-height, at the front, mm."""
        angle = np.linspace(0.0, self.middle, 2001)
        edge = np.column_stack(
            [self.plate.half_width(angle) + self.plate.middle(angle), self.plate.level(angle)]
        )
        return polylines.length(edge)

    def outer(self, darts: Sequence[DartLine]) -> tuple[FloatArray, list[Slit]]:
        """Return the outer grid's block, (rows + 1, columns + 1, 3), and its slits."""
        n, rows = self.outer_columns, self.rows
        positions, columns = self._columns(darts)
        angles = self._edge_angles(np.abs(positions), 0.0, self.middle)
        sign = np.sign(positions)
        top_across = sign * 0.5 * self.surface.level_length(self.surface.down_at_angle(angles))
        top = np.column_stack([top_across, self.surface.down_at_angle(angles)])
        top[0], top[-1] = self.seam[0], self.seam[0] * [-1.0, 1.0]
        half = 0.5 * (1.0 - self.share) * float(self.surface.level_length(np.array(self.bottom)))
        bottom = np.column_stack([np.linspace(half, -half, n + 1), np.full(n + 1, self.bottom)])
        keys, lines, slits = [0], [self.seam], []
        for dart, column in zip(darts, columns, strict=True):
            line, row = self._dart_line(dart, top[column], bottom[column])
            keys.append(column)
            lines.append(line)
            slits.append(Slit(column, row))
        keys.append(n)
        lines.append(self.seam * [-1.0, 1.0])
        order = np.argsort(keys)
        chart = _spread(top, bottom, rows, np.array(keys)[order], [lines[k] for k in order])
        return self.surface.points(chart[..., 0], chart[..., 1]), slits

    def _columns(self, darts: Sequence[DartLine]) -> tuple[FloatArray, IntArray]:
        """Return each column's place on the cap seam (1 front, 0 shoulder, −1 back), and darts'."""
        n = self.outer_columns
        length = self.edge_length()
        for dart in darts:
            if not abs(dart.at) < 0.97 * length:
                raise UnrollError(
                    f"dart mouth at {dart.at:.0f} mm; expected within {0.97 * length:.0f} mm of "
                    "the shoulder point (measured along the cap seam?)"
                )
        wanted = np.array([dart.at / length for dart in darts])
        columns = np.array([round((1.0 - w) * n / 2) for w in wanted], dtype=np.int64)
        columns = np.clip(columns, 2, n - 2)
        if np.any(np.diff(np.sort(columns)) < 2):
            raise UnrollError(
                "two darts lie closer than two columns of the mesh (darts too close together?)"
            )
        order = np.argsort(columns)
        knots = np.concatenate([[0], columns[order], [n]])
        places = np.concatenate([[1.0], wanted[order], [-1.0]])
        return np.interp(np.arange(n + 1), knots, places), columns

    def _dart_line(
        self, dart: DartLine, mouth: FloatArray, foot: FloatArray
    ) -> tuple[FloatArray, int]:
        """Return a column in the chart that runs down the dart and on, and the dart's last row."""
        rows = self.rows
        room = self.bottom - mouth[1]

        def point(drop: float) -> FloatArray:
            lean = 1.0 - (1.0 - dart.lean) * min(drop / max(dart.length, 1.0), 1.0)
            return np.array([mouth[0] * lean, mouth[1] + drop])

        def excess(drop: float) -> float:
            path = mouth + np.linspace(0, 1, 41)[:, None] * (point(drop) - mouth)
            walked = self.surface.points(path[:, 0], path[:, 1])
            return polylines.length(walked) - dart.length

        short = -excess(0.92 * room)
        if short > 0.0 and abs(dart.at) <= 1e-6:
            return mouth + np.linspace(0, 1, rows + 1)[:, None] * (foot - mouth), rows
        if short > ENDS_SHORT_MM:
            raise UnrollError(
                f"dart of {dart.length:.0f} mm; expected at most {dart.length - short:.0f} mm at "
                f"{dart.at:.0f} mm from the shoulder point (too long for the cap?)"
            )
        drop = 0.92 * room if short >= 0.0 else float(brentq(excess, 0.02 * room, 0.92 * room))
        end = point(drop)
        row = int(np.clip(round(rows * (end[1] - mouth[1]) / room), 2, rows - 2))
        upper = mouth + np.linspace(0, 1, row + 1)[:, None] * (end - mouth)
        lower = end + np.linspace(0, 1, rows - row + 1)[:, None] * (foot - end)
        return np.concatenate([upper, lower[1:]]), row

    def inner(self, rounds: int) -> FloatArray:
        """Return the inner grid's block, (rows + 1, columns + 1, 3), evened in so many rounds.

        Its chart is the flat draft's view: x from the armhole's edge outward along the level, z up.
        """
        n = self.inner_columns
        down = self.seam[:, 1]
        side = np.linspace(1.0, -1.0, n + 1)
        angles = self._edge_angles(1.0 - np.abs(side), self.middle, np.pi)
        top = np.column_stack(
            [np.sign(side) * self.plate.half_width(angles), self.plate.level(angles)]
        )
        angle = self.surface.plate_angle(down)
        gap = np.where(down < self.surface.cap_length, self.plate.half_width(angle), 0.0)
        reach = gap + 0.5 * self.surface.level_length(down) - self.seam[:, 0]
        line = np.column_stack([reach, self.surface.height(down)])
        bottom = np.column_stack([side * line[-1, 0], np.full(n + 1, line[-1, 1])])
        top[0], top[-1] = line[0], line[0] * [-1.0, 1.0]
        chart = _spread(top, bottom, self.rows, np.array([0, n]), [line, line * [-1.0, 1.0]])
        chart = _evened(chart, rounds=rounds)
        return self._inner_points(chart)

    def _inner_points(self, chart: FloatArray) -> FloatArray:
        underarm = -self.plate.height
        z = chart[..., 1]
        angle = self.plate.angle_at_level(np.maximum(z, underarm))
        down = np.where(
            z >= underarm,
            self.surface.down_at_angle(angle),
            self.surface.cap_length + underarm - z,
        )
        gap = np.where(z >= underarm, self.plate.half_width(angle), 0.0)
        inward = np.maximum(np.abs(chart[..., 0]) - gap, 0.0)
        half = 0.5 * self.surface.level_length(down)
        side = np.where(chart[..., 0] >= 0.0, 1.0, -1.0)
        return self.surface.points(side * (half - inward), down)


def _spread(
    top: FloatArray, bottom: FloatArray, rows: int, keys: IntArray, lines: list[FloatArray]
) -> FloatArray:
    """Return a grid between `top` and `bottom` whose key columns are the given lines.

    The other columns are straight, moved by the key columns' departure from straightness, which
    fades linearly to the next key (a Coons patch between keys).
    """
    t = np.linspace(0.0, 1.0, rows + 1)[:, None, None]
    straight = (1.0 - t) * top[None] + t * bottom[None]
    bends = np.array([line - straight[:, key] for key, line in zip(keys, lines, strict=True)])
    column = np.arange(top.shape[0])
    weights = np.array([np.interp(column, keys, row) for row in np.eye(len(keys))])
    return np.asarray(straight + np.einsum("kc,krd->rcd", weights, bends))


def _evened(chart: FloatArray, *, rounds: int) -> FloatArray:
    """Return a grid whose inner points are moved towards an even, unfolded spread.

    Jacobi rounds of the elliptic grid equations (Winslow 1966, doi 10.1016/0021-9991(66)90001-5),
    whose solution does not fold over a boundary that bends inwards as the armhole's does.
    """
    x = chart[..., 0] + 1j * chart[..., 1]
    for _ in range(rounds):
        down, along = 0.5 * (x[2:, 1:-1] - x[:-2, 1:-1]), 0.5 * (x[1:-1, 2:] - x[1:-1, :-2])
        cross = 0.25 * (x[2:, 2:] - x[2:, :-2] - x[:-2, 2:] + x[:-2, :-2])
        a, c = along.real**2 + along.imag**2, down.real**2 + down.imag**2
        b = down.real * along.real + down.imag * along.imag
        vertical, level = x[2:, 1:-1] + x[:-2, 1:-1], x[1:-1, 2:] + x[1:-1, :-2]
        x[1:-1, 1:-1] = (a * vertical + c * level - 2.0 * b * cross) / (2.0 * (a + c))
    return np.stack([x.real, x.imag], axis=-1)


def _limb_levels(surface: ArmSurface, depth: float, edge: float) -> FloatArray:
    """Return distances along the axis of the rows below the block, stations among them."""
    layout = surface.limb.layout
    usual = [layout.upper_arm, layout.elbow, layout.forearm, layout.wrist]
    knots = np.unique([depth, *(stop for stop in usual if stop >= depth)])
    knots = np.concatenate([knots[:1], knots[1:][np.diff(knots) > 0.2]])
    # close by another row these need none of their own: the mesh between rows serves
    for stop in (layout.straight, *layout.others.values()):
        if stop > depth and np.abs(knots - stop).min() > CLOSEST_ROWS * edge:
            knots = np.sort(np.append(knots, stop))
    parts = [
        np.linspace(a, b, max(1, round((b - a) / edge)) + 1)[1:]
        for a, b in zip(knots[:-1], knots[1:], strict=True)
    ]
    return np.concatenate([[depth], *parts])


def _extended(
    slits: Sequence[Slit], darts: Sequence[DartLine], block: FloatArray, rings: FloatArray
) -> list[Slit]:
    """Return the slits, with those that reach the block's end led on down the limb."""
    rows = block.shape[0] - 1
    out = []
    for slit, dart in zip(slits, darts, strict=True):
        if slit.row == rows:
            column = np.concatenate([block[:-1, slit.column], rings[:, slit.column]])
            walked = np.cumsum(polylines.chords(column))
            slit = Slit(
                slit.column,
                int(np.clip(np.searchsorted(walked, dart.length) + 1, rows, len(column) - 3)),
            )
        out.append(slit)
    return out
