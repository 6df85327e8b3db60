"""Compiling the kernel, and keeping what was compiled between two runs.

What is kept is machine code alone, and is called by the addresses of its arrays: to load
and to call it takes the small library that the compiler stands on, and not the compiler,
whose import alone takes longer than a year's run.

A kept file is taken only when it is whole and was made here by the same sources and
versions; every other case compiles anew, and where nothing can be written the run
goes on without keeping.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import os
import platform
import sys
import tempfile
import threading
import warnings
from collections.abc import Callable, Iterator
from functools import cache, cached_property
from importlib.metadata import version
from pathlib import Path
from types import FunctionType
from typing import Any, TypeVar

import llvmlite.binding
import numpy as np

from powerbudget.errors import InputError, PowerBudgetWarning
from powerbudget.files import cache_folder

SOURCES = ("audit.py", "columns.py", "compiled.py", "dispatch.py", "kernel.py")
"""Modules whose text decides what is compiled; constants of one stand in another."""

llvm: Any = llvmlite.binding
DIGEST_BYTES = hashlib.sha256().digest_size
Part = TypeVar("Part", bound=Callable[..., Any])

_parts: set[Callable[..., Any]] = set()
"""Functions that compiled ones call."""
_lock = threading.RLock()
_UNREAD = (ctypes.c_void_p * 1)()
"""Where machine code puts what it returns and what went wrong: nobody reads either."""


def part(function: Part) -> Part:
    """Mark a function as one that compiled ones call; by itself it stays as written."""
    _parts.add(function)
    return function


class Compiled:
    """A function as machine code, while which runs other threads go on.

    Parameters
    ----------
    function
        Of numbers, records, arrays in order of memory, and tuples of them.  It returns
        nothing, and writes its answer to arrays.
    """

    def __init__(self, function: Callable[..., None]) -> None:
        self.function = function
        self.taken_from_kept = 0
        self._ready: dict[Any, Any] = {}

    def __call__(self, *args: Any) -> None:
        """Run it, compiled first where that was not done for such arguments."""
        words: list[Any] = []
        kinds = tuple(_flatten(arg, words) for arg in args)
        if kinds not in self._ready:
            with _lock:
                self._ready[kinds] = self._linked(args, kinds, words)
        run = self._ready[kinds]
        if run is None:
            self._plain(*args)
        elif run(_UNREAD, _UNREAD, *words):
            raise ZeroDivisionError(self.function.__name__)

    @cached_property
    def _plain(self) -> Any:
        """The function by the compiler's public means, which cannot be kept."""
        import numba

        njit: Any = numba.njit
        return njit(nogil=True)(_among_parts(self.function, _jitted))

    def _linked(self, args: Any, kinds: Any, words: list[Any]) -> Any:
        """Return what runs the machine code for these kinds, kept or made.

        None where this version of the compiler does not give it: what `_compile` asks
        is nothing that the compiler promises.
        """
        name = self._name(kinds)
        content = _taken(name)
        if content is None:
            try:
                content = _compile(self.function, args)
            except (AttributeError, ImportError, TypeError, ValueError):
                return None
            _keep(name, content)
        else:
            self.taken_from_kept += 1
        symbol, _, code = content.partition(b"\n")
        return _runner(symbol.decode(), code, words)

    def _name(self, kinds: Any) -> str:
        key = repr((kinds, _processor(), self.function.__code__.co_code))
        key_digest = hashlib.sha256(key.encode()).hexdigest()[:24]
        return f"{self.function.__name__}-{key_digest}"


def _flatten(value: Any, words: list[Any]) -> Any:
    """Append a value word by word as machine code takes it; return its kind."""
    if isinstance(value, np.ndarray):
        if not value.flags.c_contiguous:
            raise TypeError("an array out of order of memory")
        # Two owners, count, bytes of one, its place, shape, bytes to the next.
        words += (0, 0, value.size, value.itemsize, value.ctypes.data)
        words += (*value.shape, *value.strides)
        return value.dtype, value.ndim
    if isinstance(value, np.void):
        words.append(np.frombuffer(value, np.uint8).ctypes.data)
        return value.dtype
    if isinstance(value, tuple):
        return type(value), tuple([_flatten(one, words) for one in value])
    kind = float if isinstance(value, float | np.floating) else int
    words.append(kind(value))
    return kind


def _type(value: Any) -> Any:
    """Return the compiler's type of a value that was flattened."""
    from numba import types
    from numba.np.numpy_support import from_dtype

    known: Any = types
    if isinstance(value, np.ndarray):
        return known.Array(from_dtype(value.dtype), value.ndim, "C")
    if isinstance(value, np.void):
        return from_dtype(value.dtype)
    if isinstance(value, tuple):
        named = type(value) if hasattr(value, "_fields") else None
        return known.BaseTuple.from_types([_type(one) for one in value], named)
    return known.float64 if isinstance(value, float | np.floating) else known.int64


def _compile(function: Callable[..., None], args: Any) -> bytes:
    """Return a function's symbol and its machine code, bare: nothing calls Python."""
    from numba.core import compiler
    from numba.core.registry import cpu_target

    core: Any = compiler
    flags = core.Flags()
    flags.no_cpython_wrapper = flags.no_cfunc_wrapper = True
    of = (cpu_target.typing_context, cpu_target.target_context)
    types = tuple(_type(arg) for arg in args)
    made = core.compile_extra(
        *of, _among_parts(function, _inlined), types, None, flags, {}
    )
    _, _, (code, _) = made.library.serialize_using_object_code()
    return bytes(made.fndesc.llvm_func_name.encode() + b"\n" + code)


def _among_parts(function: Any, put: Callable[[Any], Any]) -> Any:
    """Return a function as written, what it calls in the compiler's hands."""
    scope = dict(function.__globals__)
    for name in function.__code__.co_names:
        called = scope.get(name)
        if isinstance(called, FunctionType) and called in _parts:
            scope[name] = put(called)
    return FunctionType(function.__code__, scope, function.__name__)


@cache
def _jitted(function: Any) -> Any:
    """Return a part for the compiler, by public means alone."""
    import numba

    njit: Any = numba.njit
    return njit(_among_parts(function, _jitted))


@cache
def _inlined(function: Any) -> Any:
    """Return a part for the compiler, that the last stage puts into its callers.

    The first stage can do that too, and then works out types for all of it once more.
    """
    import numba

    bare = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True, "_nrt": False}
    njit: Any = numba.njit
    return njit(forceinline=True, **bare)(_among_parts(function, _inlined))


@cache
def _processor() -> tuple[str, str, str]:
    features = llvm.get_host_cpu_features().flatten()
    return llvm.get_process_triple(), llvm.get_host_cpu_name(), features


def _runner(symbol: str, code: bytes, words: list[Any]) -> Any:
    """Return machine code as a function of words that returns 0 when all went well."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    machine = llvm.Target.from_default_triple().create_target_machine()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    engine.add_object_file(llvm.object_file.ObjectFileRef.from_data(code))
    engine.finalize_object()
    taken = [ctypes.c_double if isinstance(w, float) else ctypes.c_int64 for w in words]
    place = ctypes.POINTER(ctypes.c_void_p)
    kind = ctypes.CFUNCTYPE(ctypes.c_int32, place, place, *taken)
    run: Any = kind(engine.get_function_address(symbol))
    run.engine = engine  # which holds the code
    return run


def _taken(name: str) -> bytes | None:
    """Return what was kept under a name, None where there is none to trust."""
    for folder in _folders():
        # Whatever is wrong with a kept file, it is made anew.
        with contextlib.suppress(Exception):
            return _checked(folder / name)
    return None


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


def _keep(name: str, content: bytes) -> None:
    """Keep machine code in the first folder that takes it."""
    for folder in _folders():
        with contextlib.suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            _write(folder / name, hashlib.sha256(content).digest() + content)
            return
    _remark()


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
    versions = f"{sys.version} {platform.machine()} {version('numba')} "
    found = hashlib.sha256((versions + version("llvmlite")).encode())
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
