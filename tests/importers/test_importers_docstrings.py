"""The examples in the importers' docstrings are true."""

import doctest
import importlib
import pkgutil

import pytest

import curves.importers

MODULES = sorted(module.name for module in pkgutil.iter_modules(curves.importers.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name):
    module = importlib.import_module(f"curves.importers.{name}")
    assert doctest.testmod(module).failed == 0
