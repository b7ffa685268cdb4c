"""The short list that the room of exposure re-exports is neither short of a name nor long by one."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from types import ModuleType

import pytest

import tether.exposure


def defined_in(package: ModuleType) -> dict[str, object]:
    """Return every public function and class written in the package's modules, by name."""
    names = [f"{package.__name__}.{found.name}" for found in pkgutil.iter_modules(package.__path__)]
    modules = [importlib.import_module(name) for name in names]
    return {
        name: value
        for module in modules
        for name, value in vars(module).items()
        if not name.startswith("_")
        and (inspect.isclass(value) or callable(value))
        and getattr(value, "__module__", None) == module.__name__
    }


@pytest.mark.parametrize("package", [tether.exposure])
def test_the_public_list_is_what_the_modules_define(package: ModuleType) -> None:
    defined = defined_in(package)
    assert sorted(defined) == sorted(package.__all__)
    assert all(getattr(package, name) is value for name, value in defined.items())


@pytest.mark.parametrize("package", [tether.exposure])
def test_every_public_name_has_a_docstring(package: ModuleType) -> None:
    assert [name for name, value in defined_in(package).items() if not inspect.getdoc(value)] == []
