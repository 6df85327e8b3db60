"""From a claims file to checked claims: one that cannot be used stops no other."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from powerbudget.errors import Fault, Finding, InputError, nearest
from powerbudget.quantities import QuantityError
from powerbudget.review.claim_tables import Claim
from powerbudget.review.kinds import KINDS
from powerbudget.site.faults import model_faults, written
from powerbudget.site.fields import one_line
from powerbudget.site.keys import hover
from powerbudget.site.reader import read_tables

MOST = 500
"""Claims that one file may hold."""
HEAD = ("vendor", "document", "note")


@dataclass(frozen=True)
class ClaimEntry:
    """One claim of the file, or what is wrong with it.

    Parameters
    ----------
    number, says, kind
        Place in the file, the vendor's words, and its kind [count, text, text].
    claim
        The claim, None where it cannot be used.
    faults
        Why it cannot be used.
    """

    number: int
    says: str
    kind: str
    claim: Claim | None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class ClaimsFile:
    """A vendor's claims.

    Parameters
    ----------
    entries
        Every claim in the order of the file.
    vendor, document
        Who claims, and where; empty where not stated [text].
    findings
        Remarks on the file itself.
    path
        The file, None when it came as text.
    """

    entries: tuple[ClaimEntry, ...]
    vendor: str = ""
    document: str = ""
    findings: tuple[Finding, ...] = ()
    path: Path | None = None


def read_claims(path: str | Path) -> ClaimsFile:
    """Read a claims file; a claim that cannot be used is kept with its faults.

    Parameters
    ----------
    path
        TOML file of ``[[claim]]`` tables [path].

    Returns
    -------
    ClaimsFile
        Claims and faults in the order of the file.

    Raises
    ------
    InputError
        When the file is not there, is not TOML or holds no claim at all.
    """
    path = Path(path)
    return claims_of(read_tables(path), path)


def claims_of(raw: dict[str, Any], path: Path | None = None) -> ClaimsFile:
    """Return the claims in the tables of a claims file.

    Parameters
    ----------
    raw
        What TOML gave [tables].
    path
        Where it stands, for messages [path].

    Returns
    -------
    ClaimsFile
        Claims and faults in the order of the file.

    Raises
    ------
    InputError
        When there is no ``[[claim]]`` in it.
    """
    file = str(path or "claims")
    tables = raw.get("claim")
    if isinstance(tables, dict):
        tables = [tables]
    if not isinstance(tables, list) or not tables:
        allowed = f"[[claim]] tables with kind = {', '.join(KINDS)}"
        problem = "holds no claim"
        if "site" in raw or "load" in raw:
            problem += "; it may be a site file: give the site file first"
        raise InputError(Fault("claim", problem, allowed=allowed, file=file))
    if len(tables) > MOST:
        fault = Fault(
            "claim", "has too many claims", f"{len(tables)}", f"at most {MOST}"
        )
        raise InputError(fault)
    entries = tuple(_entry(k, item) for k, item in enumerate(tables, start=1))
    return ClaimsFile(
        entries,
        _head(raw, "vendor"),
        _head(raw, "document"),
        _strangers(raw),
        path,
    )


def _head(raw: dict[str, Any], key: str) -> str:
    try:
        return one_line(raw[key]) if key in raw else ""
    except QuantityError:
        return ""


def _strangers(raw: dict[str, Any]) -> tuple[Finding, ...]:
    known = ("claim", *HEAD)
    return tuple(
        Finding(
            "warning",
            f"key {written(key)} at the top of the claims file is unknown and "
            f"ignored; {nearest(key, known) or 'known keys: ' + ', '.join(known)}",
        )
        for key in raw
        if key not in known
    )


OLD_KINDS = {"panel": "module"}
"""Kinds of files written before 0.2.0, read until 0.3.0."""


def _entry(number: int, raw: Any) -> ClaimEntry:
    where = f"claim[{number}]"
    if not isinstance(raw, dict):
        fault = Fault(where, "must be a table of keys", written(raw), "[[claim]]")
        return ClaimEntry(number, "", "", None, (fault,))
    says = _says(raw)
    kind = raw.get("kind")
    if isinstance(kind, str) and kind in OLD_KINDS:
        kind = OLD_KINDS[kind]
        raw = {**raw, "kind": kind}
    if not isinstance(kind, str) or kind not in KINDS:
        return ClaimEntry(number, says, "", None, (_kind_fault(where, raw),))
    where = f"{where} ({kind})"
    try:
        return ClaimEntry(number, says, kind, KINDS[kind].table.model_validate(raw))
    except ValidationError as exc:
        return ClaimEntry(
            number, says, kind, None, tuple(model_faults(exc, where, KINDS[kind].table))
        )


def _says(raw: dict[str, Any]) -> str:
    """Return the vendor's words, also of a claim that cannot be used [text]."""
    says = raw.get("says")
    if isinstance(says, str) and says.isprintable() and 0 < len(says.strip()) <= 200:
        return says.strip()
    claimed = raw.get("claimed")
    return claimed.strip() if isinstance(claimed, str) and claimed.isprintable() else ""


def _kind_fault(where: str, raw: dict[str, Any]) -> Fault:
    kinds = ", ".join(KINDS)
    if "kind" not in raw:
        return Fault(f"{where}.kind", "is missing", allowed=kinds)
    kind, problem = raw["kind"], "is not a known kind of claim"
    near = nearest(kind, KINDS) if isinstance(kind, str) else ""
    return Fault(f"{where}.kind", problem, written(kind), kinds, near)


def claims_schema_text() -> str:
    """Return the JSON Schema of a claims file, which TOML editors read [JSON]."""
    from pydantic.json_schema import models_json_schema

    pairs: Any = [(kind.table, "validation") for kind in KINDS.values()]
    schemas, definitions = models_json_schema(pairs, by_alias=True)
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "powerbudget claims file",
        "type": "object",
        "required": ["claim"],
        "properties": {
            **{key: {"type": "string"} for key in HEAD},
            "claim": {
                "type": "array",
                "minItems": 1,
                "items": {"oneOf": list(schemas.values())},
            },
        },
        "additionalProperties": False,
        **definitions,
    }
    models = {
        table.__name__: table for kind in KINDS.values() for table in (kind.table,)
    }
    hover(schema, models)
    return json.dumps(schema, indent=2) + "\n"
