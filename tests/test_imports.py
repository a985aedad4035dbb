"""Data flows one way: no module imports from a folder further down the line than its own."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "reviewbot"
ORDER = (
    "errors",
    "cores",
    "settings",
    "mesh",
    "geometry",
    "history",
    "readers",
    "measure",
    "render",
    "compare",
    "checks",
    "report",
    "publish",
    "jobs",
    "cache",
    "spread",
    "intake",
    "measuring",
    "review",
    "making",
    "reviews",
    "cluster",
    "waiting",
    "runs",
    "watch",
    "snapshot",
    "demo",
    "setting_up",
    "commands",
    "cli",
    "__main__",
)
# Optional libraries, each behind one module that imports it where it is used, and why.
LATE = {
    "commands": "start-up stays short: each command loads what it needs",
    "making.py": "a review that was kept needs none of what measures and draws",
    "cluster.py": "distributed is optional",
    "geometry/embree.py": "embreex has no wheel for every machine",
    "waiting.py": "what draws a progress bar is loaded where one is drawn",
    "history/git.py": "GitPython is slow to load, and files on the disk need no git",
    "render/gl_backend.py": "OpenGL is missing on many machines, and slow to load",
    "readers/formats.py": "native readers are loaded in the process that needs one",
    "readers/fbx.py": "ufbx is optional",
    "readers/usd.py": "usd-core is optional",
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def place_of(dotted: str) -> int:
    return ORDER.index(dotted.split(".")[1]) if "." in dotted else -1


def imported(tree: ast.AST) -> list[str]:
    """Dotted names of this package that a module imports, wherever it does."""
    names = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            names.append(node.module or "")
    return [name for name in names if name.split(".")[0] == "reviewbot"]


def dotted_name(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


@pytest.mark.parametrize("path", modules(), ids=dotted_name)
def test_no_arrow_runs_back(path: Path) -> None:
    here = dotted_name(path)
    for name in imported(ast.parse(path.read_text("utf-8"))):
        assert place_of(name) <= place_of(here) or here == "reviewbot", f"{here} imports {name}"


def test_no_import_cycle() -> None:
    arrows = {dotted_name(path): imported(ast.parse(path.read_text("utf-8"))) for path in modules()}
    done: set[str] = set()

    def walk(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " > ".join([*trail, name])
        if name not in done:
            for following in arrows.get(name, []):
                walk(following, (*trail, name))
            done.add(name)

    for name in arrows:
        walk(name, ())


def test_every_folder_has_its_place() -> None:
    assert {path.relative_to(PACKAGE).parts[0].removesuffix(".py") for path in modules()} <= {
        *ORDER,
        "__init__",
    }


def test_libraries_are_imported_at_the_top() -> None:
    """Imports inside functions only where one optional library is kept behind one module."""
    for path in modules():
        tree = ast.parse(path.read_text("utf-8"))
        late = [
            node.lineno
            for function in ast.walk(tree)
            if isinstance(function, ast.FunctionDef)
            for node in ast.walk(function)
            if isinstance(node, ast.Import | ast.ImportFrom)
        ]
        name = path.relative_to(PACKAGE).as_posix()
        assert not late or name in LATE or name.split("/")[0] in LATE, (
            f"{name} imports late in lines {late}"
        )
