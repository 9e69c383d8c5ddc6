"""The examples in the ledger's docstrings give what they show, and its names are there."""

import doctest
import importlib
import pkgutil

import pytest

from hotface_api import ledger

MODULES = [
    importlib.import_module(found.name)
    for found in pkgutil.iter_modules(ledger.__path__, f"{ledger.__name__}.")
]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_and_names(module):
    assert doctest.testmod(module).failed == 0
    for name in getattr(module, "__all__", ()):
        assert getattr(module, name).__doc__ or isinstance(getattr(module, name), int | tuple | str)


def test_the_entrance_names_what_there_is():
    for line in ledger.__doc__.splitlines():
        if not line.startswith(("- ``", "  ``")):
            continue
        for part in line.split(";"):
            names = [word.strip("`,:") for word in part.split() if word.startswith("``")]
            for name in names:
                held = any(hasattr(module, name) for module in MODULES)
                assert held or any(m.__name__.endswith(f".{name}") for m in MODULES), name
