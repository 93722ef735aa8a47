"""Public functions say what they take and return; in the pure packages with shape and unit."""

import ast
import re

import pytest

from tests.architecture.sources import PACKAGES, PURE, python_files, short, tree_of

NUMBER = re.compile(r"\b(array_like|ndarray|array|float|complex)\b(?! of (bool|int|str))")
ARRAY = re.compile(r"\b(array_like|ndarray|array)\b")
SHAPE = re.compile(r"shape|scalar")
UNIT = re.compile(r"\[[^\]]+\]")
UNDERLINE = re.compile(r"^-{3,}$")
#: A function of so few parameters may say it all in its first paragraph, without sections.
FEW = 2


def sections(docstring: str) -> dict[str, list[str]]:
    """The numpydoc sections: title to entries, each a type line with its description."""
    found, title = {"": []}, ""
    lines = docstring.splitlines()
    for index, line in enumerate(lines):
        if UNDERLINE.match(line.strip()):
            continue
        if index + 1 < len(lines) and UNDERLINE.match(lines[index + 1].strip()):
            title = line.strip()
            found[title] = []
        elif line.startswith(" ") and found[title]:
            found[title][-1] += "\n" + line
        elif line.strip():
            found[title].append(line)
    return found


def public_functions(path):
    """The functions of a module that others may call."""
    return [
        node
        for node in tree_of(path).body
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not node.name.startswith("_")
    ]


def faults_of(function: ast.FunctionDef) -> list[str]:
    """What is missing from the docstring of a function of a pure package."""
    parts = sections(ast.get_docstring(function) or "")
    arguments = function.args
    names = [a.arg for a in [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]]
    taken, given = parts.get("Parameters", []), parts.get("Returns", parts.get("Yields", []))
    if not taken and len(names) <= FEW and not given:
        first = " ".join(parts[""])
        return [] if SHAPE.search(first) and UNIT.search(first) else ["neither sections nor shape and unit"]
    described = {name.strip(" *") for entry in taken for name in entry.split(" : ")[0].split(",")}
    faults = [f"parameter {name} is not described" for name in names if name not in described]
    if not given and not _returns_nothing(function):
        faults.append("no Returns section")
    for entry in taken + given:
        head = entry.splitlines()[0]
        if ARRAY.search(head) and not SHAPE.search(entry):
            faults.append(f"no shape: {head}")
        if NUMBER.search(head) and not UNIT.search(entry):
            faults.append(f"no unit: {head}")
    return faults


def _returns_nothing(function) -> bool:
    return isinstance(function.returns, ast.Constant) and function.returns.value is None


@pytest.mark.parametrize(
    ("path", "function"),
    [
        pytest.param(path, function, id=f"{short(path)}:{function.name}")
        for path in python_files(*PURE)
        if not path.name.startswith("_")
        for function in public_functions(path)
    ],
)
def test_pure_function_states_shapes_and_units(path, function):
    assert faults_of(function) == []


def test_the_check_finds_a_bare_number_and_a_bare_array():
    source = '''
def gradient_at(curve, at):
    """Slope.

    Parameters
    ----------
    curve : ndarray

    Returns
    -------
    slope : float
    """
'''
    assert faults_of(ast.parse(source).body[0]) == [
        "parameter at is not described",
        "no shape: curve : ndarray",
        "no unit: curve : ndarray",
        "no unit: slope : float",
    ]


@pytest.mark.parametrize("path", python_files(*PACKAGES), ids=short)
def test_public_classes_and_functions_have_a_docstring(path):
    nodes = [node for node in tree_of(path).body if isinstance(node, ast.ClassDef | ast.FunctionDef)]
    bare = [node.name for node in nodes if not node.name.startswith("_") and not ast.get_docstring(node)]
    assert bare == []
