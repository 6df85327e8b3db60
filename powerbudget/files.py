"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Collection, Iterator
from pathlib import Path

from powerbudget.errors import Fault, InputError

PICTURES = frozenset({".png", ".svg", ".pdf"})
"""File endings that a chart can be written with."""

DEVICES = frozenset(
    {"con", "prn", "aux", "nul"}
    | {f"{port}{number}" for port in ("com", "lpt") for number in range(1, 10)}
)
"""Names that Windows keeps for devices, whatever ending they are given."""

CACHE_VARIABLE = "POWERBUDGET_CACHE"


def cache_folder(kind: str) -> Path:
    """Return the folder in which this user's copies of a kind are kept [path].

    Parameters
    ----------
    kind
        What is kept: ``"weather"`` or ``"kernel"`` [text].

    Returns
    -------
    Path
        Below the folder that `CACHE_VARIABLE` names, or else the user's own [path].

    Raises
    ------
    InputError
        When a user without a home names none.
    """
    told = os.environ.get(CACHE_VARIABLE)
    if told:
        return Path(told).absolute() / kind
    from platformdirs import user_cache_path

    with contextlib.suppress(RuntimeError):
        found = user_cache_path("powerbudget") / kind
        if found.is_absolute():
            return found
    advice = f"set {CACHE_VARIABLE} to a folder that can be written"
    raise InputError(Fault("cache", "has no place: no home folder", advice=advice))


def in_letters(name: str) -> str:
    r"""Return the name of a file in letters that every document can hold [text].

    Parameters
    ----------
    name
        As the system gives it; bytes that are no UTF-8 stand in it as half letters
        [text].

    Examples
    --------
    >>> in_letters("pad-7.toml"), in_letters("pad\udcef.toml")
    ('pad-7.toml', 'pad�.toml')
    """
    return os.fsencode(name).decode("utf-8", "replace")


def check_target(target: Path, endings: Collection[str] | None = None) -> None:
    """Refuse a file that cannot be written, before any long computation.

    Parameters
    ----------
    target
        Where the file is to stand [path].
    endings
        Allowed file endings; any when None [text].

    Raises
    ------
    InputError
        When the ending is not known, or the folder cannot be written to.
    """
    if endings is not None and target.suffix.lower() not in endings:
        raise InputError(
            Fault(
                str(target),
                "has an ending that cannot be written",
                target.suffix or "none",
                ", ".join(sorted(endings)),
            )
        )
    folder = target.parent
    try:
        reason = ""
        if os.name == "nt" and target.name.split(".")[0].strip().lower() in DEVICES:
            reason = "is a name that the system keeps for a device"
        elif target.is_dir():
            reason = "is a folder, not a file"
        elif not folder.is_dir():
            reason = "cannot be written: its folder does not exist"
        elif not os.access(folder, os.W_OK):
            reason = "cannot be written: its folder is read-only"
    except (OSError, ValueError) as exc:
        reason = f"cannot be written: {getattr(exc, 'strerror', None) or exc}"
    if reason:
        advice = "name a file in a folder that exists and may be written"
        raise InputError(Fault(str(target), reason, advice=advice))


@contextlib.contextmanager
def atomic_path(target: Path, endings: Collection[str] | None = None) -> Iterator[Path]:
    """Give a temporary path beside the target and rename it when all went well.

    Parameters
    ----------
    target
        Where the file is to stand.
    endings
        Allowed file endings; any when None.

    Yields
    ------
    Path
        Write here.

    Raises
    ------
    InputError
        When the ending is not known or the folder cannot be written.
    """
    check_target(target, endings)
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=".powerbudget-")
    except OSError as exc:
        raise InputError(_not_written(target, exc)) from None
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        # mkstemp is private to its owner; a result should be as readable as any file.
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        temporary.replace(target)
    except OSError as exc:
        raise InputError(_not_written(target, exc)) from None
    finally:
        temporary.unlink(missing_ok=True)


def _not_written(target: Path, exc: OSError) -> Fault:
    reason = (exc.strerror or str(exc)).lower()
    advice = "is it open in another program, the disk full, or the folder read-only?"
    return Fault(str(target), f"cannot be written: {reason}", advice=advice)


def write_text(target: Path, text: str) -> None:
    """Write text whole or not at all [UTF-8].

    Parameters
    ----------
    target
        Where the file is to stand [path].
    text
        Its contents [text].

    Raises
    ------
    InputError
        When the folder cannot be written.
    """
    with atomic_path(target) as temporary:
        temporary.write_text(text, encoding="utf-8")
