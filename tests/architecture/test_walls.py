"""The walls between packages, kept by import-linter; and ruff, and the migrations."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command

from tests.architecture.sources import ROOT

PROGRAMS = Path(sys.prefix) / "bin"


def lint_imports(folder):
    """Run import-linter on the packages of a folder."""
    command = [PROGRAMS / "lint-imports", "--no-cache", "--no-logo"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


@pytest.fixture
def copied_house(tmp_path):
    """A copy of the sources into which a test may build something forbidden."""
    for name in ("labsite", "curves", "scans"):
        ignored = shutil.ignore_patterns("static", "templates", "__pycache__")
        shutil.copytree(ROOT / name, tmp_path / name, ignore=ignored)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_every_wall_stands():
    result = lint_imports(ROOT)
    assert result.returncode == 0, result.stdout + result.stderr


@pytest.mark.parametrize(
    ("module", "line", "broken"),
    [
        ("curves/sensitometry/planted.py", "import django", "The pure packages know no framework"),
        ("curves/importers/planted.py", "import curves.models", "Within an app"),
        ("labsite/accounts/planted.py", "import labsite.jobs", "The site above the apps"),
        ("scans/imaging/planted.py", "import celery", "The pure packages know no framework"),
        ("scans/imaging/planted.py", "import curves.sensitometry", "Curves and pictures"),
        ("curves/sensitometry/planted.py", "import scans.imaging", "The site above the apps"),
        ("curves/utils.py", "", "Within an app"),
        ("scans/utils.py", "", "Within the scans app"),
        ("labsite/utils.py", "", "Every module of the site"),
    ],
)
def test_a_hole_in_a_wall_is_found(copied_house, module, line, broken):
    (copied_house / module).write_text(line + "\n")
    result = lint_imports(copied_house)
    assert result.returncode != 0
    assert broken in result.stdout


def test_ruff_finds_nothing():
    command = [PROGRAMS / "ruff", "check", "--no-cache", "."]
    result = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout


@pytest.mark.django_db
def test_no_model_is_ahead_of_its_migrations(capsys):
    try:
        call_command("makemigrations", check=True, dry_run=True)
    except SystemExit:
        pytest.fail(capsys.readouterr().out)
