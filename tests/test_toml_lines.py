"""Every entry of a sheet is found on the line that it stands on."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from unroll.sheets.toml_text import key_lines

KEYS = st.text("abcdefgh_", min_size=1, max_size=6)
LEAVES = st.one_of(
    st.integers(-9, 9), st.booleans(), st.text("xyz #[]{},=.'", max_size=8),
    st.floats(-9, 9).map(lambda x: round(x, 2)),
)
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=8,
)


def written(value: object, *, breaks: bool) -> str:
    """Return a value as TOML, lists over several lines where `breaks`."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        gap = "\n  " if breaks else " "
        return "[" + gap + f",{gap}".join(written(v, breaks=breaks) for v in value) + gap + "]"
    if isinstance(value, dict):
        pairs = (f"{k} = {written(v, breaks=False)}" for k, v in value.items())
        return "{ " + ", ".join(pairs) + " }"
    return repr(value)


def paths(value: object, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return every path of nested values."""
    entries: Any = ()
    if isinstance(value, dict):
        entries = value.items()
    elif isinstance(value, list):
        entries = enumerate(value)
    return [at] * bool(at) + [p for k, v in entries for p in paths(v, (*at, k))]


@given(st.dictionaries(KEYS, VALUES, max_size=4),
       st.dictionaries(KEYS, st.dictionaries(KEYS, VALUES, max_size=4), max_size=3), st.booleans())
def test_every_entry_of_a_text_has_the_line_that_it_stands_on(
    top: dict[str, Any], tables: dict[str, Any], breaks: bool
) -> None:
    rows = [f"{key} = {written(value, breaks=breaks)} # note" for key, value in top.items()]
    for name, table in tables.items():
        if name in top:
            continue
        rows.append(f"\n[{name}] # [not] a = heading")
        rows += [f"{key} = {written(value, breaks=breaks)}" for key, value in table.items()]
    text = "\n".join(rows)
    lines = key_lines(text)
    assert set(lines) == set(paths(tomllib.loads(text)))
    for path, line in lines.items():
        if isinstance(path[-1], str):
            assert path[-1] in text.split("\n")[line - 1]


def test_dotted_keys_lists_of_tables_and_long_texts_have_lines() -> None:
    text = 'a.b = 1\n[[c]]\nx = """\n[q]\nr = 1\n"""\n[[c]]\n"y z" = \'\'\'\n\'\'\'\nw = 2\n'
    lines = key_lines(text)
    assert set(lines) >= set(paths(tomllib.loads(text)))
    assert lines[("a", "b")] == 1
    assert lines[("c", 1)] == 7 and lines[("c", 1, "w")] == 10 and lines[("c", 0, "x")] == 3
