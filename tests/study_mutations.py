"""Change the product by a hair and see whether a test fails: python -m tests.study_mutations.

    pip install cosmic-ray
    python -m tests.study_mutations                     # a sample of every module in TESTED
    python -m tests.study_mutations finish/walking --most 200

The mutations are those of cosmic-ray: another operator, another number, a loop that runs not at
all, a condition turned round. Each is tried in a forked process, on the tests of its module, with
everything heavy loaded before; what survives is printed with its line. Those that change nothing
which a maker or a test could see (annotations, the text of a message) are left out. Before that,
the tests must pass on the module as it is, and fail on one that cannot be loaded.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.util
import os
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HOME = Path(__file__).parents[1]
SECONDS = 240  # after which a mutation counts as found: something runs for ever
HEAVY = ("numpy", "scipy.optimize", "scipy.sparse.linalg", "scipy.spatial", "shapely", "matplotlib",
         "trimesh", "networkx", "pytest", "hypothesis", "ezdxf", "pypdf", "pdfplumber",
         "pypdfium2", "lxml.html", "typer", "jinja2", "svgelements", "igl")  # fmt: skip
TESTED = {
    "arms/taping": "taping measuring stance",
    "drafts/taping": "comparing",
    "finish/walking": "walking piecing_truing sizes",
    "finish/truing": "walking piecing_truing",
    "finish/allowance": "allowance piecing",
    "finish/notching": "walking piecing allowance",
    "finish/darts": "allowance piecing piecing_truing walking",
    "finish/cut_plan": "laying sizes",
    "paper/layouts": "printing",
    "paper/tiling": "printing",
    "disk/pattern_svg": "printing_files sizes",
    "disk/pattern_dxf": "printing_files sizes",
    "paper/wording": "printing_files printing",
    "nouns/fit": "values fitting verdicts",
    "units": "units",
}
OPERATORS = ("Replace", "Number", "Zero", "AddNot")  # how the names of those that are tried begin


@dataclass(frozen=True)
class Mutation:
    """One change of one module."""

    module: str
    operator: str
    line: int
    was: str
    now: str
    code: str


class Changed(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Loads one module from changed source."""

    def __init__(self, name: str, path: Path, code: str) -> None:
        self.name, self.path, self.code = name, path, code

    def find_spec(self, fullname, path=None, target=None):
        if fullname == self.name:
            return importlib.util.spec_from_file_location(fullname, self.path, loader=self)
        return None

    def get_filename(self, fullname):
        return str(self.path)

    def get_data(self, path):
        return self.code.encode()

    def path_stats(self, path):
        raise OSError  # no compiled file is read or written

    def pytest_sessionstart(self):
        sys.meta_path.insert(0, self)  # before pytest's own loader of the files that it is given


def mutations(module: str) -> list[Mutation]:
    """Return every change of a module that could be seen."""
    from cosmic_ray.ast import get_ast_from_path
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.operators.provider import OperatorProvider

    path = HOME / "unroll" / f"{module}.py"
    source = path.read_text("utf8")
    unseen = _unseen_lines(source)
    provider, tree, found = OperatorProvider(), get_ast_from_path(path), []
    nodes = list(_nodes(tree))
    for name in provider:
        if not name.startswith(OPERATORS) or "Pow" in name or "Shift" in name or "Bit" in name:
            continue
        operator = provider[name]()
        count = sum(len(list(operator.mutation_positions(node))) for node in nodes)
        for place in range(count):
            code = mutate_code(source, operator, place)
            if code is None or code == source:
                continue
            pairs = list(zip(source.splitlines(), code.splitlines(), strict=False))
            changed = [n for n, (was, now) in enumerate(pairs) if was != now]
            if changed and changed[0] + 1 not in unseen:
                was, now = pairs[changed[0]]
                one = Mutation(module, name, changed[0] + 1, was.strip(), now.strip(), code)
                found.append(one)
    return found


def _nodes(node):
    yield node
    for child in getattr(node, "children", ()):
        yield from _nodes(child)


def _unseen_lines(source: str) -> set[int]:
    """Return the lines of docstrings, imports, annotations and messages."""
    lines: set[int] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import | ast.ImportFrom | ast.Raise):
            lines |= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            lines |= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            lines |= set(range(node.lineno, node.body[0].lineno))
        if isinstance(node, ast.AnnAssign) and node.value is None:
            lines.add(node.lineno)
    return lines


def survives(code: str, module: str) -> bool:
    """Run a module's tests on other code for it, in a process of its own; tell whether all pass."""
    child = os.fork()
    if child == 0:
        os.setsid()
        silent = os.open(os.devnull, os.O_RDWR)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        path = HOME / "unroll" / f"{module}.py"
        changed = Changed("unroll." + module.replace("/", "."), path, code)
        sys.meta_path.insert(0, changed)
        import pytest

        files = [str(HOME / "tests" / f"test_{name}.py") for name in TESTED[module].split()]
        words = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider", *files, str(path)]  # its examples
        os._exit(pytest.main(words, plugins=[changed]))
    ends = time.monotonic() + SECONDS
    while time.monotonic() < ends:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return status == 0
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def study(modules: Sequence[str], most: int, seed: int) -> Counter[str]:
    """Try a sample of the mutations of each module; print what survives."""
    counts: Counter[str] = Counter()
    for module in modules:
        start = time.monotonic()
        source = (HOME / "unroll" / f"{module}.py").read_text("utf8")
        if not survives(source, module):
            print(f"{module}: its tests fail unchanged, or take over {SECONDS} s", flush=True)
            continue
        unchanged = time.monotonic() - start
        if survives(f"{source}\nraise SystemError\n", module):
            print(f"{module}: its tests pass where it cannot even be loaded", flush=True)
            continue
        every = mutations(module)
        tried = random.Random(seed).sample(every, min(most, len(every)))
        left = []
        for one in sorted(tried, key=lambda one: one.line):
            if survives(one.code, module):
                left.append(one)
                print(f"  {one.module}:{one.line}  {one.was}  ->  {one.now}", flush=True)
        counts["tried"] += len(tried)
        counts["survived"] += len(left)
        print(f"{module}: {len(tried)} of {len(every)} tried, {len(left)} survived "
              f"({unchanged:.0f} s unchanged, {time.monotonic() - start:.0f} s)",
              flush=True)  # fmt: skip
    return counts


def main() -> int:
    """Run the study."""
    words = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    words.add_argument("modules", nargs="*", default=list(TESTED))
    words.add_argument("--most", type=int, default=25, help="of each module")
    words.add_argument("--seed", type=int, default=1)
    given = words.parse_args()
    for name in HEAVY:
        importlib.import_module(name)
    print(dict(study(given.modules, given.most, given.seed)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
