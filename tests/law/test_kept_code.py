"""The compiled kernel is kept, never trusted when damaged, and never in the way."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from powerbudget.balance import compiled
from powerbudget.errors import PowerBudgetWarning

ROOT = Path(__file__).resolve().parents[2]


@compiled.part
def _twice(value):
    return 2.0 * value


def _double(value, out):
    out[0] = _twice(value)


@pytest.fixture
def folders(tmp_path, monkeypatch):
    """Give a user's cache folder and a temporary one, and forget what was found."""
    monkeypatch.setenv("POWERBUDGET_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(compiled.tempfile, "gettempdir", lambda: str(tmp_path / "tmp"))
    compiled._stamp.cache_clear()
    compiled._remark.cache_clear()
    yield tmp_path
    compiled._stamp.cache_clear()


def _hits(function=_double):
    """Compile and call anew; return how often the kept form was taken."""
    made, out = compiled.Compiled(function), np.zeros(1)
    made(3.0, out)
    assert out[0] == 2.0 * 3.0
    return made.taken_from_kept


def _kept(folder):
    return [path for path in folder.rglob("*") if path.is_file()]


def test_what_was_compiled_is_kept(folders):
    """The second time takes the first one's code, from a folder of this user alone."""
    assert _hits() == 0
    assert _hits() == 1
    (path,) = _kept(folders / "cache")
    assert path.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    "damage",
    [
        lambda p: p.write_bytes(b""),
        lambda p: p.write_bytes(p.read_bytes()[:-9]),
        lambda p: p.write_bytes(p.read_bytes()[:-1] + b"?"),
        lambda p: p.write_bytes(b"\0" * 5000),
        lambda p: p.chmod(0o666),
        lambda p: (p.unlink(), p.symlink_to("/dev/zero")),
        lambda p: (p.unlink(), os.mkfifo(p)),
    ],
    ids=["empty", "short", "one byte", "zeros", "open to all", "device", "fifo"],
)
def test_a_damaged_file_is_made_anew(folders, damage):
    """No damage stops a run, none is taken for code, and the next run finds it whole."""
    _hits()
    (path,) = _kept(folders / "cache")
    damage(path)
    assert _hits() == 0
    assert _hits() == 1


@pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.99])
def test_one_changed_byte_anywhere_is_seen(folders, share):
    """Machine code with a changed byte may run and be wrong, or end the process."""
    _hits()
    (path,) = _kept(folders / "cache")
    content = bytearray(path.read_bytes())
    assert compiled._checked(path) == content[compiled.DIGEST_BYTES :]
    content[int(share * len(content))] ^= 1
    path.write_bytes(content)
    with pytest.raises(ValueError, match="cache"):
        compiled._checked(path)


def test_a_folder_in_the_place_of_a_file_goes_to_the_next_place(folders):
    """Where the file cannot be put, the temporary folder takes it."""
    _hits()
    (path,) = _kept(folders / "cache")
    path.unlink()
    path.mkdir()
    assert _hits() == 0
    assert _hits() == 1
    assert _kept(folders / "tmp")


def test_another_version_is_not_taken(folders, monkeypatch):
    """Neither another compiler's code nor that of other sources is run."""
    _hits()
    monkeypatch.setattr(compiled, "version", lambda _: "0.0.1")
    compiled._stamp.cache_clear()
    assert _hits() == 0


def test_a_change_in_any_source_is_seen(folders, monkeypatch, tmp_path):
    """Constants and inlined functions stand in modules beside the kernel."""
    stamps = set()
    for name in compiled.SOURCES:
        (tmp_path / name).write_text("a", encoding="utf-8")
    monkeypatch.setattr(compiled, "__file__", str(tmp_path / "compiled.py"))
    for name in ("", *compiled.SOURCES):
        if name:
            (tmp_path / name).write_text("b", encoding="utf-8")
        compiled._stamp.cache_clear()
        stamps.add(compiled._stamp())
    assert len(stamps) == 1 + len(compiled.SOURCES)


def test_the_sources_are_what_the_kernel_imports():
    """A module that kernel or audit begins to import cannot be forgotten."""
    seen, todo = set(), ["kernel", "audit"]
    while todo:
        name = todo.pop()
        seen.add(f"{name}.py")
        text = (ROOT / "powerbudget" / "balance" / f"{name}.py").read_text("utf-8")
        for node in ast.walk(ast.parse(text)):
            module = getattr(node, "module", None) or ""
            inside = module.removeprefix("powerbudget.balance.")
            if inside != module and f"{inside}.py" not in seen:
                todo.append(inside)
    assert seen == set(compiled.SOURCES)


def test_arguments_reach_the_machine_code_as_they_are():
    """Every kind of argument is read where it stands, and written there."""
    numbers, row = (
        np.arange(6.0).reshape(2, 3),
        np.zeros(1, [("a", float), ("b", float)]),
    )
    pair = (np.array([7, 8]), (np.float64(0.5), True, -3))
    out = np.zeros(6)
    _each(numbers[1:], row[0], pair, out)
    assert out.tolist() == [3.0 + 4.0 + 5.0, 1.0, 8.0, 0.5, 1.0, -3.0]
    assert row["b"][0] == numbers[1, 2]
    _each(numbers[:1].astype(np.float32), row[0], pair, out)
    assert out[0] == 0.0 + 1.0 + 2.0
    with pytest.raises(TypeError, match="order of memory"):
        _each(numbers[:, 1:], row[0], pair, out)
    with pytest.raises(ZeroDivisionError):
        _quotient(0.0, out)


@compiled.Compiled
def _each(numbers, row, pair, out):
    whole, (part, flag, count) = pair
    out[0], out[1] = numbers[0].sum(), numbers.shape[0]
    out[2], out[3], out[4], out[5] = whole[1], part, flag, count
    row.b = numbers[0, 2]


@compiled.Compiled
def _quotient(by, out):
    out[0] = 1.0 / by


def test_a_kept_kernel_runs_without_the_compiler():
    """Importing the compiler takes longer than a year's run."""
    words = [sys.executable, "-m", "powerbudget", "run", "sites/hot-valve-site.toml"]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run(words, cwd=ROOT, env=env, stdout=subprocess.DEVNULL, check=True)
    words[1:3] = ["-X", "importtime", "-m", "powerbudget"]
    done = subprocess.run(words, cwd=ROOT, env=env, capture_output=True, check=True)
    imported = {line.split()[-1] for line in done.stderr.splitlines()}
    assert b"llvmlite.binding" in imported
    assert b"numba" not in imported


def test_a_compiler_that_gives_no_code_is_asked_by_its_public_means(monkeypatch):
    """Another version of it may have other insides: a run is slower to begin, not over."""

    def gone(*_):
        raise AttributeError("serialize_using_object_code")

    monkeypatch.setattr(compiled, "_compile", gone)
    monkeypatch.setattr(compiled, "_taken", lambda _: None)
    made, out = compiled.Compiled(_double), np.zeros(1)
    for value in (3.0, 4.0):
        made(value, out)
        assert out[0] == 2.0 * value
    assert not made.taken_from_kept


def test_without_a_place_it_runs_and_says_so_once(folders):
    """Nothing writable is a remark, not a fault."""
    for name in ("cache", "tmp"):
        (folders / name).write_text("in the way", encoding="utf-8")
    with pytest.warns(PowerBudgetWarning, match="POWERBUDGET_CACHE") as said:
        _hits()
    assert len(said) == 1
    assert _hits() == 0


def test_a_user_without_a_home_has_the_temporary_folder(folders, monkeypatch):
    """A folder named ~ is not made in the working folder."""
    monkeypatch.chdir(folders)
    monkeypatch.delenv("POWERBUDGET_CACHE")
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(os.path, "expanduser", lambda path: path)
    _hits()
    assert _hits() == 1
    assert not (folders / "~").exists()
    assert _kept(folders / "tmp")


def test_code_that_somebody_else_put_there_is_not_run(folders, monkeypatch):
    """In a shared temporary folder another user's file is left alone."""
    _hits()
    monkeypatch.setattr(os, "geteuid", lambda: 12345)
    (folders / "tmp").write_text("in the way", encoding="utf-8")
    with pytest.warns(PowerBudgetWarning):
        taken = _hits()
    assert taken == 0


MANY = """
import numpy as np
from powerbudget.balance.compiled import Compiled
@Compiled
def triple(value, out):
    out[0] = 3 * value
out = np.zeros(1)
triple(2, out)
assert out[0] == 6
print(triple.taken_from_kept)
"""


def test_several_processes_at_once(tmp_path):
    """Each answers, and what they leave is whole."""
    (tmp_path / "many.py").write_text(MANY, encoding="utf-8")
    env = {**os.environ, "POWERBUDGET_CACHE": str(tmp_path), "PYTHONPATH": str(ROOT)}
    words = [sys.executable, str(tmp_path / "many.py")]
    pipe = subprocess.PIPE
    started = [subprocess.Popen(words, env=env, stderr=pipe) for _ in range(2)]
    assert [one.communicate()[1] for one in started] == [b"", b""]
    after = subprocess.run(words, env=env, capture_output=True, check=True)
    assert after.stdout.strip() == b"1"
    assert not list(tmp_path.rglob(".part-*"))


@pytest.mark.slow
@pytest.mark.parametrize("home", ["/proc/none", None], ids=["read-only", "unset"])
def test_a_site_runs_for_a_user_without_a_writable_folder(tmp_path, home):
    """A service account gets the answer, its code, and one remark."""
    env = {"PYTHONPATH": str(ROOT), "PATH": os.environ["PATH"], "TMPDIR": "/proc/none"}
    env |= {"HOME": home} if home else {"XDG_CACHE_HOME": "/proc/none"}
    words = [sys.executable, "-c", WITHOUT_TEMPORARY, "run"]
    done = subprocess.run(
        words, env=env, capture_output=True, cwd=tmp_path, text=True, check=False
    )
    assert done.returncode == 0
    assert done.stderr.count("compiled kernel cannot be kept") == 1


WITHOUT_TEMPORARY = """
import tempfile
def gettempdir():
    raise FileNotFoundError("no usable temporary directory found")
tempfile.gettempdir = gettempdir
from powerbudget.cli import main
main()
"""
