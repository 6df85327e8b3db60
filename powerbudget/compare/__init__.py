"""Options on equal terms: cost over the years, fuel, visits, emissions.

Package and function share a name in the public API, and importing any module of the
package puts the package in the function's place; so the package can be called too.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import Any


class _Callable(ModuleType):
    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Compare sources of power, as `powerbudget.compare.comparison.compare`."""
        from powerbudget.compare.comparison import compare

        return compare(*args, **kwargs)


sys.modules[__name__].__class__ = _Callable
