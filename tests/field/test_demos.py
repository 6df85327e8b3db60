"""Demo sites travel with the program, and the shell completes its words."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from powerbudget.cli import app
from powerbudget.site import demos

ROOT = Path(__file__).resolve().parents[2]


def test_the_names_are_those_of_the_checkout(call):
    """`--example list` names each once."""
    code, out, _ = call("new", "--example", "list")
    assert code == 0
    assert out.split() == sorted(path.stem for path in ROOT.glob("sites/*.toml"))


@pytest.mark.parametrize("name", ["tag-list-station", "coastal-meter-run"])
def test_an_example_comes_with_what_it_names(call, tmp_path, name):
    """Its list and its claims are written too, and it runs where it stands."""
    assert call("new", "--example", name, tmp_path / "pad")[0] == 0
    assert call("loads", tmp_path / "pad" / f"{name}.toml")[0] == 0
    for path in (tmp_path / "pad").rglob("*.*"):
        told = path.relative_to(tmp_path / "pad")
        assert path.read_bytes() == (ROOT / "sites" / told).read_bytes()
    written = len(list((tmp_path / "pad").rglob("*.*")))
    assert written == len(list(ROOT.glob(f"sites/**/{name}.[tc]*")))


def test_examples_are_never_written_over(call, tmp_path):
    """One file that is there keeps all of them as they are."""
    (tmp_path / "propane-relay.toml").write_text("mine", encoding="utf-8")
    code, _, err = call("new", "--example", "all", tmp_path)
    assert code == 2
    assert "propane-relay.toml: exists already" in err
    assert [path.read_text() for path in tmp_path.iterdir()] == ["mine"]
    assert call("new", "--example", "all", tmp_path, "--force")[0] == 0
    assert (tmp_path / "claims").is_dir()


def test_a_name_that_is_none(call, tmp_path):
    """The names and the nearest one are told."""
    code, _, err = call("new", "--example", "propane-rely", tmp_path)
    assert code == 2
    assert "did you mean propane-relay?" in err


def test_the_wheel_carries_every_file(tmp_path):
    """What the build adds to the package is what a checkout has beside it."""
    builder = pytest.importorskip(
        "hatchling.builders.wheel",
        reason="pip install hatchling to look into the wheel",
    ).WheelBuilder
    import zipfile

    (wheel,) = builder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"])
    with zipfile.ZipFile(wheel) as found:
        inside = {name for name in found.namelist() if "/demos/" in name}
    folder = ROOT / "sites"
    wanted = {f"powerbudget/demos/{name}" for name in demos.demo_files(demos.ALL)}
    assert inside == wanted
    assert {path.suffix for path in folder.rglob("*.*")} > {".toml", ".csv"}


@pytest.mark.parametrize(
    ("shell", "sign"),
    [
        ("bash", "complete -o default -F"),
        ("zsh", "#compdef powerbudget"),
        ("fish", "complete --command powerbudget"),
        ("pwsh", "Register-ArgumentCompleter"),
        ("powershell", "Register-ArgumentCompleter"),
    ],
)
def test_completion_is_for_the_shell_asked_for(call, shell, sign):
    """Whatever shell runs here; nothing is installed for it, and the verbs come back."""
    code, out, _ = call("--show-completion", shell)
    assert code == 0
    assert sign in out
    assert "_POWERBUDGET_COMPLETE" in out
    words = {"_POWERBUDGET_COMPLETE": f"complete_{shell}"}
    words |= {"COMP_WORDS": "powerbudget ru", "COMP_CWORD": "1"}
    words |= {"_TYPER_COMPLETE_ARGS": "powerbudget ru"}
    words |= {"_TYPER_COMPLETE_WORD_TO_COMPLETE": "ru"}
    words |= {"_TYPER_COMPLETE_FISH_ACTION": "get-args"}
    found = CliRunner().invoke(app, [], env=words, prog_name="powerbudget")
    assert "run" in found.output
    assert "size" not in found.output


def test_the_version_has_its_heading():
    """Release notes begin with the version that is installed next."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    notes = (ROOT / "powerbudget" / "manual" / "changes.md").read_text("utf-8")
    heads = [line for line in notes.splitlines() if line.startswith("## ")]
    assert heads[0] == f"## {project['version']}"
