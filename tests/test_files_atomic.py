"""Folders are written whole or not at all, and nothing of anyone else's is ever lost."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from unroll.disk.atomic import MARKER, check_out, write_file, write_folder
from unroll.errors import UnrollError

FILES = {"report.json": "{}\n", "pictures/arm.png": b"\x89PNG", "pieces.svg": "<svg/>é"}


def _names(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def test_a_folder_holds_exactly_what_was_given(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    assert _names(tmp_path / "arm") == {*FILES, MARKER}
    assert (tmp_path / "arm/pieces.svg").read_bytes() == "<svg/>é".encode()
    assert (tmp_path / "arm/pictures/arm.png").read_bytes() == b"\x89PNG"
    assert os.listdir(tmp_path) == ["arm"]


def test_the_list_of_sums_is_what_sha256sum_reads(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    lines = (tmp_path / "arm" / MARKER).read_text().splitlines()
    assert f"{hashlib.sha256(b'{}' + bytes([10])).hexdigest()}  report.json" in lines
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", MARKER], cwd=tmp_path / "arm", capture_output=True
    )
    assert done.returncode == 0


def test_an_existing_folder_is_refused_and_kept(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    with pytest.raises(UnrollError, match=r"arm exists already; choose another folder, or replace"):
        write_folder(tmp_path / "arm", {"report.json": "new"})
    assert (tmp_path / "arm/report.json").read_text() == "{}\n"


def test_an_earlier_run_is_replaced_when_asked(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    write_folder(tmp_path / "arm", {"report.json": "new"}, overwrite=True)
    assert _names(tmp_path / "arm") == {"report.json", MARKER}
    assert os.listdir(tmp_path) == ["arm"]


def test_overwriting_a_folder_that_is_not_there_makes_it(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES, overwrite=True)
    assert _names(tmp_path / "arm") == {*FILES, MARKER}


def test_a_strangers_folder_is_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters/dear.txt").write_text("dear")
    with pytest.raises(UnrollError, match="it was not written by this program"):
        write_folder(tmp_path / "letters", FILES, overwrite=True)
    assert (tmp_path / "letters/dear.txt").read_text() == "dear"


def test_a_file_added_by_someone_else_stops_the_overwriting(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    (tmp_path / "arm/pictures/mine.txt").write_text("mine")
    with pytest.raises(UnrollError, match=r"holds pictures/mine.txt, which this program did not"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)
    assert (tmp_path / "arm/pictures/mine.txt").read_text() == "mine"


def test_a_file_changed_by_hand_stops_the_overwriting(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    (tmp_path / "arm/pieces.svg").write_text("<svg>my own notes</svg>")
    with pytest.raises(UnrollError, match=r"pieces.svg was changed since it was written"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)
    assert "my own notes" in (tmp_path / "arm/pieces.svg").read_text()


def test_a_file_deleted_by_hand_does_not_stop_the_overwriting(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    (tmp_path / "arm/pieces.svg").unlink()
    write_folder(tmp_path / "arm", FILES, overwrite=True)
    assert _names(tmp_path / "arm") == {*FILES, MARKER}


@pytest.mark.parametrize("kind", ["file", "link", "dangling link"])
def test_what_is_not_a_folder_is_refused(tmp_path: Path, kind: str) -> None:
    target = tmp_path / "arm"
    if kind == "file":
        target.write_text("mine")
    else:
        (tmp_path / "elsewhere").mkdir()
        target.symlink_to(tmp_path / ("elsewhere" if kind == "link" else "nowhere"))
    with pytest.raises(UnrollError, match="exists and is not a folder; choose another name"):
        write_folder(target, FILES, overwrite=True)
    assert target.is_symlink() or target.read_text() == "mine"


@pytest.mark.parametrize("name", ["../out.txt", "/etc/out.txt", "a/../../b", "", "a\\b", MARKER])
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(UnrollError, match="expected a plain name"):
        write_folder(tmp_path / "arm", {name: "x"})
    assert os.listdir(tmp_path) == []


def test_a_missing_parent_is_said_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(UnrollError, match=r"cannot be written: No such file or directory") as said:
        write_folder(tmp_path / "no/such/arm", FILES)
    assert "\n" not in str(said.value)


@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), KeyboardInterrupt()])
@pytest.mark.parametrize("overwrite", [False, True])
def test_a_failing_write_leaves_nothing_behind_and_the_old_folder_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: BaseException, overwrite: bool
) -> None:
    if overwrite:
        write_folder(tmp_path / "arm", {"report.json": "old"})
    real, calls = Path.write_bytes, []

    def failing(self: Path, data: bytes) -> int:
        calls.append(self)
        if len(calls) == 3:
            raise fault
        return real(self, data)

    monkeypatch.setattr(Path, "write_bytes", failing)
    expected = UnrollError if isinstance(fault, OSError) else KeyboardInterrupt
    with pytest.raises(expected):
        write_folder(tmp_path / "arm", FILES, overwrite=overwrite)
    assert len(calls) == 3
    assert os.listdir(tmp_path) == (["arm"] if overwrite else [])
    if overwrite:
        assert (tmp_path / "arm/report.json").read_text() == "old"


def test_when_the_last_rename_fails_the_old_folder_comes_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "arm", {"report.json": "old"})
    real = os.rename

    def failing(source: Path, target: Path) -> None:
        if str(source).endswith(".part"):
            raise OSError(5, "Input/output error")
        real(source, target)

    monkeypatch.setattr(os, "rename", failing)
    with pytest.raises(UnrollError, match="Input/output error"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)
    assert os.listdir(tmp_path) == ["arm"]
    assert (tmp_path / "arm/report.json").read_text() == "old"


def test_a_killed_run_leaves_no_half_written_folder(tmp_path: Path) -> None:
    # The child stops just before the folder would appear and is killed there, beyond any cleaning.
    text = (
        "import os, sys, time; from pathlib import Path; import unroll.disk.atomic as atomic\n"
        "def stop(a, b): print('ready', flush=True); time.sleep(60)\n"
        "os.rename = stop\n"
        "atomic.write_folder(Path(sys.argv[1]), {'a': b'1', 'b': b'2'})\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", text, str(tmp_path / "arm")], stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None and child.stdout.readline() == "ready\n"
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdout.close()
    assert not (tmp_path / "arm").exists()
    write_folder(tmp_path / "arm", FILES)  # what the dead run left does not stand in the way
    assert _names(tmp_path / "arm") == {*FILES, MARKER}


def test_a_single_file_is_replaced_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "sheet.toml"
    write_file(target, "old")
    write_file(target, b"new")
    assert target.read_bytes() == b"new"

    def failing(source: Path, target: Path) -> None:
        raise OSError(13, "Permission denied")

    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(UnrollError, match="cannot be written: Permission denied"):
        write_file(target, "newer")
    assert target.read_bytes() == b"new" and os.listdir(tmp_path) == ["sheet.toml"]


# --- before the work ---------------------------------------------------------------------------


def test_a_free_name_passes_and_leaves_no_trace(tmp_path: Path) -> None:
    check_out(tmp_path / "arm")
    write_folder(tmp_path / "old", FILES)
    check_out(tmp_path / "old", overwrite=True)
    assert os.listdir(tmp_path) == ["old"] and _names(tmp_path / "old") == {*FILES, MARKER}


def test_a_folder_that_would_be_refused_is_refused_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    with pytest.raises(UnrollError, match=r"letters exists already; choose another folder, or"):
        check_out(tmp_path / "letters")
    with pytest.raises(UnrollError, match="is not replaced: it was not written by this program"):
        check_out(tmp_path / "letters", overwrite=True)
    (tmp_path / "file").write_text("mine")
    with pytest.raises(UnrollError, match="exists and is not a folder; choose another name"):
        check_out(tmp_path / "file", overwrite=True)


@pytest.mark.parametrize(("name", "reason"), [
    ("no/such/arm", "No such file or directory"),
    ("file/arm", "Not a directory"),
    ("a" * 250, "File name too long"),
])
def test_a_place_that_takes_no_folder_is_told_before_the_work(
    tmp_path: Path, name: str, reason: str
) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(UnrollError, match=f"cannot be written: {reason} ") as said:
        check_out(tmp_path / name)
    assert "\n" not in str(said.value)


def test_a_place_without_permission_is_told_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path, *_: object) -> None:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "mkdir", refuse)  # a superuser may write anywhere
    with pytest.raises(UnrollError, match=r"arm cannot be written: Permission denied \("):
        check_out(tmp_path / "arm")


def test_a_disk_without_room_is_told_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = type("usage", (), {"free": 12_400_000})
    monkeypatch.setattr("shutil.disk_usage", lambda _path: usage)
    with pytest.raises(UnrollError, match=r"arm has 12 MB of room; expected at least 50 MB \(a "
                                          r"full disk\?\)$"):
        check_out(tmp_path / "arm")
    assert os.listdir(tmp_path) == []


# --- what may lie in a folder that is to be replaced ----------------------------------------------


def _put_fifo(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def _put_link(path: Path) -> None:
    path.unlink()
    path.symlink_to("/dev/zero")


def _put_huge(path: Path) -> None:
    with path.open("wb") as file:  # a hole: it takes no room on the disk
        file.truncate(2_000_000_000)


@pytest.mark.parametrize("put", [_put_fifo, _put_link, _put_huge])
def test_what_cannot_be_read_to_its_end_stops_the_overwriting_at_once(
    tmp_path: Path, put: Callable[[Path], None]
) -> None:
    write_folder(tmp_path / "arm", FILES)
    put(tmp_path / "arm/pieces.svg")
    with pytest.raises(UnrollError, match=r"arm is not replaced: pieces.svg was changed since it"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)
    put(tmp_path / "arm" / MARKER)
    with pytest.raises(UnrollError, match=r"is not replaced: it was not written by this program"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)


@pytest.mark.parametrize("content", [b"\xff\xfe\0\0", b"", bytes(range(256)), b"x" * 2_000_000])
def test_a_list_of_files_that_is_none_stops_the_overwriting(
    tmp_path: Path, content: bytes
) -> None:
    write_folder(tmp_path / "arm", FILES)
    (tmp_path / "arm" / MARKER).write_bytes(content)
    with pytest.raises(UnrollError, match=r"arm is not replaced: it (was not written by|holds )"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)


def test_a_file_that_may_not_be_read_stops_the_overwriting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "arm", FILES)
    real = os.open

    def refuse(path: Path, *rest: int) -> int:
        if str(path).endswith("pieces.svg"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, *rest)

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(UnrollError, match=r"pieces.svg was changed since it was written"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)


def test_a_folder_within_that_may_not_be_read_stops_the_overwriting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "arm", FILES)
    real = os.scandir

    def refuse(path: str) -> object:
        if str(path).endswith("pictures"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(os, "scandir", refuse)
    with pytest.raises(UnrollError, match=r"arm/pictures cannot be read: Permission denied; "):
        write_folder(tmp_path / "arm", FILES, overwrite=True)


def test_a_strange_file_whose_name_cannot_be_printed_is_told_in_one_line(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    (tmp_path / "arm/a\nb\udcff").write_text("mine")
    with pytest.raises(UnrollError, match=r"it holds a\?b\?, which this program did not write;"):
        write_folder(tmp_path / "arm", FILES, overwrite=True)


def test_a_write_protected_folder_is_replaced_and_nothing_is_left(tmp_path: Path) -> None:
    write_folder(tmp_path / "arm", FILES)
    (tmp_path / "arm/pictures").chmod(0o555)
    (tmp_path / "arm").chmod(0o555)
    assert write_folder(tmp_path / "arm", {"report.json": "new"}, overwrite=True) == ""
    assert os.listdir(tmp_path) == ["arm"]


def test_a_folder_that_stays_behind_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "arm", FILES)
    monkeypatch.setattr("shutil.rmtree", lambda *_, **__: None)
    said = write_folder(tmp_path / "arm", {"report.json": "new"}, overwrite=True)
    left = next(name for name in os.listdir(tmp_path) if name.endswith(".old"))
    assert said == (f"the folder that was replaced could not be removed; it lies at "
                    f"{tmp_path / left} (write-protected, or open in another program?)")
    assert (tmp_path / "arm/report.json").read_text() == "new"
