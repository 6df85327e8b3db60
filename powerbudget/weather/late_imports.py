"""Late imports of the photovoltaics library, which is heavy and carries no types.

Its packages import everything that is in them, services and statistics included, which
takes longer than a year's simulation.  Here a package starts empty and takes in what is
asked of it; who imports it first elsewhere finds it whole.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.util import find_spec, module_from_spec
from pkgutil import iter_modules
from types import ModuleType
from typing import Any


class _Bare(ModuleType):
    """A package that has not been run; what is asked of it is brought in."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") and name != "__version__":
            raise AttributeError(name)
        full = f"{self.__name__}.{name}"
        if name != "__version__" and find_spec(full) is not None:
            return import_module(full)
        self.__class__ = ModuleType  # type: ignore[assignment]
        assert self.__spec__ is not None
        assert self.__spec__.loader is not None
        self.__spec__.loader.exec_module(self)
        return getattr(self, name)


def _lay_bare(name: str) -> None:
    """Put a package and those in it among the imported ones, none of them run."""
    spec = find_spec(name)
    assert spec is not None
    found = module_from_spec(spec)
    found.__class__ = _Bare
    sys.modules[name] = found
    for inner in iter_modules(found.__path__):
        if inner.ispkg:
            _lay_bare(f"{name}.{inner.name}")
            setattr(found, inner.name, sys.modules[f"{name}.{inner.name}"])


def pvlib_module(name: str) -> Any:
    """Return a module of pvlib, imported on first use [module].

    Parameters
    ----------
    name
        Its name within pvlib, such as ``"solarposition"`` [text].

    Returns
    -------
    module
        The module, untyped [module].
    """
    if "pvlib" not in sys.modules:
        _lay_bare("pvlib")
    return import_module(f"pvlib.{name}")
