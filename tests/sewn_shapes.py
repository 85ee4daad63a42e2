"""Flat pieces of simple shapes whose sewn and filled form is known, for the sewing tests."""

from __future__ import annotations

import numpy as np

from unroll.nouns import Cloth, Piece, PieceSide


def piece(name: str, *sides: tuple[str, np.ndarray], arm: str = "left", **more: object) -> Piece:
    return Piece(
        name,
        "drafted-ease",
        arm,
        tuple(PieceSide(seam, points) for seam, points in sides),
        **more,  # type: ignore[arg-type]
    )


def even_cloth(stiffness: float = 25.0, pressure_kpa: float = 2.0, ends: str = "card") -> Cloth:
    """A cloth that weighs nothing and gives alike in all directions; stiffness in N/mm."""
    percent = 10.0 / stiffness
    return Cloth(
        stretch_percent=percent,
        bias_stretch_percent=percent,
        pressure_kpa=pressure_kpa,
        ends=ends,  # type: ignore[arg-type]
        filling_g_per_litre=0.0,
        weighs_g_per_m2=0.0,
    )


def circle(radius: float, count: int = 720, start: float = 0.0) -> np.ndarray:
    """A closed circle, anticlockwise, its first point repeated."""
    angle = start + 2 * np.pi * np.arange(count + 1) / count
    points = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points[-1] = points[0]
    return points


def two_discs(radius: float = 100.0) -> tuple[Piece, Piece]:
    return piece("front", ("rim", circle(radius))), piece("back", ("rim", circle(radius)))


def two_squares(edge: float = 100.0) -> tuple[Piece, Piece]:
    corner = edge * np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0.0]])
    # Turned over, the second one's corners run the other way round.
    names = ("south", "east", "north", "west")
    front = [(names[k], corner[k : k + 2]) for k in range(4)]
    back = [(names[(4 - k) % 4], corner[k : k + 2]) for k in range(4)]
    return piece("front", *front), piece("back", *back)


def tube(width: float, length: float) -> tuple[Piece, ...]:
    """A rectangle sewn to a tube, its ends closed by discs of the same girth."""
    side = np.array([[0, 0], [width, 0], [width, length], [0, length], [0, 0.0]])
    body = piece(
        "body",
        ("bottom", side[0:2]),
        ("side", side[1:3]),
        ("top", side[2:4]),
        ("side", side[3:5]),
        lines={"middle": np.array([[0, 0.5 * length], [width, 0.5 * length]])},
    )
    disc = circle(width / (2 * np.pi))
    return body, piece("armhole base", ("top", disc)), piece("wrist base", ("bottom", disc))


def frustum(top: float, bottom: float, slant: float) -> tuple[Piece, ...]:
    """A sector of a ring sewn to a cone's frustum of girths `top` > `bottom`, ends closed."""
    angle = (top - bottom) / slant
    near, far = bottom / angle, top / angle
    turn = np.linspace(-0.5 * angle, 0.5 * angle, 400)
    ray = np.stack([np.sin(turn), -np.cos(turn)], axis=1)
    level = 0.5 * (near + far)
    # The apex is up: the wide end is the lower arc, run from left to right.
    body = piece(
        "body",
        ("wide", far * ray),
        ("side", np.array([far * ray[-1], near * ray[-1]])),
        ("narrow", near * ray[::-1]),
        ("side", np.array([near * ray[0], far * ray[0]])),
        lines={"middle": level * ray},
    )
    return (
        body,
        piece("armhole base", ("wide", circle(top / (2 * np.pi)))),
        piece("wrist base", ("narrow", circle(bottom / (2 * np.pi)))),
    )
