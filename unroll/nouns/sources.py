"""Where pieces come from: a name for the program, one for the maker, one for report.json."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Source:
    """A way that pieces come about.

    Attributes
    ----------
    name : str
        As pieces carry it.
    label : str
        In a maker's words, after an article: "corrected pieces".
    published : str
        In report.json.
    colour : str
        In pictures, "#rrggbb".
    """

    name: str
    label: str
    published: str
    colour: str


CORRECTED = Source("corrected", "corrected pieces", "corrected", "#2f6f8f")
WITH_DARTS = Source(
    "with-darts", "corrected pieces with the darts of the search", "corrected", "#4d7d5b"
)
UNROLLED = Source("unrolled", "pieces laid flat", "flattened", "#a3362b")
OWN = Source("own", "pieces of your draft", "own", "#6a4c93")
DRAFTED_EASE = Source("drafted-ease", "flat draft with ease", "drafted", "#8a6d1f")
DRAFTED_DARTS = Source("drafted-darts", "flat draft with darts", "drafted", "#5d6b3a")

# Those to cut first; a new way is one line here.
SOURCES = {
    source.name: source
    for source in (OWN, CORRECTED, WITH_DARTS, UNROLLED, DRAFTED_EASE, DRAFTED_DARTS)
}


def source_called(name: str) -> Source:
    """Return the source of that name; one that stands in no list speaks for itself.

    Examples
    --------
    >>> source_called("unrolled").published
    'flattened'
    >>> source_called("traced").label
    'traced pieces'
    """
    return SOURCES.get(name) or Source(name, f"{name} pieces", name, "#6b6f72")
