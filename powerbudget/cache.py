"""What was worked out once, kept by the content of what it was worked out from.

A stage of the simulation names what it reads; equal content, from whatever file or
object, gives the same answer without working it out again.  Memory is bounded by
bytes: what was not asked for longest goes first.
"""

from __future__ import annotations

import struct
import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from hashlib import blake2b
from pathlib import PurePath
from typing import Any, TypeVar

import numpy as np
from pydantic import BaseModel

T = TypeVar("T")
LIMIT_BYTES = 224 * 2**20
"""Room for what is kept: two 18-year sites with their skies, or twenty
records of a year [byte]."""
_KEY = "_made_from"

_arrays: dict[int, tuple[weakref.ref[Any], bytes]] = {}


def digest(*things: Any) -> bytes:
    """Return a fingerprint of the content of some values, equal for equal content.

    Parameters
    ----------
    things
        Numbers, text, paths, None, arrays, tables of the site file, dataclasses, and
        tuples, lists, sets and mappings of them.

    Returns
    -------
    bytes
        BLAKE2b, 20 bytes: equal by chance once in 2**80 values.

    Raises
    ------
    TypeError
        For anything else: what cannot be compared cannot be a key.

    Notes
    -----
    An array that cannot be written to is read once and remembered, and what a stage
    made is known by what it was made from.

    References
    ----------
    M-J. Saarinen & J-P. Aumasson, RFC 7693, The BLAKE2 cryptographic hash, 2015.

    Examples
    --------
    >>> digest(1.0, "a") == digest(1.0, "a"), digest(1.0) == digest(1)
    (True, False)
    """
    found = blake2b(digest_size=20)
    for thing in things:
        _read(thing, found.update)
    return found.digest()


class Shelf:
    """Room for so many bytes of answers, the one not asked for longest leaves first.

    Parameters
    ----------
    limit_bytes
        Room, counted by the arrays in the answers [byte].
    """

    def __init__(self, limit_bytes: int = LIMIT_BYTES) -> None:
        self.limit_bytes = limit_bytes
        self.held_bytes = 0
        self._lock = threading.RLock()
        self._answers: OrderedDict[bytes, tuple[Any, int]] = OrderedDict()

    def kept(self, name: str, reads: tuple[Any, ...], make: Callable[[], T]) -> T:
        """Return what a stage makes of its input, worked out only where not at hand.

        Parameters
        ----------
        name
            The stage [text].
        reads
            Everything that it reads.
        make
            The stage, called without arguments.

        Returns
        -------
        object
            Its arrays cannot be written to, as others hold them too.

        Notes
        -----
        What alone takes more than the room is handed back and not kept.
        """
        key = digest(name, reads)
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                found: T = self._answers[key][0]
                return found
        # Without the lock: two threads may do the same work, and either will do.
        value = make()
        self._put(key, value, _seal(value, key))
        return value

    def forget(self) -> None:
        """Drop everything."""
        with self._lock:
            self._answers.clear()
            self.held_bytes = 0

    def _put(self, key: bytes, value: Any, size: int) -> None:
        with self._lock:
            if key not in self._answers and size <= self.limit_bytes:
                self._answers[key] = (value, size)
                self.held_bytes += size
            while self.held_bytes > self.limit_bytes:
                self.held_bytes -= self._answers.popitem(last=False)[1][1]


def sealed(values: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Return an array through which nobody can write, the same memory [any unit]."""
    if values.flags.writeable:
        values = values.view()
        values.flags.writeable = False
    return values


def _read(thing: Any, update: Callable[[bytes], None]) -> None:
    """Feed a value into a fingerprint, its type and length first."""
    if isinstance(thing, float):
        update(b"f" + struct.pack("<d", thing))
    elif thing is None or isinstance(thing, bool | int | str | bytes | PurePath):
        _head(update, type(thing).__name__, repr(thing))
    elif isinstance(thing, np.ndarray | np.generic):
        update(_array_digest(np.asarray(thing)))
    elif isinstance(thing, BaseModel):
        _read_pairs(type(thing).__name__, vars(thing), update)
    elif is_dataclass(thing) and not isinstance(thing, type):
        _read_dataclass(thing, update)
    elif isinstance(thing, Mapping):
        _read_pairs("mapping", thing, update)
    else:
        _read_row(thing, update)


def _read_row(thing: Any, update: Callable[[bytes], None]) -> None:
    if isinstance(thing, set | frozenset):
        thing = sorted(digest(part) for part in thing)
    elif not isinstance(thing, tuple | list):
        raise TypeError(f"no hash of {type(thing).__name__}")
    _head(update, type(thing).__name__, str(len(thing)))
    for part in thing:
        _read(part, update)


def _head(update: Callable[[bytes], None], kind: str, text: str) -> None:
    update(f"{kind}:{len(text)}:{text};".encode())


def _read_pairs(
    kind: str, pairs: Mapping[Any, Any], update: Callable[[bytes], None]
) -> None:
    _head(update, kind, str(len(pairs)))
    for name in sorted(pairs, key=str):
        _read(name, update)
        _read(pairs[name], update)


def _read_dataclass(thing: Any, update: Callable[[bytes], None]) -> None:
    made_from = vars(thing).get(_KEY) if hasattr(thing, "__dict__") else None
    if made_from is not None:
        update(made_from)
        return
    pairs = {field.name: getattr(thing, field.name) for field in fields(thing)}
    _read_pairs(type(thing).__name__, pairs, update)


def _array_digest(values: np.ndarray[Any, Any]) -> bytes:
    """Return the fingerprint of an array; one that is sealed is read once."""
    fixed = not values.flags.writeable
    if fixed and id(values) in _arrays and _arrays[id(values)][0]() is values:
        return _arrays[id(values)][1]
    # A record by the names of its fields too: `dtype.str` tells only its bytes.
    head = f"{values.dtype.descr}{values.shape}"
    found = blake2b(head.encode(), digest_size=20)
    plain = np.ascontiguousarray(values)
    found.update(plain.view(np.uint8).data if plain.size else b"")
    key = found.digest()
    if fixed:
        at = id(values)

        def gone(_: Any) -> None:
            _arrays.pop(at, None)

        _arrays[at] = (weakref.ref(values, gone), key)
    return key


def _seal(value: Any, key: bytes | None = None) -> int:
    """Bar writing to every array of a value, and return the bytes of them all."""
    if isinstance(value, np.ndarray):
        value.flags.writeable = False
        return int(value.nbytes)
    if isinstance(value, tuple | list):
        return sum(_seal(part) for part in value)
    if isinstance(value, Mapping):
        return sum(_seal(part) for part in value.values())
    if not is_dataclass(value) or isinstance(value, type):
        return 0
    if key is not None and hasattr(value, "__dict__"):
        object.__setattr__(value, _KEY, key)
    return sum(_seal(getattr(value, field.name)) for field in fields(value))


SHELF = Shelf()
"""What this process keeps."""
kept = SHELF.kept
