"""Placeholder."""
from __future__ import annotations
from dataclasses import dataclass
from pathlib import Path
from powerbudget.lists.columns import Columns
from powerbudget.lists.tables import Table
@dataclass
class Mapping:
    out: frozenset[str] = frozenset()
def apply_mapping(mapping: Mapping | None, path: Path, table: Table, columns: Columns) -> Columns:
    return columns
