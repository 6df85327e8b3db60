"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from powerbudget.errors import Fault, InputError


@contextmanager
def atomic_path(target: Path, endings: set[str] | None = None) -> Iterator[Path]:
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
    if endings is not None and target.suffix.lower() not in endings:
        raise InputError(
            Fault(
                str(target),
                "has an ending that cannot be written",
                target.suffix or "none",
                ", ".join(sorted(endings)),
            )
        )
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=".powerbudget-")
    except OSError as exc:
        raise InputError(
            Fault(str(target), f"cannot be written: {exc.strerror}",
                  advice="name a folder that exists and may be written")
        ) from None  # fmt: skip
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        # mkstemp is private to its owner; a result should be as readable as any file.
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        temporary.replace(target)
    except IsADirectoryError:
        raise InputError(Fault(str(target), "is a folder")) from None
    finally:
        temporary.unlink(missing_ok=True)


def write_text(target: Path, text: str) -> None:
    """Write text whole or not at all [UTF-8]."""
    with atomic_path(target) as temporary:
        temporary.write_text(text, encoding="utf-8")
