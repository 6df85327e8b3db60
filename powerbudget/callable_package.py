"""A package that can be called, where a public function bears its name.

Importing any module of such a package puts the package in the function's place in
`powerbudget`; so the package answers as the function would.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import Any


class CallablePackage(ModuleType):
    """A package whose call is that of its function of the same name."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Return what the function of the package's name returns."""
        name = self.__name__.rpartition(".")[2]
        home = import_module(f"{self.__name__}.{self.HOME}")
        return getattr(home, name)(*args, **kwargs)


def make_callable(package: str) -> None:
    """Let a package be called; its ``HOME`` names the module of the function.

    Parameters
    ----------
    package
        ``__name__`` of the package [text].
    """
    sys.modules[package].__class__ = CallablePackage
