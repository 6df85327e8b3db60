"""The one door through which files of the user's are read.

Only regular files pass, and none beyond its limit: a pipe or a device behind a name
would hold the run for ever or fill the memory.
"""

from __future__ import annotations

import errno
import glob
import os
import stat
from dataclasses import replace
from pathlib import Path

from powerbudget.errors import Fault, InputError
from powerbudget.quantities import in_unit

PAGE_BYTES = 2_000_000
"""Limit of what people write: site, claims, parts, mapping, horizon [byte]."""
TABLE_BYTES = 200_000_000
"""Limit of what machines write: weather, logs, lists [byte]."""
MOST_FILES = 2000
PATTERN_MARKS = "*?["
_MB = 1_000_000
_KINDS = (
    (stat.S_ISDIR, "is a folder, not a file"),
    (stat.S_ISFIFO, "is a pipe, not a file"),
    (stat.S_ISCHR, "is a device, not a file"),
    (stat.S_ISBLK, "is a device, not a file"),
    (stat.S_ISSOCK, "is a socket, not a file"),
)
_REASONS = {
    errno.ENOENT: "no such file",
    errno.ENOTDIR: "no such file",
    errno.ELOOP: "is a link that leads round in a circle",
    errno.EAGAIN: "has nothing to give",
}


def why_not(path: Path) -> str:
    """Return why a path is no file that can be read, empty where it is [text].

    Examples
    --------
    >>> why_not(Path("no-such-file")), why_not(Path("."))
    ('no such file', 'is a folder, not a file')
    """
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError) as exc:
        return _reason(exc)
    if stat.S_ISREG(mode):
        return ""
    return next((words for is_it, words in _KINDS if is_it(mode)), "is no file")


def read_bytes(path: Path, most_bytes: int, fault: Fault) -> bytes:
    """Return the content of a regular file within a limit.

    Parameters
    ----------
    path
        The file [path].
    most_bytes
        How large it may be [byte].
    fault
        What to raise, its problem left open: where, given, allowed, advice.

    Returns
    -------
    bytes
        All of it.

    Raises
    ------
    InputError
        When it is not there, no regular file, too large or cannot be read.
    """
    problem = why_not(path)
    if not problem:
        try:
            return _content(path, most_bytes)
        except (OSError, ValueError) as exc:
            problem = _reason(exc)
    raise InputError(replace(fault, problem=problem))


def read_text(path: Path, most_bytes: int, fault: Fault) -> str:
    """Return the text of a regular file, UTF-8 with or without its mark [text].

    Parameters
    ----------
    path, most_bytes, fault
        As for `read_bytes`.

    Returns
    -------
    str
        Lines end in a line feed alone.

    Raises
    ------
    InputError
        As `read_bytes` does, and with the line that is not UTF-8.
    """
    content = read_bytes(path, most_bytes, fault)
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as exc:
        line = content.count(b"\n", 0, exc.start) + 1
    problem = f"is not UTF-8 text (line {line})"
    raise InputError(replace(fault, problem=problem, advice="save it as UTF-8"))


def matching(folder: Path, pattern: str) -> list[Path]:
    """Return the files that a name or a pattern names, sorted [paths].

    Parameters
    ----------
    folder
        Where to look; signs in its own name mean themselves [path].
    pattern
        A path, or one with ``*``, ``?`` or ``[...]`` [text].

    Returns
    -------
    list of Path
        The path itself where it has no such sign or is there as written; none where
        nothing matches.

    Raises
    ------
    InputError
        When more than `MOST_FILES` match.
    """
    path = folder / pattern
    if not any(mark in pattern for mark in PATTERN_MARKS) or os.path.lexists(path):
        return [path]
    names = glob.glob(pattern, root_dir=folder)  # noqa: PTH207 - may be absolute
    if len(names) > MOST_FILES:
        problem, allowed = "matches too many files", f"at most {MOST_FILES:,}"
        raise InputError(Fault(pattern, problem, f"{len(names):,}", allowed))
    return sorted(folder / name for name in names)


def _content(path: Path, most_bytes: int) -> bytes:
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    with os.fdopen(os.open(path, flags), "rb") as stream:
        # Looked at again once it is open: a name can change hands in between.
        if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
            raise OSError(errno.ENOENT, "")
        content = stream.read(most_bytes + 1)
    if content is None:
        raise BlockingIOError(errno.EAGAIN, "")
    if len(content) > most_bytes:
        raise ValueError(f"is larger than {in_unit(most_bytes / _MB, 'MB')}")
    return content


def _reason(exc: OSError | ValueError) -> str:
    if not isinstance(exc, OSError):
        text = str(exc)
        return text if text.startswith("is larger") else "is no name of a file"
    known = _REASONS.get(exc.errno or 0)
    return known or f"cannot be read: {(exc.strerror or str(exc)).lower()}"
