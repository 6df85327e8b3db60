"""Late imports of the photovoltaics library, which is heavy and carries no types.

Its packages import everything that is in them, services and statistics included, which
takes longer than a year's simulation.  Here a package starts empty and takes in what is
asked of it; who imports it first elsewhere finds it whole.  What its modules import and
a year's simulation never calls is imported when it is called.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from importlib.util import find_spec, module_from_spec
from pkgutil import iter_modules
from threading import RLock
from types import ModuleType
from typing import Any

SELDOM = ("pandas", "scipy.interpolate", "scipy.optimize")
"""Packages of which pvlib's modules want a few names, and use them seldom."""
_TURN = RLock()


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


class _Named:
    """A function or class of a package that is imported when one of them is used."""

    def __init__(self, package: str, name: str) -> None:
        self.__package, self.__name = package, name

    def __real(self) -> Any:
        return getattr(import_module(self.__package), self.__name)

    def __call__(self, *args: Any, **options: Any) -> Any:
        return self.__real()(*args, **options)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.__real(), name)

    def __instancecheck__(self, thing: Any) -> bool:
        # Nobody can hand in what its library has not made.
        return self.__package in sys.modules and isinstance(thing, self.__real())


class _Later(ModuleType):
    """A package whose names can be had without importing it."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return _Named(self.__name__, name)


@contextmanager
def _seldom_later() -> Iterator[None]:
    """Let what is imported meanwhile find the names of packages that come later."""
    with _TURN:
        stands_in = {name: _Later(name) for name in SELDOM if name not in sys.modules}
        sys.modules.update(stands_in)
        try:
            yield
        finally:
            for name in stands_in:
                del sys.modules[name]


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
    full = f"pvlib.{name}"
    if full not in sys.modules:
        with _seldom_later():
            return import_module(full)
    return sys.modules[full]
