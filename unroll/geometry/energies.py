"""What a flat map costs a triangle: the even energy, and one for woven cloth.

Each energy is a function of alpha and beta (see `unroll.geometry.triangles`), with its gradient
and with a positive semidefinite stand-in for its Hessian: a short list of modes, each a weight and
a direction. Both vanish where the map keeps every length, and both are infinite at a fold.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from unroll.geometry.triangles import ComplexArray, FloatArray

Mode = tuple[FloatArray, ComplexArray, ComplexArray]
"""Weight w and direction (a, b): adds w Re(conj(a) dalpha + conj(b) dbeta)^2."""


class Energy(Protocol):
    """A cost per unit of area; 0 for an isometry."""

    @property
    def turns_freely(self) -> bool:
        """Whether turning the flat piece changes nothing."""
        ...

    def value(self, alpha: ComplexArray, beta: ComplexArray) -> FloatArray:
        """Return the cost of each triangle, (m,)."""
        ...

    def slope(self, alpha: ComplexArray, beta: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Return the gradients by alpha and by beta, (m,) each."""
        ...

    def modes(self, alpha: ComplexArray, beta: ComplexArray) -> list[Mode]:
        """Return the positive semidefinite Hessian as a sum of squares."""
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
    modes are the analytic eigensystem of Smith et al. 2019 (doi 10.1145/3241041), negative
    eigenvalues left out.
    """

    turns_freely: bool = True

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

    def modes(self, alpha: ComplexArray, beta: ComplexArray) -> list[Mode]:
        """Return the positive semidefinite Hessian as a sum of squares."""
        p, q = np.abs(alpha), np.abs(beta)
        large, small = p + q, p - q
        e_alpha, e_beta = unit(alpha, p), unit(beta, q)
        det3 = (large * small) ** 3
        turn = (4 * p - 2 * (large**-3 + small**-3)) / p
        skew = 4 + 4 * (large * large + large * small + small * small) / det3
        zero = np.zeros_like(alpha)
        return [
            (2 + 6 * large**-4, e_alpha, e_beta),
            (2 + 6 * small**-4, e_alpha, -e_beta),
            (np.maximum(turn, 0), 1j * e_alpha, zero),
            (skew, zero, 1j * e_beta),
        ]


@dataclass(frozen=True)
class WovenEnergy:
    """Cost for woven cloth: its threads hardly stretch, the angle between them gives easily.

    warp^2 + weft^2 + shear_share tan^2(shear) + even_share (even energy) / 4, with warp and weft
    = (s - 1/s)/2 of the stretch s of the threads along y and x (flat over curved length), and
    shear the change of the right angle between the threads.

    Attributes
    ----------
    shear_share : float
        Stiffness in shear over stiffness along a thread.
    even_share : float
        Share of the even energy: what keeps triangles from folding where both threads are content.

    Notes
    -----
    With A = alpha - conj(beta) and B = alpha + conj(beta), the thread along y lies on the surface
    with length |B| / det and the one along x with |A| / det, det = Re(A conj(B)); the shear is the
    angle from B to A. After Pietroni et al. 2022 (doi 10.1145/3528223.3530145) in spirit: cloth is
    asked for its threads, not for its principal directions.
    """

    shear_share: float = 1 / 28
    even_share: float = 0.01
    turns_freely: bool = False

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

    def _residuals(
        self, alpha: ComplexArray, beta: ComplexArray
    ) -> list[tuple[FloatArray, ComplexArray, ComplexArray]]:
        """Return the three squared terms' roots with their gradients by A and by B."""
        a, b = alpha - beta.conj(), alpha + beta.conj()
        long_a, long_b = np.abs(a), np.abs(b)
        along_a, along_b = a / long_a, b / long_b
        turned = along_a * along_b.conj()
        cosine, sine = turned.real, turned.imag
        warp, weft = long_a * cosine, long_b * cosine
        by_warp, by_weft = 0.5 + 0.5 / warp**2, 0.5 + 0.5 / weft**2
        root = np.sqrt(self.shear_share)
        by_shear = root / (cosine * cosine)
        return [
            (
                0.5 * (warp - 1 / warp),
                by_warp * along_b,
                (by_warp * long_a * sine / long_b) * 1j * along_b,
            ),
            (
                0.5 * (weft - 1 / weft),
                (-by_weft * long_b * sine / long_a) * 1j * along_a,
                by_weft * along_a,
            ),
            (
                root * sine / cosine,
                (by_shear / long_a) * 1j * along_a,
                (-by_shear / long_b) * 1j * along_b,
            ),
        ]

    def slope(self, alpha: ComplexArray, beta: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Return the gradients by alpha and by beta, (m,) each."""
        by_alpha, by_beta = EvenEnergy().slope(alpha, beta)
        by_alpha *= 0.25 * self.even_share
        by_beta *= 0.25 * self.even_share
        for residual, by_a, by_b in self._residuals(alpha, beta):
            by_alpha += 2 * residual * (by_a + by_b)
            by_beta += 2 * residual * (by_b - by_a).conj()
        return by_alpha, by_beta

    def modes(self, alpha: ComplexArray, beta: ComplexArray) -> list[Mode]:
        """Return the Gauss-Newton Hessian: residuals of a few percent leave little else."""
        even = EvenEnergy().modes(alpha, beta)
        out = [(0.25 * self.even_share * weight, x, y) for weight, x, y in even]
        two = np.full(len(alpha), 2.0)
        for _, by_a, by_b in self._residuals(alpha, beta):
            out.append((two, by_a + by_b, (by_b - by_a).conj()))
        return out
