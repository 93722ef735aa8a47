"""The examples in the docstrings of imaging are true, and its registries hold every code that is used."""

import doctest
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

import scans.imaging
from scans.imaging.flags import FLAGS, REASONS, REFUSALS

MODULES = sorted(module.name for module in pkgutil.iter_modules(scans.imaging.__path__))
FOLDER = Path(scans.imaging.__path__[0])


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name):
    module = importlib.import_module(f"scans.imaging.{name}")
    assert doctest.testmod(module).failed == 0


def test_every_code_is_used_and_has_one_sentence():
    text = "".join(path.read_text() for path in FOLDER.glob("*.py") if path.name != "flags.py")
    text += "".join(path.read_text() for path in (FOLDER.parent / "management").rglob("*.py"))
    for registry in (REFUSALS, REASONS, FLAGS):
        for code, sentence in registry.items():
            assert re.fullmatch(r"[A-Z0-9_]+", code)
            assert f'"{code}"' in text, f"{code} is never given"
            assert sentence.endswith(".")
