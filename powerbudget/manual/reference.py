"""The key reference: every key of the site, claims and parts files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, get_args

from powerbudget.errors import Fault, InputError, nearest_names

if TYPE_CHECKING:
    from pydantic import BaseModel

    from powerbudget.site.keys import Key, KeyTable

OTHER_WORDS = {
    "cable": ("wire", "conductor"), "panel": ("pv module", "array"),
    "panels": ("pv module", "array"), "solar": ("array", "pv"),
    "regulator": ("charge controller",), "bank": ("battery",), "cutoff": ("disconnect",),
    "cut-off": ("disconnect",), "breaker": ("fuse",), "angle": ("tilt", "azimuth"),
    "facing": ("azimuth",), "orientation": ("azimuth", "tilt"), "cost": ("price", "cost"),
    "cold": ("temperature", "derating"), "dod": ("dod", "discharge"),
    "holdover": ("autonomy",), "modem": ("radio", "session"), "sun": ("irradiation", "ghi"),
    "height": ("elevation",), "altitude": ("elevation", "altitude"),
    "inverter": ("converter",), "watts": ("power",), "amps": ("current",),
    "volts": ("voltage",), "batteries": ("battery",), "rate": ("rate", "per hour"),
    "number": ("number", "parallel", "quantity"), "size": ("size", "rating", "gauge"),
    "modules": ("pv module",), "cutout": ("disconnect",), "price": ("price", "cost"),
    "voltage": ("voltage", "lvd", "lvr"),
}  # fmt: skip
"""What a newcomer may call something -> words of the reference."""
SMALL_WORDS = frozenset({"of", "the", "a", "an", "for", "in", "on", "at", "to"})


@dataclass(frozen=True)
class FileKeys:
    """The tables of one kind of file.

    Parameters
    ----------
    title
        Kind of file [text].
    tables
        In the order of the file.
    """

    title: str
    tables: tuple[KeyTable, ...]

    @property
    def count(self) -> int:
        """Keys of the file, those of a repeated table once [count]."""
        return sum(len(t.keys) for t in self.tables if not t.same_as)


@cache
def reference() -> tuple[FileKeys, ...]:
    """Return the keys of every kind of file that the program reads."""
    from powerbudget.site.keys import tables_of
    from powerbudget.site.tables import Site

    return (
        FileKeys("Site file", (_top(Site), *tables_of(Site, ""))),
        FileKeys("Claims file", tuple(_claims())),
        FileKeys("Parts file", tuple(_parts())),
    )


def _top(site: type[BaseModel]) -> KeyTable:
    from powerbudget.site.keys import KeyTable, key_of

    words = "Keys that stand above the first table of the file."
    return KeyTable(
        "", words, many=False, keys=(key_of(site, "parts_file", "parts_file"),)
    )


def _claims() -> Iterator[KeyTable]:
    from powerbudget.review.claim_tables import Claim
    from powerbudget.review.kinds import KINDS

    models = {name: kind.table for name, kind in KINDS.items()}
    yield from _kinds("claim", Claim, "Keys of every claim.", models)


def _parts() -> Iterator[KeyTable]:
    from powerbudget.site.parts import Part, PartCommon

    models = {
        get_args(model.model_fields["kind"].annotation)[0]: model
        for model in get_args(get_args(Part)[0])
    }
    yield from _kinds("part", PartCommon, "Keys of every part.", models)


def _kinds(
    name: str,
    common: type[BaseModel],
    words: str,
    models: Mapping[str, type[BaseModel]],
) -> Iterator[KeyTable]:
    """Yield what all kinds of a table have, then what each has beside it."""
    from powerbudget.site.keys import tables_of

    seen: dict[type[BaseModel], str] = {}
    yield from tables_of(common, name, words, seen, many=True)
    shared = {info.alias or n for n, info in common.model_fields.items()}
    for kind, model in models.items():
        table, *inner = tables_of(model, f"{name}.{kind}", "", seen, many=True)
        own = tuple(k for k in table.keys if k.path.split(".")[-1] not in shared)
        yield replace(table, keys=own, kind=kind)
        yield from (t for t in inner if t.path.split(".")[2] not in shared)


def every_table() -> tuple[KeyTable, ...]:
    """Return the tables of all files."""
    return tuple(table for file in reference() for table in file.tables)


def lookup(name: str) -> tuple[KeyTable, ...] | Key:
    """Return the tables at or below a path, or the one key that it names.

    Parameters
    ----------
    name
        Such as ``battery``, ``[battery.box]`` or ``battery.box.depth`` [text].

    Raises
    ------
    InputError
        When there is none; the nearest names are given.
    """
    from powerbudget.site.open_site import in_file

    first, dot, rest = name.strip("[] ").lower().partition(".")
    wanted = in_file(first) + dot + rest
    tables = every_table()
    if found := tuple(t for t in tables if t.path == wanted):
        return found
    keys = [key for table in tables for key in table.keys]
    if one := [key for key in keys if key.path == wanted]:
        return one[0]
    heads = list(dict.fromkeys(t.path.split(".")[0] for t in tables if t.path))
    raise InputError(
        Fault(
            "TABLE",
            "is no table and no key",
            name,
            f"{', '.join(heads)}, or a key such as battery.unit",
            _near(wanted, tables, keys),
        )
    )


def _near(wanted: str, tables: Iterable[KeyTable], keys: Iterable[Key]) -> str:
    """Return keys that end in the word, else the nearest paths, as advice [text]."""
    paths = [t.path for t in tables if t.path] + [key.path for key in keys]
    ends = [p for p in paths if p.split(".")[-1] == wanted.rsplit(".", maxsplit=1)[-1]]
    near = ends[:5] or nearest_names(wanted, paths)
    more = f"powerbudget keys --find {wanted.rsplit('.', maxsplit=1)[-1]}"
    return f"did you mean {' or '.join(near)}? {more} searches" if near else more


def within(path: str) -> tuple[KeyTable, ...]:
    """Return the tables one level below a path."""
    depth = path.count(".") + 1
    return tuple(
        t
        for t in every_table()
        if path and t.path.startswith(f"{path}.") and t.path.count(".") == depth
    )


def find(words: str) -> list[Key]:
    """Return the keys that hold most of some words, in name, description or table.

    Parameters
    ----------
    words
        One or several, in any order; common other names are understood [text].

    Returns
    -------
    list of Key
        Those of the site file first, whose name holds more of the words before others;
        none where no key holds any.
    """
    wanted = [
        OTHER_WORDS.get(word, (word,))
        for word in words.lower().split()
        if word not in SMALL_WORDS
    ]

    def held(text: str) -> int:
        return sum(any(w in text.lower() for w in names) for names in wanted)

    hits = [
        (held(f"{key.path.replace('_', ' ')} {key.description} {table.description}"),
         held(key.path.replace("_", " ")), key)
        for table in every_table() if not table.same_as for key in table.keys
    ]  # fmt: skip
    most = max(count for count, _, _ in hits)
    found = [(named, key) for count, named, key in hits if count == most > 0]
    found.sort(key=lambda hit: (hit[1].path.startswith(("claim", "part.")), -hit[0]))
    return [key for _, key in found]


def markdown() -> str:
    """Return the committed page of all keys [Markdown]."""
    files = reference()
    lines = [
        "# Key reference",
        "",
        "Generated from the models by `powerbudget keys --markdown`; do not edit.",
        "`powerbudget keys TABLE` prints one table, `powerbudget keys --find WORD` searches.",
        "A key without a default is *required*, or acts only where it is stated (*none*).",
        "",
    ]
    for file in files:
        lines += [f"## {file.title}: {file.count} keys", ""]
        for table in file.tables:
            lines += _section(table)
    return "\n".join(lines).rstrip() + "\n"


def _section(table: KeyTable) -> list[str]:
    head = f"`{table.head}`"
    lines = [f"### {head}", "", table.description, ""]
    if table.same_as:
        return [*lines, f"Keys as in `[{table.same_as}]`.", ""]
    lines += ["| key | description | unit | default | range | example |"]
    lines += ["| --- | --- | --- | --- | --- | --- |"]
    return [*lines, *map(_row, table.keys), ""]


def _row(key: Key) -> str:
    cells = [f"`{key.path.split('.')[-1]}`", key.description, key.unit, key.default]
    cells += [key.range, f"`{key.example}`"]
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
