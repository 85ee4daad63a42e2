"""What README and docs show is what happens."""

from __future__ import annotations

import contextlib
import doctest
import io
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
# their snippets are run, and what they print is held, by tests of their own
ELSEWHERE = ("outputs.md", "flattening.md", "distortion.md")


def snippets(page: Path) -> list[str]:
    return re.findall(r"```python\n(.*?)```", page.read_text("utf8"), re.DOTALL)


TRIED = [page for page in PAGES if snippets(page) and page.name not in ELSEWHERE]


@pytest.mark.parametrize("page", TRIED, ids=lambda page: page.name)
def test_snippets_run(page, monkeypatch, tmp_path):
    (tmp_path / "meshes").symlink_to(ROOT / "meshes")
    monkeypatch.chdir(tmp_path)
    names = {"__name__": "snippet"}
    for number, code in enumerate(snippets(page)):
        if code.startswith(">>>"):
            example = doctest.DocTestParser().get_doctest(
                code, names, f"{page.name}-{number}", "", 0
            )
            report = io.StringIO()
            runner = doctest.DocTestRunner()
            assert runner.run(example, out=report.write, clear_globs=False).failed == 0, (
                report.getvalue()
            )
            names = example.globs
        else:
            with contextlib.redirect_stdout(io.StringIO()):
                exec(compile(code, f"{page.name}-{number}", "exec"), names)


def test_the_readme_shows_what_its_lines_print(monkeypatch):
    monkeypatch.chdir(ROOT)
    text = (ROOT / "README.md").read_text("utf8")
    code, shown = re.search(r"```python\n(.*?)```\n\n```\n(.*?)```", text, re.DOTALL).groups()
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(code, {})
    assert printed.getvalue() == shown


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_and_pictures_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text("utf8")):
        assert "://" in target or (page.parent / target).exists(), target


def test_the_readme_opens_with_the_job_in_one_paragraph():
    first = (ROOT / "README.md").read_text("utf8").split("\n\n")[0]
    assert not first.startswith("#")
    assert "lofts the arm in 3D" in first


def test_ci_runs_the_readmes_own_test_command():
    readme, run = (ROOT / "README.md").read_text("utf8"), (ROOT / ".ci" / "run").read_text("utf8")
    assert re.search(r"<!-- test command -->\n```\npython3 -m venv \.venv && .*pytest\n", readme)
    assert "<!-- test command -->" in run
