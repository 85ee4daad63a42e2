"""The sheet while it lies open: its text, what is wrong with it, undo, and the file on the disk."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from unroll.disk.own_pieces import MOST_FILES
from unroll.disk.scans import KINDS
from unroll.disk.sheets import SheetFile, drawing_ending, sheet_of
from unroll.errors import SheetFaults, UnrollError
from unroll.nouns import ArmMeasures, Sheet
from unroll.nouns.scan import ScannedArm
from unroll.page import editing
from unroll.page.form import Path
from unroll.page.scan_view import place_in_file
from unroll.sheets.blank import blank_sheet
from unroll.units import Unit, format_length, unit_named

MOST_UNDONE = 200
LARGEST_DRAFT = 100_000_000  # bytes of all its files
TOGETHER_S = 1.5  # typing in one field without a longer pause is undone in one go
NEW_SHEET = "my_arm.toml"


@dataclass(frozen=True)
class Fault:
    """What is wrong with an entry.

    Attributes
    ----------
    path : str
        The entry's, joined with "."; "" for the sheet as a whole.
    text : str
    """

    path: str
    text: str


class Session:
    """One sheet, open.

    Parameters
    ----------
    path : Path
        Of the sheet's file; where there is none yet, a blank sheet that is written at its first
        change.

    Attributes
    ----------
    text : str
        As the page has it.
    sheet : Sheet or None
        Complete; None while it has faults.
    faults : tuple of Fault
    revision : int
        Counts the changes.
    outside : str or None
        The file's text where somebody else wrote it; nothing is saved until she has chosen.
    draft : tuple of (str, bytes)
        Name and content of each file of her own draft, as handed over.
    unsaved : str
        Why the last change could not be saved; "" where it was.

    Raises
    ------
    UnrollError
        When the file is there and cannot be read.
    """

    def __init__(self, path: FilePath, unit: Unit = "cm") -> None:
        self.file = SheetFile(path)
        self.text = self.file.read() if self.file.is_there else blank_sheet(unit)
        self.revision = 0
        self.outside: str | None = None
        self.unsaved = ""
        self.entries: dict[str, str] = {}
        self.draft: tuple[tuple[str, bytes], ...] = ()
        self._undo: list[str] = []
        self._redo: list[str] = []
        self._last: tuple[Path, float] = ((), 0.0)
        self._read()

    # ---- changes

    def edit(self, path: Path, value: str) -> None:
        """Write what was typed into one entry, and save.

        Raises
        ------
        UnrollError
            When there is no such entry or the text cannot stand in it.
        """
        if path == ("unit",):
            self._change(editing.in_unit(self.text, unit_named(value)))
            return
        together = self._last[0] == path and time.monotonic() - self._last[1] < TOGETHER_S
        new = editing.changed(self.text, path, editing.typed(path, value))
        self._change(new, together=together)
        self._last = path, time.monotonic()

    def keep_tracing(self, table: str, raw: bytes) -> str:
        """Put a traced armhole beside the sheet, and return its name; the sheet stays as it is.

        Takes seconds for a photograph; may run beside other things.

        Raises
        ------
        UnrollError
            When there is no such arm, or the file cannot be used: in the sheet reader's words.
        """
        text, entry = self.text, _outline_of(table)
        return self.file.put_beside(
            raw, "armhole", drawing_ending(raw), entry,
            lambda name: editing.changed(text, entry, name),
        )  # fmt: skip

    def take_tracing(self, table: str, name: str) -> None:
        """Have the sheet name a traced armhole that was put beside it."""
        self._change(editing.changed(self.text, _outline_of(table), name))

    def keep_scan(self, kind: str, raw: bytes) -> str:
        """Put a scan of the arm beside the sheet, and return its name; the sheet stays as it is.

        Parameters
        ----------
        kind : str
            One of the scan reader's: "obj" and so on.
        raw : bytes

        Raises
        ------
        UnrollError
            When it is of another kind or too large, or holds no arm: in the scan reader's words.
        """
        if kind not in KINDS:
            raise UnrollError(f"the file is no scan; expected one that ends in "
                              f"{', '.join(KINDS[:-1])} or {KINDS[-1]}")
        text = self.text
        return self.file.put_beside(raw, "scan", f".{kind}", ("scan", "file"),
                                    lambda name: editing.with_scan(text, name))

    def take_scan(self, name: str) -> None:
        """Have the sheet name a scan that was put beside it; "" for none."""
        self._change(editing.with_scan(self.text, name))

    def keep_draft(self, number: str, raw: bytes) -> None:
        """Take a file of her own draft; the first one puts away those that were there.

        Parameters
        ----------
        number : str
            "1" for the first file, and so on.
        raw : bytes
            A drawing or a photograph; no name of hers is used.

        Raises
        ------
        UnrollError
            When it is too large or of another kind, or there are too many.
        """
        kept = () if number == "1" else self.draft
        if number != str(len(kept) + 1) or len(kept) >= MOST_FILES:
            raise UnrollError(f"the draft is file {number[:9]} after {len(kept)}; expected one "
                              f"after the other, at most {MOST_FILES}")
        size = sum(len(one) for _, one in kept) + len(raw)
        if size > LARGEST_DRAFT:
            raise UnrollError(f"the draft's files hold {size / 1e6:.1f} MB; expected at most "
                              f"{LARGEST_DRAFT / 1e6:g} MB together")
        self.draft = (*kept, (f"file {number}{drawing_ending(raw)}", raw))

    def fix_darts(self, darts: Sequence[tuple[float, float]]) -> None:
        """Write where the darts are to lie and how long they are, mm; none leaves it open.

        What a dart takes in stays as the sheet says it.
        """
        rows = [
            {"at": format_length(at, self.unit), "length": format_length(long, self.unit)}
            for at, long in darts
        ]
        for place, row in enumerate(rows):
            intake = self.entries.get(f"make.darts.{place}.intake")
            row |= {"intake": intake} if intake else {}
        text = editing.with_rows(self.text, ("make", "darts"), rows)
        if rows and self.entries.get("make.dart_count"):  # the sheet takes one of the two
            text = editing.changed(text, ("make", "dart_count"), "")
        self._change(text)

    def part_arms(self) -> None:
        """Give each arm a table of its own."""
        self._change(editing.unlike(self.text))

    def join_arms(self) -> None:
        """Let the left arm's table serve both."""
        self._change(editing.alike(self.text))

    def undo(self) -> None:
        """Take the last change back."""
        self._step(self._undo, self._redo)

    def redo(self) -> None:
        """Make the change again that was taken back last."""
        self._step(self._redo, self._undo)

    def _step(self, back: list[str], on: list[str]) -> None:
        if back:
            on.append(self.text)
            self._put(back.pop())
            self._last = (), 0.0

    def _change(self, text: str, *, together: bool = False) -> None:
        if text == self.text:
            return
        if not together or not self._undo:
            self._undo = [*self._undo[1 - MOST_UNDONE:], self.text]
        self._redo.clear()
        self._last = (), 0.0
        self._put(text)

    def _put(self, text: str) -> None:
        self.text = text
        self.revision += 1
        self._read()
        self._save()

    # ---- the file

    def look_outside(self) -> bool:
        """Look whether somebody else changed the file; tell whether there is news."""
        if self.outside is not None or not self.file.was_changed or not self.file.is_there:
            return False
        try:
            found = self.file.read()
        except UnrollError as error:
            is_news, self.unsaved = self.unsaved != str(error), str(error)
            return is_news
        if found == self.text:
            return False
        self.outside = found
        return True

    def take_outside(self) -> None:
        """Go on with the file as somebody else left it; the page's own can be had by undo."""
        if self.outside is not None:
            found, self.outside = self.outside, None
            self._change(found)

    def keep_mine(self) -> None:
        """Write the page's text over what somebody else wrote."""
        if self.outside is not None:
            self.outside = None
            self._save()

    def _save(self) -> None:
        if self.outside is None:
            self.look_outside()
        if self.outside is not None:
            return
        try:
            self.file.write(self.text)
            self.unsaved = ""
        except UnrollError as error:
            self.unsaved = str(error)

    # ---- what it says

    def _read(self) -> None:
        try:
            self.sheet: Sheet | None = sheet_of(self.text, self.file.path.parent)
            self.faults: tuple[Fault, ...] = ()
        except SheetFaults as refused:
            self.sheet = None
            self.faults = tuple(
                Fault(".".join(map(str, path)), text) for path, text in refused.places
            )
        try:
            self.entries = editing.entries(self.text)
            self.is_writable = True
        except UnrollError as error:
            self.is_writable = False
            self.faults = (*self.faults, Fault("", str(error)))

    @property
    def unit(self) -> Unit:
        """The sheet's unit, cm while it has none."""
        found = self.entries.get("unit", "")
        return unit_named(found) if found in ("in", "cm", "mm") else "cm"

    def told(self) -> dict[str, Any]:
        """Return all that the page shows of the sheet, as plain values."""
        sheet = self.sheet
        return {
            "revision": self.revision,
            "file": self.file.path.name,
            "unit": self.unit,
            "entries": self.entries,
            "faults": [[fault.path, fault.text] for fault in self.faults],
            "estimates": {} if sheet is None else self._estimates(sheet),
            "notices": [] if sheet is None else [[n.name, n.text] for n in sheet.notices],
            "is_unlike": any(key.startswith(("left_arm", "right_arm")) for key in self.entries),
            "can_undo": bool(self._undo),
            "can_redo": bool(self._redo),
            "is_outside": self.outside is not None,
            "unsaved": self.unsaved,
            "is_ready": sheet is not None,
            "is_writable": self.is_writable,
        }

    def _estimates(self, sheet: Sheet) -> dict[str, list[str]]:
        """Return value and source of each estimate, by the entry's path."""
        out = {}
        for arm in sheet.arms:
            table = "arm" if len(sheet.arms) == 1 else f"{arm.side}_arm"
            for estimate in arm.estimated:
                path = f"{table}.{estimate.name.replace(' ', '.')}"
                source = f"estimated {estimate.source}"
                out[path] = [format_length(estimate.value_mm, sheet.unit), source]
            out |= _usual(arm, table, self.entries)
            if sheet.scanned is not None and arm.scan is not None:
                out |= _from_scan(arm, sheet.scanned, table, sheet.unit)
        return out


def _outline_of(table: str) -> Path:
    if table not in ("arm", "left_arm", "right_arm"):
        raise UnrollError("the page sent an armhole of no arm")
    return table, "armhole", "outline"


def _usual(arm: ArmMeasures, table: str, entries: dict[str, str]) -> dict[str, list[str]]:
    """Return what is taken as usual for numbers that are no lengths."""
    values = {
        **{f"{name}_ratio": getattr(arm, f"{name}_ratio")
           for name in ("upper_arm", "elbow", "forearm")},
        "shoulder_slope_front": arm.shoulder_slope_front_deg,
        "shoulder_slope_back": arm.shoulder_slope_back_deg,
    }  # fmt: skip
    return {
        f"{table}.{name}": [f"{value:g}", "estimated: taken as usual"]
        for name, value in values.items() if not entries.get(f"{table}.{name}")
    }


def _from_scan(
    arm: ArmMeasures, scan: ScannedArm, table: str, unit: Unit
) -> dict[str, list[str]]:
    """Return what a scan says where the sheet says nothing; a place in the file's own numbers."""
    out = {}
    for name in scan.values:
        value = getattr(arm, name)
        if not arm.is_estimated(name):
            said = f"{value:.2f}" if name.endswith("_ratio") else format_length(value, unit)
            out[f"{table}.{name}"] = [said, "from the scan"]
    if scan.armhole is not None:
        for name in ("width", "height", "girth"):
            said = format_length(getattr(arm.armhole, name), unit)
            out[f"{table}.armhole.{name}"] = [said, "from the scan"]
    for name, at in scan.landmarks.items():
        out[f"scan.{name}"] = [place_in_file(scan, at), "found on the scan"]
    return out


def opened(path: FilePath | None, folder: FilePath) -> Session:
    """Return the session of a sheet, or of her own in `folder`: a blank one if it is new.

    Raises
    ------
    UnrollError
        When the sheet is named and is not there, or cannot be read.
    """
    if path is None:
        return Session(folder / NEW_SHEET)
    SheetFile(path).read()  # a name that is mistyped is told before anything is opened
    return Session(path)
