"""The snippets of docs/outputs.md run, and its table of classes is complete."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from tests.made_arms import made_arm_result
from unroll.disk.drawings import pieces_svg

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "outputs.md").read_text(encoding="utf-8")


def test_the_snippets_run_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(ROOT / "meshes", tmp_path / "meshes")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for snippet in re.findall(r"```python\n(.*?)```", PAGE, re.S):
        exec(snippet, names)
    said = capsys.readouterr().out.splitlines()
    assert "pictures/heat_outer.png" in said[0] and said[1] == "True True"
    assert (tmp_path / "out" / "pictures" / "heat_outer.png").is_file()


def test_every_class_of_the_drawing_is_documented() -> None:
    drawing = pieces_svg(made_arm_result(rings=12).pieces["unrolled"])
    classes = set(re.findall(r'class="([a-z-]+)"', drawing)) - {"piece", "label"}
    assert classes <= set(re.findall(r"`([a-z]+(?:-[a-z]+)?)`", PAGE))
    assert {"stitching-line", "dart", "notch", "grain"} <= classes


def test_pictures_of_the_page_exist_and_are_small() -> None:
    for name in re.findall(r"\]\((pictures/[^)]+)\)", PAGE):
        assert (ROOT / "docs" / name).stat().st_size < 200_000
