"""A dart layout laid flat on the bench, its pieces sewn and filled: ready to be corrected."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from unroll.arms.lofting import ArmShape
from unroll.correct.bench import Bench, SewnTry, Tried, bench_of
from unroll.errors import UnrollError
from unroll.nouns import Cloth, DartLine, Laid, Make

Tell = Callable[[str], None]


def silent(_message: str) -> None:
    """Say nothing."""


MOST_SHORTENINGS, SHORTER, FINER = 6, 0.95, 0.93


@dataclass(frozen=True, eq=False)
class OnBench:
    """A dart layout laid flat on the bench, and its pieces as they are, sewn and filled.

    Attributes
    ----------
    bench : Bench
    first : Tried
        On the bench's own mesh.
    plain : SewnTry
        Cut, meshed anew and sewn.
    spacing : float
        Edge length of the sewn mesh, mm.
    """

    bench: Bench
    first: Tried
    plain: SewnTry
    spacing: float

    @cached_property
    def laid(self) -> Laid:
        """The pieces as they were laid flat."""
        return as_laid(self.bench, self.plain, "unrolled")


def lay_on_bench(
    shape: ArmShape,
    make: Make,
    cloth: Cloth,
    darts: tuple[DartLine, ...],
    *,
    edge: float = 10.0,
    spacing: float = 8.0,
    ease: float | None = None,
    tell: Tell = silent,
) -> OnBench:
    """Return a dart layout of the left arm laid flat, sewn and filled, ready to be corrected.

    Parameters
    ----------
    shape : ArmShape
        The measured arm.
    darts : tuple of DartLine
        The dart layout, front to back; see `layout_steps`.
    edge, spacing : float
        Edge length of the mesh that is laid flat and corrected, and of the one that is sewn, mm.
    ease : float, optional
        Ease of the cap seam, mm; what the cloth takes without puckers when left out.
    tell : callable, optional
        Is told the progress.

    Raises
    ------
    UnrollError
        When the layout cannot be laid flat at all: darts that fold are shortened first, and darts
        that lie too close for the mesh get a finer one.
    """
    tell("laying flat, sewing and filling")
    for _ in range(MOST_SHORTENINGS):
        try:
            bench = bench_of(shape.rounded, make, cloth, darts, edge=edge, ease=ease)
            first = bench.plain()
            return OnBench(bench, first, bench.sewn(first, spacing=spacing), spacing)
        except UnrollError as error:
            folds = error
            tell("shortening the darts, which close before their points")
            darts = tuple(replace(dart, length=SHORTER * dart.length) for dart in darts)
            edge *= FINER
    raise folds


def as_laid(bench: Bench, tried: SewnTry, source: str) -> Laid:
    """Return sewn pieces as a value that says all there is to know of them."""
    flattenings = bench.laid(tried.points)
    return Laid(
        source=source,
        pieces=bench.pieces(tried.points, source=source),
        flattenings=flattenings,
        darts=bench.darts,
        intakes=bench.intakes(tried.points),
        ease=bench.ease,
        sewn=replace(tried.sewn, source=source),
        fit=replace(tried.fit, source=source),
        wanted=bench.arm,
    )
