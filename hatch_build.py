"""Build hook: demo sites stand beside the package and travel inside the wheel."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class DemoSites(BuildHookInterface):  # type: ignore[type-arg]
    """Adds site files, lists and claims; pictures stay out."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Name the files of a wheel; an installation in place reads them where they are."""
        root = Path(self.root)
        if version == "standard":
            build_data["force_include"] |= {
                str(path): f"powerbudget/demos/{path.relative_to(root / 'sites')}"
                for path in (root / "sites").rglob("*")
                if path.suffix in {".toml", ".csv"}
            }
