"""Compiling the kernel, and keeping what was compiled between two runs.

A kept file is taken only when it is whole and was made here by the same sources and
versions; every other case compiles anew, and where nothing can be written the run
goes on without keeping.  The compiler's own keeping asks for less: it stops on a
damaged file and on a folder that cannot be written, and overlooks a change in a module
that is inlined.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import pickle
import platform
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, Literal

import llvmlite
import numba
from numba.core.caching import NullCache
from numba.core.compiler import CompileResult
from numba.core.runtime.nrt import rtsys
from numba.core.serialize import dumps

from powerbudget.errors import InputError, PowerBudgetWarning
from powerbudget.files import cache_folder

SOURCES = ("audit.py", "columns.py", "compiled.py", "dispatch.py", "kernel.py")
"""Modules whose text decides what is compiled; constants of one stand in another."""

DIGEST_BYTES = hashlib.sha256().digest_size


def njit(
    *, inline: Literal["never", "always"] = "never", nogil: bool = False
) -> Callable[[Any], Any]:
    """Compile a function when it is first called, and keep the result.

    Parameters
    ----------
    inline, nogil
        As the compiler takes them: ``"always"`` puts the function into its callers, and
        ``nogil`` lets several runs share the processor.

    Returns
    -------
    callable
        What turns a function into its compiled self.
    """

    def decorate(function: Any) -> Any:
        made: Any = numba.njit(inline=inline, nogil=nogil)(function)
        made._cache = KeptCode(function)  # noqa: SLF001 - no public way to keep elsewhere
        return made

    return decorate


class KeptCode(NullCache):
    """Compiled forms of one function on disk, one file for each set of argument types."""

    def __init__(self, function: Any) -> None:
        self._function = function

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Return the kept form for these types, None where there is none to trust."""
        # What the compiler would look up besides is for compiling alone, and takes
        # longer than a year's run.
        rtsys.initialize(target_context)
        name = self._name(sig, target_context.codegen())
        rebuild: Any = CompileResult._rebuild  # noqa: SLF001 - as the compiler keeps
        for folder in _folders():
            # Whatever is wrong with a kept file, it is made anew.
            with contextlib.suppress(Exception):
                kept = pickle.loads(_checked(folder / name))  # noqa: S301 - own, checked
                return rebuild(target_context, *kept)
        return None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep a compiled form in the first folder that takes it."""
        pickled: Any = dumps
        content: bytes = pickled(data._reduce())  # noqa: SLF001
        name = self._name(sig, data.codegen)
        for folder in _folders():
            with contextlib.suppress(OSError):
                folder.mkdir(parents=True, exist_ok=True, mode=0o700)
                _write(folder / name, hashlib.sha256(content).digest() + content)
                return
        _remark()

    def _name(self, sig: Any, codegen: Any) -> str:
        key = repr((sig, codegen.magic_tuple(), self._function.__code__.co_code))
        key_digest = hashlib.sha256(key.encode()).hexdigest()[:24]
        return f"{self._function.__name__}-{key_digest}"


def _checked(path: Path) -> bytes:
    """Return what was kept, the digest in front of it taken off."""
    if not _own(path) or not path.is_file():
        raise ValueError(path)
    content = path.read_bytes()
    if hashlib.sha256(content[DIGEST_BYTES:]).digest() != content[:DIGEST_BYTES]:
        raise ValueError(path)
    return content[DIGEST_BYTES:]


def _own(path: Path) -> bool:
    """Return whether file and folder belong to this user: what is in them is run."""
    if not hasattr(os, "geteuid"):
        return True
    found = (path.lstat(), path.parent.lstat())
    return all(f.st_uid == os.geteuid() and not f.st_mode & 0o022 for f in found)


def _write(path: Path, content: bytes) -> None:
    """Put a file in place at once: another process reads the old one or the new one."""
    if hasattr(os, "geteuid") and path.parent.lstat().st_uid != os.geteuid():
        raise PermissionError(path)
    handle, partial = tempfile.mkstemp(dir=path.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(partial).replace(path)
    except OSError:
        Path(partial).unlink(missing_ok=True)
        raise


def _folders() -> Iterator[Path]:
    """Yield where compiled code may be kept: the user's cache, then the temporary one."""
    with contextlib.suppress(InputError, OSError):
        yield cache_folder("kernel") / _stamp()
    with contextlib.suppress(OSError):
        user = os.geteuid() if hasattr(os, "geteuid") else "user"
        yield Path(tempfile.gettempdir()) / f"powerbudget-{user}-{_stamp()}"


@cache
def _stamp() -> str:
    """Return what tells compiled code of one version from that of every other."""
    versions = f"{sys.version} {platform.machine()} {numba.__version__} "
    found = hashlib.sha256((versions + llvmlite.__version__).encode())
    for source in SOURCES:
        found.update(Path(__file__).with_name(source).read_bytes())
    return found.hexdigest()[:24]


@cache
def _remark() -> None:
    warnings.warn(
        "The compiled kernel cannot be kept: no cache folder is writable. Each "
        "run compiles it again, which takes seconds. Set POWERBUDGET_CACHE to a "
        "writable folder.",
        PowerBudgetWarning,
        stacklevel=2,
    )
