"""The examples in the figures' docstrings are true."""

import doctest
import importlib
import pkgutil

import pytest

import curves.figures

MODULES = sorted(module.name for module in pkgutil.iter_modules(curves.figures.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_figure_examples_hold(name):
    module = importlib.import_module(f"curves.figures.{name}")
    assert doctest.testmod(module).failed == 0
