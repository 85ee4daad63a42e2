"""Values are told apart by what they hold."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.samples import sample_measures
from unroll.nouns import Cloth, DartLine, Make, Mesh
from unroll.nouns.values import fingerprint

TETRAHEDRON = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
FACES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])


@dataclass(frozen=True)
class Girth:
    """A noun like another, but for its name."""

    mm: float


@dataclass(frozen=True)
class Length:
    """A noun like another, but for its name."""

    mm: float


UNLIKE = [
    (0.0, -0.0),
    (1, 1.0),
    (1, True),
    ("1", 1),
    (None, "None"),
    ((), []),
    (((1, 2), 3), (1, (2, 3))),
    (("a", "bc"), ("ab", "c")),
    ((1, 2), ((1, 2),)),
    (Girth(3.0), Length(3.0)),
    (Girth(3.0), (3.0,)),
    ({"a": 1}, {"a": 2}),
    ({"a": 1}, (("a", 1),)),
    (Cloth(), Cloth(width=900.0)),
    (Make(), Make(seam_allowances={"wrist": 20.0})),
    (sample_measures(), sample_measures(side="right")),
    ((DartLine(25.0, 100.0),), (DartLine(25.0, 100.0), DartLine(25.0, 100.0))),
    (np.zeros(3), np.zeros(4)),
    (np.zeros((2, 3)), np.zeros((3, 2))),
    (np.zeros(3), np.zeros(3, int)),
    (np.zeros(3), -np.zeros(3)),
    (np.zeros(3), (0.0, 0.0, 0.0)),
    (Mesh(TETRAHEDRON, FACES), Mesh(TETRAHEDRON + [0, 0, 1e-13], FACES)),
    (Mesh(TETRAHEDRON, FACES), Mesh(TETRAHEDRON, np.roll(FACES, 1, axis=1))),
]


@pytest.mark.parametrize(("one", "other"), UNLIKE, ids=range(len(UNLIKE)))
def test_unlike_values_have_unlike_fingerprints(one, other) -> None:
    if isinstance(one, tuple) and isinstance(other, list):
        # a row is a row: results depend on what stands in it
        assert fingerprint(one) == fingerprint(other)
    else:
        assert fingerprint(one) != fingerprint(other)


def test_equal_values_made_apart_have_the_same_fingerprint() -> None:
    assert fingerprint(sample_measures()) == fingerprint(sample_measures())
    assert fingerprint(Mesh(TETRAHEDRON, FACES)) == fingerprint(Mesh(TETRAHEDRON.copy(), FACES))
    assert fingerprint({"a": 1, "b": 2}) == fingerprint({"b": 2, "a": 1})
    turned = np.asfortranarray(TETRAHEDRON)
    assert fingerprint(turned) == fingerprint(TETRAHEDRON)
    assert fingerprint(TETRAHEDRON[::-1][::-1]) == fingerprint(TETRAHEDRON)


def test_every_field_of_a_noun_counts() -> None:
    for noun, changes in (
        (Cloth(), {"stretch_percent": 0.5, "ends": "cloth", "eases_percent": (1.0, 2.0)}),
        (DartLine(25.0, 100.0), {"at": 26.0, "length": 101.0, "lean": 0.5}),
    ):
        words = {fingerprint(noun)}
        words |= {fingerprint(replace(noun, **{name: v})) for name, v in changes.items()}
        assert len(words) == len(changes) + 1


PLAIN = st.one_of(st.integers(), st.floats(allow_nan=False), st.text(max_size=3), st.none())
ROWS = st.recursive(PLAIN, lambda inner: st.lists(inner, max_size=3).map(tuple), max_leaves=6)


@given(one=ROWS, other=ROWS)
def test_nested_rows_agree_only_where_they_are_alike(one, other) -> None:
    # repr tells -0.0 from 0.0 and 1 from 1.0, which == does not
    assert (fingerprint(one) == fingerprint(other)) is (repr(one) == repr(other))
