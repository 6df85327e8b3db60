"""The exported schema and the reader agree on what a site file may hold."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from reference import together

from powerbudget.site.starter import schema_text, starter_text
from powerbudget.site.tables import Site

jsonschema = pytest.importorskip("jsonschema")

ROOT = Path(__file__).resolve().parents[2]
SITES = sorted((ROOT / "sites").glob("*.toml"))
SCHEMA = json.loads(schema_text())
CHECK = jsonschema.Draft202012Validator(SCHEMA)


def site():
    """Return the starter as plain tables, fresh each time."""
    return tomllib.loads(starter_text())


def complaints(document) -> list[str]:
    """Return what the schema finds wrong."""
    return [f"{e.json_path}: {e.message}" for e in CHECK.iter_errors(document)]


def test_the_schema_is_valid_json_schema_of_draft_2020_12():
    """Editors find a declared draft, and the schema obeys it."""
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_the_starter_fits_the_schema():
    """An editor does not underline anything in the file that `new` writes."""
    assert complaints(site()) == []


@together.parametrize("path", SITES)
def test_the_demo_sites_fit_the_schema(path):
    """Nor in any of the demo sites."""
    assert complaints(tomllib.loads(path.read_text(encoding="utf-8"))) == []


def test_there_are_demo_sites_to_check():
    """The test above does not pass for lack of files."""
    assert len(SITES) >= 3


TABLES = [name for name, info in Site.model_fields.items() if name != "parts_file"]


@together.parametrize("table", TABLES)
def test_an_unknown_key_fails_in_every_table(table):
    """A misspelt key is underlined wherever it stands."""
    document = site()
    document.setdefault(table, {"controller": "controller-low-power"})
    rows = document[table] if isinstance(document[table], list) else [document[table]]
    rows[0]["no_such_key"] = 1
    assert any("no_such_key" in text for text in complaints(document))


@pytest.mark.parametrize(
    "table", [name for name in TABLES if Site.model_fields[name].is_required()]
)
def test_a_missing_table_fails(table):
    """Each table without which the reader refuses the file is required."""
    document = site()
    del document[table]
    assert complaints(document) == [f"$: '{table}' is a required property"]


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ("site", "name"), ("site", "latitude"), ("bus", "nominal"), ("array", "tilt"),
        ("battery", "unit"), ("charge_controller", "kind"), ("criteria", "autonomy"),
    ],
)  # fmt: skip
def test_a_missing_required_key_fails(table, key):
    """A key that the reader needs is required by the schema under the same name."""
    document = site()
    del document[table][key]
    assert complaints(document) == [f"$.{table}: '{key}' is a required property"]


@pytest.mark.parametrize(
    ("table", "key", "value"),
    [
        ("bus", "nominal", 12), ("bus", "contingency", 1.5), ("array", "parallel", 0),
        ("battery", "chemistry", "lead"), ("array", "module", 3), ("load", None, []),
        ("bus", "contingency", "-5 %"), ("site", "name", ""), ("costs", "module", "7 X"),
    ],
)  # fmt: skip
def test_values_of_the_wrong_form_fail(table, key, value):
    """Bare numbers, shares over 1, unknown words and empty lists are underlined."""
    document = site()
    if key is None:
        document[table] = value
    else:
        document[table][key] = value
    assert complaints(document)
