"""The embedded example site and the schema that lets editors complete a site file."""

from __future__ import annotations

import json
from pathlib import Path

from powerbudget.site.keys import hover, models_in
from powerbudget.site.open_site import CHARGE_CONTROLLER
from powerbudget.site.reader import Design, read_site_text
from powerbudget.site.tables import Site

STARTER = Path(__file__).with_name("starter.toml")


def starter_text() -> str:
    """Return a commented site file to start from [TOML]."""
    return STARTER.read_text(encoding="utf-8")


def starter_design() -> Design:
    """Return the embedded example as a checked design [Design].

    Examples
    --------
    >>> starter_design().tables.bus.nominal_v
    12.0
    """
    return read_site_text(starter_text())


def schema_text() -> str:
    """Return the JSON Schema of a site file, which TOML editors read [JSON]."""
    schema = Site.model_json_schema(by_alias=True)
    schema["title"] = "powerbudget site file"
    hover(schema, {table.__name__: table for table in models_in(Site)})
    schema["properties"][CHARGE_CONTROLLER] = schema["properties"]["regulator"]
    return json.dumps(schema, indent=2) + "\n"
