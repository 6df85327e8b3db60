"""Standard streams that are closed, full or of few letters, made fit to write to.

An answer that cannot be written ends the run; a remark that cannot be written does not,
and must not turn "criteria met" into another exit code.
"""

from __future__ import annotations

import contextlib
import errno
import io
import os
import sys
from typing import Any, TextIO


class UnwrittenError(Exception):
    """The answer could not be written; the reason is its cause.

    Not an `OSError`: the library of the command line ends with exit code 1 on one of
    those, which says that criteria are not met.
    """


class _Sink(io.RawIOBase):
    """Passes bytes on; what cannot be passed is lost or raises `UnwrittenError`."""

    def __init__(self, inner: Any, *, lossy: bool) -> None:
        self._inner, self._lossy = inner, lossy

    def writable(self) -> bool:
        """Return that it can be written to."""
        return True

    def isatty(self) -> bool:
        """Return whether a person reads along."""
        return self._inner is not None and bool(self._inner.isatty())

    def fileno(self) -> int:
        """Return the number of the stream below."""
        if self._inner is None:
            raise io.UnsupportedOperation("fileno")
        return int(self._inner.fileno())

    def write(self, data: Any, /) -> int | None:
        """Write, or lose, or raise."""
        try:
            return self._passed(data)
        except OSError as exc:
            if self._lossy:
                return memoryview(data).nbytes
            raise UnwrittenError from exc

    def _passed(self, data: Any) -> int:
        if self._inner is None:
            raise OSError(errno.EBADF, "standard output is closed")
        return int(self._inner.write(data) or 0)


def make_fit() -> None:
    """Put streams in place that hold what the two above promise."""
    # A file opened later must not get the number of a standard stream that is closed.
    with contextlib.suppress(OSError):
        while (number := os.open(os.devnull, os.O_RDWR)) <= 2:
            pass
        os.close(number)
    if sys.stdin is None:
        sys.stdin = io.StringIO()
    sys.stdout = _fit(sys.stdout, lossy=False)
    sys.stderr = _fit(sys.stderr, lossy=True)


def _fit(stream: TextIO | None, *, lossy: bool) -> TextIO:
    buffer = getattr(stream, "buffer", None)
    # Without buffering, as an environment may ask, the raw stream stands there.
    inner = buffer if isinstance(buffer, io.RawIOBase) else getattr(buffer, "raw", None)
    if stream is not None and inner is None:  # captured by a test or a notebook
        return stream
    return io.TextIOWrapper(
        io.BufferedWriter(_Sink(inner, lossy=lossy)),
        encoding=getattr(stream, "encoding", None) or "utf-8",
        # A terminal without a letter shows a question mark in its place.
        errors="replace",
        line_buffering=lossy or (inner is not None and inner.isatty()),
    )


def give_up_output() -> None:
    """Let what is left of the answer go nowhere, so that the end raises nothing."""
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    sys.stdout = io.StringIO()
