"""Copies by reference in an SVG drawing, as cloned outlines and symbols are."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from unroll.disk.own_drawings import svg_lines

PAGE = ('<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'width="400mm" height="400mm" viewBox="0 0 400 400">{}</svg>')  # fmt: skip
PATH = '<path id="p" d="M0 0 L80 10 L60 90 Z"/>'
WRITTEN_OUT = '<path transform="translate(150 20) rotate(30) scale(2)" d="M0 0 L80 10 L60 90 Z"/>'

SAME = {
    "of a shape in defs": f'<defs>{PATH}</defs><use href="#p" transform="{{}}"/>',
    "of a symbol": f'<symbol id="s">{PATH}</symbol><use xlink:href="#s" transform="{{}}"/>',
    "moved by x and y": f'<defs>{PATH}</defs><use x="150" y="20" href="#q"/><defs><g id="q">'
                        '<use href="#p" transform="rotate(30) scale(2)"/></g></defs>',
    "of a group that lies in a moved one": f'<defs><g transform="scale(7)"><g id="q">{PATH}</g></g>'
                                           '</defs><use href="#q" transform="{}"/>',
}  # fmt: skip


@pytest.mark.parametrize("how", SAME)
def test_a_copy_draws_what_the_shape_written_out_draws(how) -> None:
    given = SAME[how].format("translate(150 20) rotate(30) scale(2)")
    (found,), (wanted,) = (svg_lines(PAGE.format(text).encode()) for text in (given, WRITTEN_OUT))
    assert found.points == pytest.approx(np.array(wanted.points), abs=1e-6)


def test_a_clone_lies_beside_its_original() -> None:
    one, other = svg_lines(PAGE.format(f'{PATH}<use href="#p" x="200"/>').encode())
    assert other.points - one.points == pytest.approx(np.tile([200.0, 0.0], (len(one.points), 1)))
    assert shapely.Polygon(other.points).area == pytest.approx(0.5 * (80 * 90 - 60 * 10))


def test_what_is_scaled_to_nothing_and_what_only_defines_draws_nothing() -> None:
    hidden = f'<defs><g transform="scale(0)">{PATH}</g></defs><use href="#p"/>'
    lines = svg_lines(PAGE.format(hidden + '<path d="M0 0 L9 0 L0 9 Z"/>').encode())
    assert len(lines) == 1
