"""What is checked once a table is read: totals, twins, old sheets, ports, voltages."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable

from powerbudget.errors import Fault, InputError
from powerbudget.lists import schedule_checks
from powerbudget.lists.cells import Value
from powerbudget.lists.columns import Columns
from powerbudget.lists.figures import cell_number
from powerbudget.lists.found import FoundPart, Import
from powerbudget.lists.io_rows import ListResult
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.rows import AC_FROM_V, ListLine, Tally, ranges
from powerbudget.lists.schedule_rows import ScheduleResult
from powerbudget.lists.second_look import ask_twice, look_outside
from powerbudget.lists.signals import read_address, stated_kinds
from powerbudget.lists.status import is_total
from powerbudget.lists.unread import several_times, unread_columns, unsure_quantity
from powerbudget.lists.words import folded, word_set, words_of
from powerbudget.quantities import count


def reads_as_address(cell: Value) -> bool:
    """Return whether a cell is the address of an input or output."""
    return isinstance(cell, str) and bool(read_address(cell))


# --- signal lists ---


def add_list(out: Import, part: FoundPart, found: ListResult) -> None:
    """Add the rows of a list; rows that stand on another sheet too count once."""
    before = {
        (x.tag.casefold(), tuple(sorted(x.points))): x for x in out.lines if x.tag
    }
    live = [x for x in found.lines if x.kind == "point"]
    twins = [
        x
        for x in (live if before else ())
        if (x.tag.casefold(), tuple(sorted(x.points))) in before
    ]
    if live and len(twins) >= 0.5 * len(live) and twins:
        ids = {id(x) for x in twins}
        for line in twins:
            found.classes[line.row - 1] = "copy"
            out.asked.ask("twins", line.sheet, line.row, line.tag)
        found.lines = [x for x in found.lines if id(x) not in ids]
    _summed(out, part, found)
    out.lines += found.lines
    _same_tags(out, part, found.lines)
    _empty_columns(out, part)
    _list_totals(out, part, found)
    left_out(out, part)
    _same_columns(out, part)


_SUM = re.compile(
    r"(?:(?:sub|sous)[- ]?)?(?:totals?|sums?|summen?|zwischensumme|somme|suma)\b"
)


def _summed(out: Import, part: FoundPart, found: ListResult) -> None:
    """Read rows of counts that are called sums and sum the rows above them as totals.

    One that is only called so, or only adds up, is counted and asked.
    """
    if len(part.columns.counts()) < 2:
        return
    every, block = Counter[str](), Counter[str]()
    rows = 0
    kept = []
    for line in found.lines:
        kept.append(line)
        if line.kind != "point":
            continue
        # Registers of a bus were counted as one device each and add up to none.
        points = Counter({k: n for k, n in line.points.items() if k != "serial"})
        adds = rows > 1 and points in (every, block) and len(points) > 1
        name = line.tag or line.text
        called = not name or bool(_SUM.match(folded(name)))
        if adds and called:
            out.asked.ask("sum-row", line.sheet, line.row, name)
            found.classes[line.row - 1] = "total"
            kept.pop()
            block, rows = Counter(), 2
            continue
        if adds or (called and name):
            out.asked.ask("sum-like", line.sheet, line.row, name)
        every, block, rows = every + points, block + points, rows + 1
    found.lines = kept


_APART = word_set(
    "area unit loc train package skid well pad pump tank vessel line site location platform "
    "system subsystem equipment device group zone section bereich anlage grupo pozo"
)
"""Words of columns by which rows of one tag are told apart (common practice, no source)."""


def _apart(columns: Columns) -> list[int]:
    """Return the columns that say where a row belongs."""
    return [
        c.index
        for c in columns.all
        if c.field in {"group", "other", "", "name"}
        and _APART & set(words_of(c.head.text))
    ]


def _same_tags(out: Import, part: FoundPart, lines: list[ListLine]) -> None:
    """Ask about tags that differ by case only, and about rows that stand twice."""
    tags = [x.tag.casefold() for x in lines if x.kind == "point" and x.tag and x.points]
    if len(set(tags)) == len(tags):
        return
    places, rows = _apart(part.columns), part.table.sheet.rows

    def place(number: int) -> list[str]:
        return [text_of(cell_at(rows[number - 1], k)) for k in places]

    seen: dict[str, ListLine] = {}
    whole: dict[tuple[str, ...], list[int]] = {}
    for line in lines:
        if line.kind != "point" or not line.tag or not line.points:
            continue
        first = seen.setdefault(line.tag.casefold(), line)
        if first is line:
            whole[_said(line)] = [line.row]
            continue
        if first.tag != line.tag:
            out.asked.ask(
                "case",
                line.sheet,
                line.row,
                f"{first.tag} / {line.tag} (first in row {first.row})",
            )
        before = whole.setdefault(_said(line), [])
        same = [n for n in before if place(n) == place(line.row)]
        if same and line.quantity == 1:
            name = f"{line.tag} (also row {same[0]})"
            out.asked.ask("twice", line.sheet, line.row, name)
        if not same:
            before.append(line.row)


def _said(line: ListLine) -> tuple[str, ...]:
    """Return what rows of one point say alike."""
    return (line.tag, line.text, line.signal, line.state, line.port, *line.points)


def _empty_columns(out: Import, part: FoundPart) -> None:
    for column in part.columns.all:
        useful = column.field in {
            "supply",
            "power",
            "current",
            "normal",
            "signal",
            "io_type",
            "quantity",
        }
        if (
            useful
            and not column.filled
            and column.head.text
            and part.table.last - part.table.first > 1
        ):
            out.asked.ask("empty-column", part.table.sheet.name, 0, column.called)


def _list_totals(out: Import, part: FoundPart, found: ListResult) -> None:
    """Compare the totals of a list with its rows."""
    before = 0
    for row, numbers in found.totals:
        blocks = [
            [x for x in found.lines if low < x.row <= high]
            for low, high in ((0, math.inf), (0, row), (before, row))
        ]
        before = row
        for name, said in numbers.items():
            kind = None if name == "quantity" else name.removeprefix("count:")
            if kind == "serial" or not (kind is None or name.startswith("count:")):
                continue
            sums = [_quantities(lines, kind) for lines in blocks]
            live, spare, gone = sums[0]
            if any(said in {n, n + more} for n, more, _ in sums):
                continue
            what = (
                f" (deleted rows {gone:g} and spares {spare:g} among them)"
                if said == live + spare + gone
                else ""
            )
            out.asked.ask(
                "list-total",
                part.table.sheet.name,
                0,
                f"{name.removeprefix('count:')} {said:g}, live rows {live:g}{what}",
            )


def _quantities(lines: list[ListLine], kind: str | None) -> tuple[float, float, float]:
    sums = dict.fromkeys(("point", "spare", "deleted"), 0.0)
    for line in lines:
        if line.kind in sums:
            sums[line.kind] += (
                line.quantity if kind is None else line.points.get(kind, 0)
            )
    return sums["point"], sums["spare"], sums["deleted"]


def left_out(out: Import, part: FoundPart) -> None:
    """Ask about columns that seem to say what another one says."""
    for column in part.columns.twins:
        out.asked.ask("two-columns", part.table.sheet.name, 0, column.called)


def unread(out: Import, part: FoundPart) -> None:
    """Ask about columns of figures that nothing is read from, see `unread_columns`."""
    classes = getattr(part.result, "classes", {}).values()
    if part.hidden or not {"point", "load"} & set(classes):
        return
    for column in unread_columns(part.columns, part.kind):
        out.asked.ask("unread-column", part.table.sheet.name, 0, column.called)
    for column in several_times(part.columns):
        out.asked.ask("several-times", part.table.sheet.name, 0, column.called)
    for column in unsure_quantity(part.columns):
        out.asked.ask("quantity-of", part.table.sheet.name, 0, column.called)


def _same_columns(out: Import, part: FoundPart) -> None:
    """Ask about columns of signals that have one head and say one thing on every row."""
    several = part.columns.several
    heads = {column.head.text for column in several}
    if len(several) < 2 or len(heads) > 1:
        return
    rows = ({cell_at(row, c.index) for c in several} for row in part.table.rows())
    if all(len(cells) == 1 for cells in rows):
        out.asked.ask(
            "same-columns",
            part.table.sheet.name,
            0,
            f"{', '.join(c.letter for c in several)} {heads.pop()!r}",
        )


def old_sheet(out: Import, name: str, found: ListResult) -> None:
    """Leave out a sheet that is hidden or called old, and say which tags it alone has."""
    for line in found.lines:
        found.classes[line.row - 1] = "copy"
    out.asked.ask("old-sheet", name, 0, f"{name} ({count(len(found.lines), 'tag')})")


# --- the whole import ---


def after(out: Import) -> None:
    """Ask what only the whole import shows, and refuse one that holds no list."""
    _counts_beside_list(out)
    _summaries(out)
    schedule_checks.check_summaries(out)
    schedule_checks.check_copies(out)
    ask_twice(
        out.asked,
        [
            p.result.loads
            for p in out.parts
            if isinstance(p.result, ScheduleResult) and not p.hidden
        ],
    )
    if not out.lines and not out.loads:
        raise InputError(_no_list(out))
    _labels_beside_list(out)
    _several_sites(out)
    look_outside(out)
    _ports(out)
    _voltages(out)
    _rack_twice(out)
    _devices_twice(out)
    for tally in out.tallies:
        if tally.use == "neither" and len(tally.rows) - tally.rows.count("blank") > 8:
            out.asked.ask("unread-sheet", tally.sheet, 0, tally.sheet)


_SITE = re.compile(
    r"\b(?:site|station|standort|sitio|emplacement|sito)\b(?: ?(?:name|no|id))?[ .:#-]*"
    r"([\w-]*\d[\w-]*|[A-Z]{2}[\w-]*)",
    re.IGNORECASE,
)


def _several_sites(out: Import) -> None:
    """Ask about lists under titles that name different sites."""
    named: dict[str, str] = {}
    for part in out.parts:
        if part.kind not in {"io", "schedule"} or part.hidden:
            continue
        texts = (part.table.sheet.name, *part.table.above)
        found = next((m for t in texts if (m := _SITE.search(t))), None)
        if found:
            named.setdefault(found.group(1).casefold(), part.table.sheet.name)
    sheets = list(dict.fromkeys(named.values()))
    if len(named) > 1 and len(sheets) > 1:
        out.asked.ask("several-sites", sheets[0], name=", ".join(sheets))


def _labels_beside_list(out: Import) -> None:
    """Ask about loads on a sheet of labels and values that stands beside a list."""
    listed = {p.table.sheet.name for p in out.parts if p.kind in {"io", "schedule"}}
    for tally in out.tallies if listed else ():
        loads = [x for x in out.loads if x.sheet == tally.sheet]
        if loads and tally.sheet not in listed:
            out.asked.ask("labels-beside", tally.sheet, 0, tally.sheet)


def _no_list(out: Import) -> Fault:
    told = [q.text for q in out.asked]
    if told:
        what = "holds no row that can be counted"
        return Fault("file", what, " ".join(told)[:600], file=str(out.books[0].path))
    seen = [
        f"{p.table.sheet.name}: {', '.join(h.text for h in p.table.heads if h.text)[:80]}"
        for p in out.parts
    ]
    return Fault(
        "file",
        "holds no signal list and no equipment schedule",
        "; ".join(seen)[:300] or "no row of heads with rows below it",
        "a tag with its signal (AI, DI, 4-20 mA ...), or a name with W, mA or A",
        "name the columns so, or in --mapping",
        str(out.books[0].path) if len(out.books) == 1 else "",
    )


def _counts_beside_list(out: Import) -> None:
    """Leave out a table of counts that says the same as the list beside it, ask if it differs."""
    lists = [
        (part, part.result, len(part.columns.counts()) > 1)
        for part in out.parts
        if part.kind == "io" and not part.hidden and isinstance(part.result, ListResult)
    ]
    wide = [(part, found) for part, found, counts in lists if counts]
    long = [found for _, found, counts in lists if not counts and found.lines]
    if not wide or not long:
        return
    same = _kinds(x for _, found in wide for x in found.lines) == _kinds(
        x for found in long for x in found.lines
    )
    for part, found in wide:
        name = part.table.sheet.name
        if same:
            _as_copy(out, name, found)
            continue
        out.asked.ask("counts-and-list", name, 0, name)


def _summaries(out: Import) -> None:
    """Ask about tables of kinds and counts that differ from the signals."""
    if out.lines:
        _bare_summaries(out)
    for part in out.parts if out.lines else ():
        columns = part.columns.of("quantity")
        if part.kind != "summary" or part.hidden or len(columns) != 1:
            continue
        said: dict[str, int] = {}
        for row in part.table.rows():
            text = next((c for c in row if isinstance(c, str)), "")
            kinds, at = stated_kinds(text), columns[0].index
            number = cell_number(row[at]) if at < len(row) else None
            if len(kinds) == 1 and number and not is_total(text):
                kind = next(iter(kinds))
                said[kind] = said.get(kind, 0) + int(number)
        if said and said not in (out.points(), _kinds(out.lines)):
            counts = ", ".join(f"{n} {k.upper()}" for k, n in said.items())
            out.asked.ask("summary", part.table.sheet.name, part.table.first, counts)


def _bare_summaries(out: Import) -> None:
    """Ask about sheets that only say "Total AI | 12", where the signals are others."""
    uses = {t.sheet for t in out.tallies if t.use == "neither"}
    for sheet in (s for b in out.books for s in b.sheets if s.name in uses):
        said: dict[str, int] = {}
        for row in sheet.rows if not sheet.hidden else ():
            cells = [c for c in row if c is not None]
            if len(cells) != 2 or not isinstance(cells[0], str):
                continue
            kinds, number = stated_kinds(cells[0]), cell_number(cells[1])
            if len(kinds) == 1 and number and is_total(cells[0]):
                said[next(iter(kinds))] = int(number)
        same = [
            n for n in (out.points(), _kinds(out.lines)) if said.items() <= n.items()
        ]
        if said and not same:
            counts = ", ".join(f"{n} {k.upper()}" for k, n in said.items())
            out.asked.ask("summary", sheet.name, 0, counts)


def _as_copy(out: Import, sheet: str, found: ListResult) -> None:
    """Take the rows of a table out again: they say what another table says."""
    gone = {id(line) for line in found.lines}
    out.lines = [line for line in out.lines if id(line) not in gone]
    for tally in out.tallies:
        if tally.sheet == sheet:
            tally.rows = [
                "copy" if name in {"point", "spare"} else name for name in tally.rows
            ]


def _kinds(lines: Iterable[ListLine]) -> dict[str, int]:
    found: dict[str, int] = {}
    for line in lines:
        if line.kind in {"point", "spare"}:
            for kind, count in line.points.items():
                found[kind] = found.get(kind, 0) + count
    return found


_RACK = re.compile(
    r"\brtu\b|\bplc\b|\bsps\b|\bi/?o (?:cards?|modules?)\b|flow computer|"
    r"\bprocess controller|\bcontroller\b(?!.*\b(?:solar|charge|regulator)\b)",
    re.IGNORECASE,
)


def _rack_twice(out: Import) -> None:
    """Ask about controllers and cards of a schedule that the signals bring too."""
    if not any(line.kind == "point" for line in out.lines):
        return
    for load in out.loads:
        if (
            load.running_w
            and _RACK.search(load.name)
            and not re.search(r"solar|charge|lade", load.name, re.IGNORECASE)
        ):
            out.asked.ask("rack-twice", load.sheet, load.row, load.name)


def _devices_twice(out: Import) -> None:
    """Ask about devices that the signals and a schedule both let draw."""
    if not out.loads:
        return
    live = [x for x in out.lines if x.kind == "point"]
    texts = {folded(x.text): x for x in live if x.text and _draws(x)}
    # The rack counts loops and coils too, which go by their tags.
    fed = (x for x in live if _draws(x) or x.coil or not _LOOPS.isdisjoint(x.points))
    tags = {x.tag.casefold(): x for x in fed if x.tag}
    for load in out.loads if tags or texts else ():
        words = re.split(r"[\s,;()/]+", f"{load.tag} {load.name}".casefold())
        named = next((tags[word] for word in words if word in tags), None)
        like = named or texts.get(folded(load.name))
        if like and load.running_w:
            name = f"{load.name} / {like.tag}"
            out.asked.ask("device-twice", load.sheet, load.row, name)


_LOOPS = word_set("ai ao")


def _draws(line: ListLine) -> bool:
    return bool(line.maximum_w or line.supply == "four-wire" or "serial" in line.points)


def _ports(out: Import) -> None:
    devices = [x for x in out.lines if x.kind == "point" and x.points.get("serial")]
    bare = [x for x in devices if not x.port]
    if len(devices) > 1 and bare:
        for line in bare:
            out.asked.ask("ports", line.sheet, line.row, line.tag)
    if any(q.cause == "ports" for q in out.asked):
        out.asked.drop("registers")


def _voltages(out: Import) -> None:
    for part in out.parts:
        if part.kind != "io" or part.hidden:
            continue
        for column in part.columns.of("volts"):
            cells = [
                row[column.index]
                for row in part.table.rows()
                if column.index < len(row)
            ]
            volts = sorted(
                {c for c in cells if isinstance(c, float) and 0 < c < AC_FROM_V}
            )
            if len(volts) > 1:
                out.asked.ask(
                    "voltages",
                    part.table.sheet.name,
                    0,
                    ", ".join(f"{v:g} V" for v in volts),
                )


def tally_text(tally: Tally) -> str:
    """Return the rows of a sheet by class on one line [text]."""
    return "; ".join(
        f"{name} {ranges(rows)}" for name, rows in tally.by_class().items()
    )
