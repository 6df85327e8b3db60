"""`doctor` tells a sound installation from one with a part missing."""

from __future__ import annotations

import json
from importlib.metadata import PackageNotFoundError

import pytest
from jsonschema import Draft202012Validator

from powerbudget.report import doctor
from powerbudget.report.answers import schema


def by_name():
    """Return what is found by name."""
    return {found.name: found for found in doctor.examine()}


def test_a_sound_installation_passes(call):
    """Every library has a version, the example closes, the exit code is 0."""
    code, text, _ = call("doctor", "--json")
    found = {row["name"]: row for row in json.loads(text)["checks"]}
    assert code == 0
    assert {"numpy", "pvlib", "numba", "self-test", "cache of the kernel"} <= set(found)
    assert "fail" not in {row["result"] for row in found.values()}
    assert Draft202012Validator(schema("doctor")).is_valid(json.loads(text))


def test_a_library_that_is_missing_fails(call, monkeypatch):
    """It is named with what installs it, and the exit code is 1."""
    real = doctor.version

    def version(name):
        if name == "pvlib":
            raise PackageNotFoundError(name)
        return real(name)

    monkeypatch.setattr(doctor, "version", version)
    code, page, _ = call("doctor")
    assert code == 1
    assert by_name()["pvlib"].result == "fail"
    assert "pip install 'pvlib" in page


@pytest.mark.parametrize("kind", ["kernel", "weather"])
def test_a_cache_that_cannot_be_written_warns(kind, monkeypatch, tmp_path):
    """Nothing can be kept, and the variable that names another folder is told."""
    blocked = tmp_path / "file"
    blocked.write_text("no cache folder", encoding="utf-8")
    monkeypatch.setenv("POWERBUDGET_CACHE", str(blocked))
    found = by_name()[f"cache of the {kind}"]
    assert found.result == "warning"
    assert "POWERBUDGET_CACHE" in found.remedy


def test_a_balance_that_does_not_close_fails(monkeypatch):
    """A simulation that loses energy is not to be relied on."""
    monkeypatch.setattr(doctor, "CLOSES_FRAC", 0.0)
    assert by_name()["self-test"].result == "fail"
