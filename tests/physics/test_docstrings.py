"""Docstrings are data: every formula says units, range, source and one worked example."""

import ast
import inspect
import re
from importlib import import_module
from pkgutil import iter_modules

import pytest

import percell.physics

UNITS = {
    "v": "V",
    "a": "A",
    "ohm": "ohm",
    "w": "W",
    "wh": "Wh",
    "ah": "Ah",
    "s": "s",
    "c": "°C",
    "k": "K",
    "m": "m",
    "mm": "mm",
    "kg": "kg",
    "m2": "m2",
}
# functions that are no formulas
HELPERS = {"as_given", "certain", "is_array", "read_data", "somewhere"}
FORMULAS = [
    function
    for module in iter_modules(percell.physics.__path__)
    for name, function in inspect.getmembers(
        import_module(f"percell.physics.{module.name}"), inspect.isfunction
    )
    if function.__module__ == f"percell.physics.{module.name}"
    if not name.startswith("_") and name not in HELPERS
]


def section(doc: str, title: str) -> str:
    match = re.search(rf"^{title}:\n((?:    .*\n|\n)+)", doc + "\n", re.MULTILINE)
    assert match, f"no {title}: section"
    return match[1]


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_formula_is_documented(formula):
    """Each argument is described with its unit and range, and the source and an example are there."""
    doc = inspect.getdoc(formula)
    assert doc.startswith("Return the "), doc.splitlines()[0]
    described = dict(
        re.findall(r"^    (\w+): ((?:.*)(?:\n {8}.*)*)", section(doc, "Args"), re.MULTILINE)
    )
    parameters = inspect.signature(formula).parameters
    assert list(described) == list(parameters)
    assert all(p.kind is p.KEYWORD_ONLY for p in parameters.values())
    for name, text in described.items():
        suffix = name.rsplit("_", 1)[-1]
        unit = UNITS.get(suffix, "")
        assert re.search(rf"\[{unit or '[^]]+'}\]", text), f"{name}: no unit"
        assert re.search(r"[<>=]|\d|finite|any", text.split("]", 1)[1]), f"{name}: no range"
    unit = UNITS.get(formula.__name__.rsplit("_", 1)[-1], "")
    assert re.search(rf"\[{unit or '[^]]+'}\]", section(doc, "Returns"))
    assert section(doc, "Source").strip()
    assert ">>> " in doc
    if any(isinstance(node, ast.Raise) for node in ast.walk(ast.parse(inspect.getsource(formula)))):
        assert section(doc, "Raises").strip()
