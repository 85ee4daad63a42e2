"""What a flat map costs a triangle: the even energy, and one for woven cloth.

Each energy is a function of alpha and beta (see `unroll.geometry.triangles`), with its gradient
and its second derivatives. Both vanish where the map keeps every length, and both are infinite at
a fold.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.triangles import ComplexArray


@dataclass(frozen=True, eq=False)
class Curvature:
    """Second derivatives of an energy in each triangle, as a small matrix in a few directions.

    Attributes
    ----------
    directions : tuple of k (for_alpha, for_beta)
        Complex (m,) arrays; a change of the map counts as Re(conj(a) dalpha + conj(b) dbeta).
    entries : dict of (i, j) to (m,) float
        Upper triangle of the symmetric k x k matrix; what is missing is zero.
    """

    directions: tuple[tuple[ComplexArray, ComplexArray], ...]
    entries: dict[tuple[int, int], FloatArray]


class Energy(Protocol):
    """A cost per unit of area; 0 for an isometry."""

    @property
    def turns_freely(self) -> bool:
        """Whether turning the flat piece changes nothing."""
        ...

    @property
    def stiffness(self) -> float:
        """Second derivative by a strain along a thread, at an isometry."""
        ...

    def value(self, alpha: ComplexArray, beta: ComplexArray) -> FloatArray:
        """Return the cost of each triangle, (m,)."""
        ...

    def slope(self, alpha: ComplexArray, beta: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Return the gradients by alpha and by beta, (m,) each."""
        ...

    def curvature(self, alpha: ComplexArray, beta: ComplexArray, *, exact: bool) -> Curvature:
        """Return the second derivatives; a positive semidefinite stand-in unless `exact`."""
        ...


def unit(values: ComplexArray, length: FloatArray) -> ComplexArray:
    """Return values / length, and 1 where the length is 0."""
    safe = np.where(length > 0, length, 1.0)
    out: ComplexArray = np.where(length > 0, values / safe, 1.0)
    return out


@dataclass(frozen=True)
class EvenEnergy:
    """Symmetric Dirichlet energy less 4: (s1 - 1/s1)^2 + (s2 - 1/s2)^2 of the principal stretches.

    Notes
    -----
    Same in all directions. Near an isometry it is 4 (e1^2 + e2^2) with e the strains. Written as
    squares it keeps its digits down to 1e-30. Smith & Schaefer 2015 (doi 10.1145/2766947); the
    second derivatives in closed form after Smith et al. 2019 (doi 10.1145/3241041).
    """

    turns_freely: bool = True
    stiffness: float = 8.0

    def value(self, alpha: ComplexArray, beta: ComplexArray) -> FloatArray:
        """Return the cost of each triangle, (m,)."""
        p, q = np.abs(alpha), np.abs(beta)
        large, small = p + q, p - q
        out: FloatArray = (large - 1 / large) ** 2 + (small - 1 / small) ** 2
        return out

    def slope(self, alpha: ComplexArray, beta: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Return the gradients by alpha and by beta, (m,) each."""
        p2 = alpha.real**2 + alpha.imag**2
        q2 = beta.real**2 + beta.imag**2
        inverse = 1 / (p2 - q2)
        square = inverse * inverse
        first = 4 * (1 + square)
        second = 8 * (p2 + q2) * square * inverse
        return (first - second) * alpha, (first + second) * beta

    def curvature(self, alpha: ComplexArray, beta: ComplexArray, *, exact: bool) -> Curvature:
        """Return the second derivatives, negative eigenvalues cut off unless `exact`."""
        p, q = np.abs(alpha), np.abs(beta)
        large, small = p + q, p - q
        one, two = 2 + 6 * large**-4, 2 + 6 * small**-4
        det3 = (large * small) ** 3
        turn = (4 * p - 2 * (large**-3 + small**-3)) / p
        skew = 4 + 4 * (large * large + large * small + small * small) / det3
        if not exact:
            turn = np.maximum(turn, 0)
        e_alpha, e_beta, zero = unit(alpha, p), unit(beta, q), np.zeros_like(alpha)
        directions = ((e_alpha, zero), (1j * e_alpha, zero), (zero, e_beta), (zero, 1j * e_beta))
        entries = {
            (0, 0): one + two,
            (0, 2): one - two,
            (2, 2): one + two,
            (1, 1): turn,
            (3, 3): skew,
        }
        return Curvature(directions, entries)


@dataclass(frozen=True)
class WovenEnergy:
    """Cost for woven cloth: its threads hardly stretch, the angle between them gives easily.

    g(warp) + g(weft) + shear_share tan^2(shear) + even_share (even energy) / 4, with
    g(s) = (s - 1/s)^2 / 4 of the stretch s of the threads along y and x (flat over curved length),
    and shear the change of the right angle between the threads.

    Attributes
    ----------
    shear_share : float
        Stiffness in shear over stiffness along a thread.
    even_share : float
        Share of the even energy: what keeps triangles from folding where both threads are content.

    Notes
    -----
    With A = alpha - conj(beta) = a exp(i theta) and B = alpha + conj(beta) = b exp(i phi), the
    determinant is Re(A conj(B)) and the threads along y and x are |B| / det and |A| / det long on
    the surface: with d = theta - phi, warp = a cos d, weft = b cos d, and d is the shear. So all
    is a function of a, b and d. In the spirit of Pietroni et al. 2022
    (doi 10.1145/3528223.3530145): cloth is asked for its threads, not for principal directions.
    """

    shear_share: float = 1 / 28
    even_share: float = 0.01
    turns_freely: bool = False
    stiffness: float = 2.0

    def value(self, alpha: ComplexArray, beta: ComplexArray) -> FloatArray:
        """Return the cost of each triangle, (m,)."""
        a, b = alpha - beta.conj(), alpha + beta.conj()
        turned = a * b.conj()
        warp, weft = turned.real / np.abs(b), turned.real / np.abs(a)
        shear = turned.imag / turned.real
        out: FloatArray = 0.25 * ((warp - 1 / warp) ** 2 + (weft - 1 / weft) ** 2)
        out += self.shear_share * shear * shear
        out += 0.25 * self.even_share * EvenEnergy().value(alpha, beta)
        return out

    def slope(self, alpha: ComplexArray, beta: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Return the gradients by alpha and by beta, (m,) each."""
        threads = _Threads.of(alpha, beta)
        by_a, by_b, by_d = self._first(threads)
        a, b = threads.along_a, threads.along_b
        pull_a = (by_a + 1j * by_d / threads.a) * a
        pull_b = (by_b - 1j * by_d / threads.b) * b
        return pull_a + pull_b, (pull_b - pull_a).conj()

    def _first(self, threads: _Threads) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the first derivatives by a, b and d."""
        a, b, cosine, tangent = threads.a, threads.b, threads.cosine, threads.tangent
        warp, weft = a * cosine, b * cosine
        by_warp, by_weft = 0.5 * (warp - warp**-3), 0.5 * (weft - weft**-3)
        by_d = -(by_warp * warp + by_weft * weft) * tangent
        by_d += 2 * self.shear_share * tangent * (1 + tangent * tangent)
        share, inverse, square = 0.25 * self.even_share, (a * b * cosine) ** -2, a * a + b * b
        by_a = by_warp * cosine + share * (2 * a * (1 + inverse) - 2 * square * inverse / a)
        by_b = by_weft * cosine + share * (2 * b * (1 + inverse) - 2 * square * inverse / b)
        return by_a, by_b, by_d + share * 2 * square * inverse * tangent

    def _second(self, threads: _Threads) -> dict[str, FloatArray]:
        """Return the second derivatives by a, b and d."""
        a, b, cosine, tangent = threads.a, threads.b, threads.cosine, threads.tangent
        warp, weft = a * cosine, b * cosine
        by_warp, by_weft = 0.5 * (warp - warp**-3), 0.5 * (weft - weft**-3)
        warp2, weft2 = 0.5 + 1.5 * warp**-4, 0.5 + 1.5 * weft**-4
        sine, tangent2 = cosine * tangent, tangent * tangent
        share, h, square = 0.25 * self.even_share, (a * b * cosine) ** -2, a * a + b * b
        dd = (warp2 * warp**2 + weft2 * weft**2) * tangent2 - by_warp * warp - by_weft * weft
        dd += 2 * self.shear_share * (1 + tangent2) * (1 + 3 * tangent2)
        return {
            "aa": warp2 * cosine**2 + share * (2 - 6 * h + 6 * square * h / a**2),
            "bb": weft2 * cosine**2 + share * (2 - 6 * h + 6 * square * h / b**2),
            "ab": share * h * (4 * square / (a * b) - 4 * a / b - 4 * b / a),
            "ad": -(warp2 * warp + by_warp) * sine + share * h * tangent * (4 * a - 4 * square / a),
            "bd": -(weft2 * weft + by_weft) * sine + share * h * tangent * (4 * b - 4 * square / b),
            "dd": dd + share * square * h * (2 + 6 * tangent2),
        }

    def curvature(self, alpha: ComplexArray, beta: ComplexArray, *, exact: bool) -> Curvature:
        """Return the second derivatives, or Gauss and Newton's with the even share beside."""
        threads = _Threads.of(alpha, beta)
        x, y = threads.along_a, threads.along_b
        directions = (
            (x, -x.conj()),
            (1j * x, 1j * x.conj()),
            (y, y.conj()),
            (1j * y, -1j * y.conj()),
        )
        if exact:
            return Curvature(directions, self._exact(threads))
        even = EvenEnergy().curvature(alpha, beta, exact=False)
        entries = self._squares(threads)
        for (i, j), values in even.entries.items():
            entries[i + 4, j + 4] = 0.25 * self.even_share * values
        return Curvature(directions + even.directions, entries)

    def _exact(self, threads: _Threads) -> dict[tuple[int, int], FloatArray]:
        """Return the second derivatives along A, across it, along B and across it."""
        a, b = threads.a, threads.b
        by_a, by_b, by_d = self._first(threads)
        by = self._second(threads)
        return {
            (0, 0): by["aa"],
            (0, 1): by["ad"] / a - by_d / a**2,
            (0, 2): by["ab"],
            (0, 3): -by["ad"] / b,
            (1, 1): by["dd"] / a**2 + by_a / a,
            (1, 2): by["bd"] / a,
            (1, 3): -by["dd"] / (a * b),
            (2, 2): by["bb"],
            (2, 3): -by["bd"] / b + by_d / b**2,
            (3, 3): by["dd"] / b**2 + by_b / b,
        }

    def _squares(self, threads: _Threads) -> dict[tuple[int, int], FloatArray]:
        """Return twice the squared gradients of the three terms' roots, in the same directions."""
        a, b, cosine, tangent = threads.a, threads.b, threads.cosine, threads.tangent
        by_warp, by_weft = 0.5 + 0.5 * (a * cosine) ** -2, 0.5 + 0.5 * (b * cosine) ** -2
        sine, zero = cosine * tangent, np.zeros_like(a)
        by_shear = np.sqrt(self.shear_share) * (1 + tangent * tangent)
        roots = (
            (by_warp * cosine, -by_warp * a * sine, zero),
            (zero, -by_weft * b * sine, by_weft * cosine),
            (zero, by_shear, zero),
        )
        entries = {(i, j): zero for i in range(4) for j in range(i, 4)}
        for by_a, by_d, by_b in roots:
            gradient = (by_a, by_d / a, by_b, -by_d / b)
            for i, j in entries:
                entries[i, j] = entries[i, j] + 2 * gradient[i] * gradient[j]
        return entries


@dataclass(frozen=True, eq=False)
class _Threads:
    """Lengths and unit vectors of A and B, and the angle between them."""

    a: FloatArray
    b: FloatArray
    along_a: ComplexArray
    along_b: ComplexArray
    cosine: FloatArray
    tangent: FloatArray

    @classmethod
    def of(cls, alpha: ComplexArray, beta: ComplexArray) -> _Threads:
        first, second = alpha - beta.conj(), alpha + beta.conj()
        a, b = np.abs(first), np.abs(second)
        along_a, along_b = first / a, second / b
        turned = along_a * along_b.conj()
        return cls(a, b, along_a, along_b, turned.real, turned.imag / turned.real)
