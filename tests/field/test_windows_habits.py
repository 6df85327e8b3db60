"""Habits of Windows, as far as they can be had here: names, open files, new processes."""

from __future__ import annotations

import errno
import re
import subprocess
from pathlib import Path

import pytest

from powerbudget import files
from powerbudget.errors import InputError
from powerbudget.fleet import crew

ROOT = Path(__file__).resolve().parents[2]
IMPORTED = re.compile(r"^[ \t]*(?:import|from) +(\w+)", re.MULTILINE)
"""One module a line: the linter allows no more."""
POSIX_ONLY = {"fcntl", "grp", "pwd", "resource", "termios"}


@pytest.mark.parametrize(
    "name", ["con.html", "NUL", "Aux.tar.html", "com1.html", "lpt9"]
)
def test_names_of_devices_are_no_targets(tmp_path, monkeypatch, name):
    """There a page written into `con.html` is gone; here it is a file like others."""
    files.check_target(tmp_path / name)
    target = tmp_path / name
    monkeypatch.setattr(files.os, "name", "nt")
    with pytest.raises(InputError, match="keeps for a device"):
        files.check_target(target)


@pytest.mark.parametrize("name", ["console.html", "com.html", "com0.html", "nulls"])
def test_names_like_those_of_devices_are_free(tmp_path, monkeypatch, name):
    """Only the whole name before the first point counts."""
    target = tmp_path / name
    monkeypatch.setattr(files.os, "name", "nt")
    files.check_target(target)


def test_a_target_that_is_open_elsewhere(tmp_path, monkeypatch):
    """Words, the old file as it was, and nothing left beside it."""
    target = tmp_path / "page.html"
    target.write_text("before", encoding="utf-8")

    def held(*_):
        raise PermissionError(errno.EACCES, "The process cannot access the file")

    monkeypatch.setattr(files.Path, "replace", held)
    with pytest.raises(InputError, match="open in another program"):
        files.write_text(target, "after")
    assert target.read_text("utf-8") == "before"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


def test_a_worker_is_a_program_of_its_own():
    """Nothing is inherited: started with the words alone, it answers a job."""
    found = subprocess.run(
        crew.WORKER,
        input=b'["no-such-site.toml", "a.toml", false]\n',
        capture_output=True, cwd=ROOT, check=True, close_fds=True,
    )  # fmt: skip
    assert b'"file": "a.toml"' in found.stdout
    assert b"no such file" in found.stdout


def test_no_module_that_windows_lacks_is_imported():
    """The program's own modules; what is asked of `os` is asked for first."""
    names = set()
    for path in (ROOT / "powerbudget").rglob("*.py"):
        names |= set(IMPORTED.findall(path.read_text("utf-8")))
    assert "os" in names
    assert not names & POSIX_ONLY
