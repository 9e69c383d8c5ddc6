"""Every public formula says units, errors and validity, and its examples run."""

import doctest
import importlib
import inspect

import pytest

from hotface_api import science

MODULES = [
    importlib.import_module(f"{science.__name__}.{name}")
    for name in [
        "_arrays",
        "_beds",
        "_bounds",
        "_ensemble",
        "_pairs",
        "_rules",
        "accounting",
        "conductivity",
        "densities",
        "elastic",
        "expansion",
        "fluids",
        "heat",
        "hydrates",
        "inverse",
        "pores",
        "sampling",
        "statistics",
        "strength",
        "structures",
    ]
]


def public_functions():
    for module in MODULES:
        short = module.__name__.rsplit(".", 1)[1]
        for name, function in inspect.getmembers(module, inspect.isfunction):
            offered = name in getattr(module, "__all__", [])
            own = function.__module__ == module.__name__ and not name.startswith("_")
            if not short.startswith("_") and (offered or own):
                yield pytest.param(function, id=f"{short}.{name}")


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_give_what_they_show(module):
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("function", list(public_functions()))
def test_docstring_has_its_sections(function):
    text = inspect.getdoc(function)
    assert "Returns\n" in text
    parameters = inspect.signature(function).parameters
    assert not parameters or "Parameters\n" in text
    for name in parameters:
        assert name in text
    assert "raise ValueError" not in inspect.getsource(function) or "Raises\n" in text
