"""The signal list in plain columns, as the rack of a site reads it."""

from __future__ import annotations

import csv
import io
from collections import Counter

from powerbudget.lists.found import Import
from powerbudget.lists.rows import ListLine

LIST_HEADS = (
    "Tag",
    "Signal",
    "Powered by",
    "Normal state",
    "Service",
    "Quantity",
    "Current [mA]",
    "Port",
    "Remark",
)
_SIGNAL = {"tc": "thermocouple"}


def rack_list(found: Import) -> str:
    """Return the signal list in plain columns, one kind of point a row."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    rows = [
        row
        for line in found.lines
        if line.kind in {"point", "spare"}
        for row in _list_rows(line)
    ]
    if not rows:
        return ""
    writer.writerow(LIST_HEADS)
    seen: Counter[str] = Counter()
    for row in rows:
        name = str(row[0]).casefold()
        seen[name] += 1
        if seen[name] > 1:
            row[0] = f"{row[0]} #{seen[name]}"
        writer.writerow(row)
    return out.getvalue()


def _list_rows(line: ListLine) -> list[list[str]]:
    found = []
    for kind, count in line.points.items():
        tag = (
            line.tag if line.kind == "point" else ""
        ) or f"spare {line.sheet} {line.row}"
        if len(line.points) > 1:
            tag = f"{tag} {kind.upper()}"
        powered = {"two-wire": "2-wire", "four-wire": "4-wire", "ac": "VAC"}.get(
            line.supply, ""
        )
        state = line.state
        if kind == "do":
            state = {
                "on": "energized",
                "off": "de-energized",
                "pulsed": "de-energized",
                "closed": "energized",
                "open": "de-energized",
            }.get(state, "")
        else:
            state = state if state in {"closed", "open"} else ""
        coil = kind == "do" and not line.maximum_w and "solenoid" in line.signal.lower()
        amps = f"{1e3 * line.amps:.6g}" if line.amps and line.by_loop else ""
        found.append(
            [
                _safe(tag),
                "solenoid" if coil else _SIGNAL.get(kind, kind),
                powered if kind in {"ai", "ao"} else "",
                state if kind in {"di", "do"} else "",
                _safe(line.text),
                f"{count}",
                amps,
                _safe(line.port),
                "spare" if line.kind == "spare" else "",
            ]
        )
    return found


def _safe(text: str) -> str:
    """Return text that a spreadsheet will not run as a formula."""
    text = " ".join(text.split())
    return f"'{text}" if text[:1] in set("=+-@") else text
