"""Late imports of the photovoltaics library, which is heavy and carries no types."""

from __future__ import annotations

from importlib import import_module
from typing import Any


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
    return import_module(f"pvlib.{name}")
