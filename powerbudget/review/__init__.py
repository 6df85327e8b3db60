"""A vendor's claim against the site: rebuilt, judged, and what would make it true.

Package and function share a name in the public API, and importing any module of the
package puts the package in the function's place; so the package can be called too.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import Any


class _Callable(ModuleType):
    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Judge claims, as `powerbudget.review.reviewer.review`."""
        from powerbudget.review.reviewer import review

        return review(*args, **kwargs)


sys.modules[__name__].__class__ = _Callable
