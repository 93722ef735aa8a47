"""The layout and the manners of names that the contributor's guide promises."""

import ast
import re

import pytest

from tests.architecture.sources import PACKAGES, ROOT, python_files, short, tree_of

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "manage.py",
    "requirements.txt",
    "docker-compose.yml",
    "pyproject.toml",
    "labsite",
    "curves",
    "scans",
    "tests",
}
LONGEST_MODULE = 400
SAYS_NOTHING = re.compile(r"^(utils?|helpers?|misc|common_utils|manager|stuff)(\.py)?$")


def test_top_level_holds_nothing_but_the_layout():
    strays = {entry.name for entry in ROOT.iterdir() if entry.name[0] not in "._"} - TOP_LEVEL
    assert not strays


@pytest.mark.parametrize("path", python_files(*PACKAGES, "tests"), ids=short)
def test_module_is_short_and_says_what_it_is_for(path):
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= LONGEST_MODULE
    assert not SAYS_NOTHING.match(path.name)
    if text.strip():
        assert ast.get_docstring(tree_of(path)), "a module begins with a sentence of intent"


def test_no_class_of_the_site_begins_with_test():
    names = [
        (short(path), node.name)
        for path in python_files(*PACKAGES)
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.ClassDef) and node.name.startswith("Test")
    ]
    assert not names, "pytest would collect them"


def test_only_env_reads_the_environment():
    """``bootstrap`` runs before Django can be imported; two more only say where the settings are."""
    allowed = {"labsite/env.py", "labsite/bootstrap.py", "labsite/wsgi.py", "labsite/celery.py"}
    readers = {
        short(path)
        for path in python_files(*PACKAGES)
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Attribute) and node.attr in ("environ", "getenv", "environb")
    }
    assert readers - allowed == set()
    assert "labsite/env.py" in readers


def test_no_signal_and_no_work_in_save():
    """Services are the only writers: nothing happens behind their backs."""
    found = []
    for path in python_files(*PACKAGES):
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(
                "django.db.models.signals"
            ):
                found.append((short(path), "signal"))
            if isinstance(node, ast.FunctionDef) and node.name == "save" and "models" in path.parts:
                found.append((short(path), "save()"))
    assert not found


def test_no_module_waits_for_scipys_statistics_at_its_import():
    """They take longest of all to import, at every start; ``scipy.signal`` imports them, too."""
    slow = re.compile(r"scipy\.(stats|signal)\b")
    found = [
        (short(path), node.lineno)
        for path in python_files(*PACKAGES)
        for node in tree_of(path).body
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
        if slow.match(f"{getattr(node, 'module', None) or ''}.{alias.name}".lstrip("."))
    ]
    assert not found, "scipy.special has the quantiles; import it in the function that needs more"
