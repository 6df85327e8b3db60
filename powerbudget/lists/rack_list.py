"""The signal list in plain columns, as the rack of a site reads it."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator

from powerbudget.lists.found import Import
from powerbudget.lists.io_list import exact_kind
from powerbudget.lists.rows import ListLine
from powerbudget.lists.words import by_word

_POWERED = {"two-wire": "2-wire", "four-wire": "4-wire", "ac": "VAC"}
_COIL = by_word({"energized": "on closed", "de-energized": "off pulsed open"})


def rack_list(found: Import) -> str:
    """Return the signal list in plain columns, one kind of point a row."""
    lines = [x for x in found.lines if x.kind in {"point", "spare"}]
    rows = [row for line in lines for row in _list_rows(line)]
    if not rows:
        return ""
    seen: Counter[str] = Counter()
    for row in rows:
        seen[row["Tag"].casefold()] += 1
        if (number := seen[row["Tag"].casefold()]) > 1:
            row["Tag"] += f" #{number}"
    # A column that says nothing would be asked about when the rack reads the list.
    heads = [head for head in rows[0] if any(row[head] for row in rows)]
    out = io.StringIO()
    writer = csv.DictWriter(out, heads, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def _list_rows(line: ListLine) -> Iterator[dict[str, str]]:
    """Yield a row for each kind of point of a line, by its heads."""
    spare = line.kind == "spare"
    tag = ("" if spare else line.tag) or f"spare {line.sheet} {line.row}"
    contact = line.state if line.state in {"closed", "open"} else ""
    amps = f"{1e3 * line.amps:.6g}" if line.amps and line.by_loop else ""
    states = {"di": contact, "do": _COIL.get(line.state, "")}
    for kind, count in line.points.items():
        loop = kind in {"ai", "ao"}
        own = f"{tag} {kind.upper()}" if len(line.points) > 1 else tag
        yield {
            "Tag": _safe(own),
            "Signal": "solenoid"
            if kind == "do" and line.coil
            else _exact(kind, line.signal),
            "Powered by": _POWERED.get(line.supply, "") if loop else "",
            "Normal state": states.get(kind, ""),
            "Service": _safe(line.text),
            "Quantity": f"{count}",
            "Current [mA]": amps,
            "Port": _safe(line.port),
            "Remark": "spare" if spare else "",
        }


def _exact(kind: str, signal: str) -> str:
    """Return the kind of signal of a rack: a fieldbus or a radio is no serial port [text]."""
    return exact_kind(kind, signal) if kind in {"ai", "serial", "tc"} else kind


def _safe(text: str) -> str:
    """Return text that a spreadsheet will not run as a formula."""
    text = " ".join(text.split())
    return f"'{text}" if text[:1] in set("=+-@") else text
