"""Streams that are closed or full, few letters, names that are no text: exit codes hold."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

pytestmark = pytest.mark.skipif(os.name == "nt", reason="a shell redirects here")
PROGRAM = f"{sys.executable} -m powerbudget "


def shell(words, **more):
    """Return exit code, answer and remarks of a line of shell."""
    env = {**os.environ, **more}
    found = subprocess.run(
        ["sh", "-c", words], capture_output=True, env=env, check=False
    )
    return found.returncode, found.stdout.decode(), found.stderr.decode()


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("new --help 2>&-", 0),
        ("new --help 2>/dev/full", 0),
        ("help no-chapter 2>&-", 2),
        ("help no-chapter 2>/dev/full", 2),
        ("help no-chapter >&- 2>&-", 2),
        ("nonsense 2>&-", 2),
        pytest.param("parts >&-", 2, marks=pytest.mark.slow),
        ("--version >&- 2>&-", 2),
        ("parts >/dev/full", 2),
        ("parts --json >/dev/full", 2),
        ("--version >&-", 2),
    ],
)
def test_a_stream_that_takes_nothing(words, code):
    """A lost remark changes nothing, a lost answer is told by 2; 1 and 3 never."""
    found, _, err = shell(PROGRAM + words)
    assert found == code
    assert "Traceback" not in err
    assert "Program error" not in err
    assert ("cannot be written" in err) == (code == 2 and "2>" not in words)


@pytest.mark.parametrize(
    "verb",
    [pytest.param("parts", marks=pytest.mark.slow), "parts --json", "--version"],
)
def test_a_reader_that_went_away_leaves_zero(verb):
    """Whether the answer fits into the buffer or not."""
    found = shell(f"({PROGRAM}{verb}; echo $? >&2) | true")
    assert found == (0, "", "0\n")


def test_remarks_of_no_reader_do_not_cost_the_answer(tmp_path):
    """The built-in example is announced on standard error, which nobody reads."""
    answer, code = tmp_path / "answer", tmp_path / "code"
    shell(f"({PROGRAM}loads 2>&1 >{answer}; echo $? >{code}) | true")
    assert code.read_text() == "0\n"
    assert "Wh/day" in answer.read_text()


@pytest.mark.slow
def test_a_console_of_few_letters(tmp_path, site_text):
    """Letters may be lost, the answer is not."""
    text = site_text('[[load]]\nname = "水 1"\ntypical = "2 W"\n')
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    words = f"{PROGRAM}loads {tmp_path}/site.toml"
    code, out, _ = shell(words, PYTHONIOENCODING="cp1252:strict")
    assert code == 0
    assert "? 1" in out


@pytest.mark.slow
def test_nobody_to_ask(tmp_path):
    """A closed standard input is as one at its end: nothing is asked."""
    (tmp_path / "list.csv").write_text("Tag,I/O type\nPT-1,AI\n", encoding="utf-8")
    words = f"rm -f {tmp_path}/site*; {PROGRAM}import {tmp_path}/list.csv -o {tmp_path}/site.toml"
    assert shell(words + " <&-") == shell(words + " </dev/null")


def test_a_name_that_is_no_text(tmp_path, site_text):
    """Bytes that are no UTF-8 in a name: read, computed, fingerprinted, written."""
    path = os.fsencode(tmp_path) + b"/na\xefme.toml"
    loads = site_text('[[load]]\nname = "a"\ntypical = "2 W"\n')
    with open(path, "w", encoding="utf-8") as file:  # noqa: PTH123 - a name of bytes
        file.write(loads)
    words = b" ".join([PROGRAM.encode(), b"loads", path])
    found = subprocess.run(["sh", "-c", words], capture_output=True, check=False)
    assert found.returncode == 0


def test_letters_of_a_name_can_be_written_anywhere():
    """What stands in a page, a workbook or a table of a fleet has an encoding."""
    from pathlib import Path

    from powerbudget.files import in_letters
    from powerbudget.report.document.package import site_file_name
    from powerbudget.report.extras import Extras

    odd = os.fsdecode(b"na\xefme.toml")
    shown = [in_letters(odd), site_file_name(Path(odd)), Extras(Path(odd)).words]
    assert [name.encode().decode() for name in shown] == shown
