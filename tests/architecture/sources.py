"""The project's own source files, for the tests that read them."""

import ast
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = [name for name in ("labsite", "curves", "scans") if (ROOT / name).is_dir()]
PURE = [
    name
    for name in (
        "curves/sensitometry",
        "curves/figures",
        "curves/importers",
        "scans/figures",
        "scans/imaging",
    )
    if (ROOT / name).is_dir()
]


def python_files(*folders: str) -> list[Path]:
    """Every module below the folders, migrations left out."""
    found = (path for folder in folders for path in sorted((ROOT / folder).rglob("*.py")))
    return [path for path in found if "migrations" not in path.parts]


def templates() -> list[Path]:
    """Every HTML template."""
    return [path for package in PACKAGES for path in sorted((ROOT / package).rglob("templates/**/*.html"))]


@cache
def tree_of(path: Path) -> ast.Module:
    """The module as a syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"))


def short(path: Path) -> str:
    """The path as people write it."""
    return path.relative_to(ROOT).as_posix()
