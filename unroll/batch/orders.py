"""What is to be made: every sheet of a folder, every row of a table, every size of one sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from unroll.arm_job import FINE
from unroll.disk.sheets import complete_sheet, load_sheet, read_text
from unroll.disk.tables import ENDINGS, load_table
from unroll.errors import UnrollError, one_line
from unroll.job import Job
from unroll.nouns import ArmMeasures, DartChoice, Sheet
from unroll.progress import Progress
from unroll.sheets.tables import MOST_ROWS, TableRow, own_sizes, size_rows, table_rows
from unroll.sheets.toml_text import parse_text

LONGEST_NAME = 60
MOST_SIZES = 16


@dataclass(frozen=True, eq=False)
class Order:
    """One sheet to be made.

    Attributes
    ----------
    name : str
        Of its folder; no other order's.
    source : str
        Where it stands, for the overview.
    sheet : Sheet or None
        None where it cannot be read.
    faults : tuple of str
        Why it cannot be read.
    """

    name: str
    source: str
    sheet: Sheet | None
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Orders:
    """What is to be made.

    Attributes
    ----------
    each : tuple of Order
    sizes : tuple of str
        Names of the orders that are sizes of one sheet, in order; none where they are not.
    """

    each: tuple[Order, ...]
    sizes: tuple[str, ...] = ()


def orders_for(
    path: Path, table: Path | None = None, *, search: int = FINE, progress: Progress | None = None
) -> Orders:
    """Return what a folder, a table, or a sheet with sizes asks for.

    Parameters
    ----------
    path : Path
    table : Path, optional
        Of sizes, where `path` is a sheet.
    search : {LOOK, COARSE, FINE}
        How far the search goes for the dart layout that all sizes share.

    Raises
    ------
    UnrollError
        When there is nothing to make.
    """
    if table is None and path.suffix.lower() != ".toml":
        return Orders(orders_in(path))
    orders, base = size_orders(path, table), load_sheet(path)
    if len(base.arms) > 1:
        raise UnrollError(f"{one_line(path)} has two unlike arms; expected [arm] alone where it is "
                          "to be made in several sizes")  # fmt: skip
    job = Job(base, search=search, progress=progress)
    return Orders(sharing_darts(orders, job), tuple(order.name for order in orders))


def orders_in(path: Path) -> tuple[Order, ...]:
    """Return an order for every sheet in a folder, or every row of a table.

    Parameters
    ----------
    path : Path
        A folder of sheets (.toml), or a table (.csv, .tsv, .xlsx).

    Raises
    ------
    UnrollError
        When there is no such folder or table, or nothing in it. A sheet that is at fault is an
        order with its faults.
    """
    if path.is_dir():
        files = sorted(file for file in path.iterdir() if file.suffix.lower() == ".toml")
        if not 0 < len(files) <= MOST_ROWS:
            raise UnrollError(f"{one_line(path)} holds {len(files)} sheets (.toml); expected 1 to "
                              f"{MOST_ROWS}")  # fmt: skip
        return _named((file.stem, file.name, *_loaded(file)) for file in files)
    if path.suffix.lower() not in ENDINGS:
        raise UnrollError(f"{one_line(path)} is neither a folder of sheets nor a table; expected a "
                          f"folder or a file that ends in {', '.join(ENDINGS)} (one sheet alone "
                          "needs sizes)")  # fmt: skip
    return _of_rows(table_rows(load_table(path)), path, "row")


def size_orders(path: Path, table: Path | None = None) -> tuple[Order, ...]:
    """Return an order for every size of one sheet, smallest first as listed.

    Parameters
    ----------
    path : Path
        The sheet.
    table : Path, optional
        A table of sizes; else the sheet's own `[sizes]`.

    Raises
    ------
    UnrollError
        When the sheet has no sizes, or more than can be told apart on one drawing.
    """
    base = parse_text(read_text(path))
    rows = own_sizes(base) if table is None else size_rows(load_table(table), base)
    if not 1 < len(rows) <= MOST_SIZES:
        raise UnrollError(f"{one_line(table or path)} lists {len(rows)} sizes; expected 2 to "
                          f"{MOST_SIZES} (in [sizes], or in a table given with --sizes)")
    return _of_rows(rows, table or path, "size")


def sharing_darts(orders: tuple[Order, ...], job: Job) -> tuple[Order, ...]:
    """Return the orders of sizes with one dart layout, so that their pieces nest.

    Parameters
    ----------
    orders : tuple of Order
    job : Job
        Of the base size, whose layout is looked for.

    Notes
    -----
    Places along the cap seam go with the armhole's girth, lengths with the cap's height.
    """
    if job.sheet.make.cap != "darts":
        return orders
    base, darts = job.arms[0].measures, job.arms[0].layouts[0].darts

    def fixed(measures: ArmMeasures) -> tuple[DartChoice, ...]:
        along = measures.armhole.girth / base.armhole.girth
        down = measures.cap_height / base.cap_height
        given = job.sheet.make.darts
        intakes = [given[k].intake if k < len(given) else None for k in range(len(darts))]
        return tuple(
            DartChoice(along * dart.at, down * dart.length, intake)
            for dart, intake in zip(darts, intakes, strict=True)
        )

    return tuple(
        order if order.sheet is None else replace(order, sheet=replace(
            order.sheet, make=replace(order.sheet.make, darts=fixed(order.sheet.arms[0]),
                                      dart_count=len(darts)),
        ))
        for order in orders
    )  # fmt: skip


def _of_rows(rows: tuple[TableRow, ...], path: Path, kind: str) -> tuple[Order, ...]:
    def loaded(row: TableRow) -> tuple[Sheet | None, tuple[str, ...]]:
        try:
            return complete_sheet(row.parsed, path.parent), ()
        except UnrollError as error:
            here = f"line {row.line}: "  # which the source tells
            return None, tuple(line.removeprefix(here) for line in str(error).splitlines())

    return _named(
        (row.name or f"{kind} {row.line}", f"{path.name}, line {row.line}", *loaded(row))
        for row in rows
    )


def _loaded(file: Path) -> tuple[Sheet | None, tuple[str, ...]]:
    try:
        return load_sheet(file), ()
    except UnrollError as error:
        return None, tuple(str(error).splitlines())


def _named(
    given: Iterable[tuple[str, str, Sheet | None, tuple[str, ...]]],
) -> tuple[Order, ...]:
    """Return orders with names that any disk takes, none twice, in capitals or not."""

    def each() -> Iterator[Order]:
        taken: set[str] = set()
        for name, source, sheet, faults in given:
            plain = folder_name(name)
            count, own = 1, plain
            while own.lower() in taken:
                count += 1
                own = f"{plain}-{count}"
            taken.add(own.lower())
            yield Order(own, source, sheet, faults)

    return tuple(each())


def folder_name(text: str) -> str:
    """Return a text as a folder's name: letters, digits, dashes.

    Examples
    --------
    >>> folder_name("Åsa  Lind / left"), folder_name("..")
    ('Åsa-Lind-left', 'sheet')
    """
    words = "".join(c if c.isalnum() or c == "_" else " " for c in text).split()
    return "-".join(words)[:LONGEST_NAME] or "sheet"
