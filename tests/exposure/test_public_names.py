"""Every name of the room of exposure that others may use says what it is."""

from __future__ import annotations

import importlib
import inspect
import pkgutil

import tether.exposure


def public() -> dict[str, object]:
    """Return every public function and class written in the package's modules, by name."""
    package = tether.exposure
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


def test_every_public_name_has_a_docstring() -> None:
    assert len(public()) > 50
    assert [name for name, value in public().items() if not inspect.getdoc(value)] == []
