"""`powerbudget import`: client's signal lists and equipment schedules to a site file."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.common import JsonOption, print_json
from powerbudget.quantities import count

if TYPE_CHECKING:
    from powerbudget.lists.difference import Difference
    from powerbudget.lists.found import Import
    from powerbudget.lists.mapping import Mapping
    from powerbudget.lists.site_text import SiteText


def command(
    books: Annotated[
        list[Path],
        typer.Argument(
            metavar="BOOK...", help="Lists: .xlsx .xlsm .xls .ods .xlsb .csv .tsv."
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--output",
            metavar="SITE.toml",
            help="Write the tables to a new file.",
            show_default=False,
        ),
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option(
            "--into",
            metavar="SITE.toml",
            help="Add the tables to a site file; its comments stay.",
            show_default=False,
        ),
    ] = None,
    mapping: Annotated[
        Path | None,
        typer.Option(
            "--mapping",
            metavar="FILE.toml",
            help="Meanings of the columns. Default: SITE-lists.toml.",
            show_default=False,
        ),
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Take the proposed meanings without asking.")
    ] = False,
    encoding: Annotated[
        str | None,
        typer.Option(
            help="Encoding of text tables, such as cp1252.", show_default=False
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a file that exists already.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Read client's lists into a site file.

    Signal lists give [rack], equipment schedules [[supply]] and [[load]]. Each row is
    accounted for; what a list leaves open is asked, one line a cause. A total that
    differs from its rows is asked; totals that contradict each other are refused. The
    meanings of the columns are kept and replayed on the next revision.
    """
    site = out or into
    _check(out, into, force=force)
    from powerbudget.lists.mapping import mapping_path

    usual = mapping_path(site) if site else None
    kept = mapping or usual
    found, before, changed = read(books, (kept, usual), encoding)
    if not as_json:
        show(found, changed, ask=site is not None and not yes)
    text = _write(found, site, kept, before, into=into is not None) if site else None
    if as_json:
        print_json(result(found, changed, text))


def read(
    books: list[Path], kept: Iterable[Path | None], encoding: str | None
) -> tuple[Import, Mapping | None, Difference | None]:
    """Return what lists hold, the mapping of before, and what changed since.

    Parameters
    ----------
    books
        The lists [path].
    kept
        Where a mapping may be; the first that is there counts [path].
    encoding
        Of text tables, None to find out [text].
    """
    from powerbudget.lists.difference import difference
    from powerbudget.lists.importer import read_lists
    from powerbudget.lists.mapping import read_mapping, snapshot

    there = next((path for path in kept if path and path.exists()), None)
    before = read_mapping(there) if there else None
    found = read_lists(books, before, encoding)
    if before is None or not before.last:
        return found, before, None
    return found, before, difference(before.last, snapshot(found), found.renamed)


def show(found: Import, changed: Difference | None, *, ask: bool) -> None:
    """Print what was read, and ask on a terminal whether the columns hold."""
    _page(found, changed)
    if ask and sys.stdin.isatty():
        _confirm()


def _check(out: Path | None, into: Path | None, *, force: bool) -> None:
    """Refuse targets that cannot be written, before anything is read."""
    from powerbudget.errors import Fault, InputError
    from powerbudget.files import check_target
    from powerbudget.reading import why_not

    if out and into:
        raise InputError(
            Fault("--into", "cannot stand beside -o", advice="give one of the two")
        )
    target = out or into
    if target:
        check_target(target)
    if out and out.exists() and not force:
        raise InputError(
            Fault(
                str(out),
                "exists already",
                advice="--force replaces it, --into adds to it",
            )
        )
    if into and (problem := why_not(into)):
        raise InputError(Fault(str(into), problem, advice="-o writes a new one"))


def _write(
    found: Import, site: Path, kept: Path | None, before: Mapping | None, *, into: bool
) -> SiteText:
    """Write the tables to a file of their own, or into one that stands."""
    if not into:
        return write_tables(found, site, kept, before, lambda text: text.text)
    from powerbudget.errors import Fault
    from powerbudget.reading import PAGE_BYTES, read_text
    from powerbudget.site.reader import read_open_site

    old = read_text(site, PAGE_BYTES, Fault(str(site), ""))
    bus_v = read_open_site(site).tables.bus.nominal_v
    return write_tables(
        found, site, kept, before, lambda text: _joined(old, text, site), bus_v=bus_v
    )


def write_tables(
    found: Import,
    site: Path,
    kept: Path | None,
    before: Mapping | None,
    whole: Callable[[SiteText], str],
    *,
    bus_v: float | None = None,
) -> SiteText:
    """Write the site, the rack's list and the mapping; nothing if one is at fault."""
    from powerbudget.cli.common import remark
    from powerbudget.errors import PowerBudgetError
    from powerbudget.files import write_text
    from powerbudget.lists.mapping import mapping_text, pointer_text, usual_path
    from powerbudget.lists.site_text import list_path, site_text

    listed = list_path(site)
    text = site_text(found, listed.name, bus_v=bus_v)
    was = listed.read_bytes() if listed.is_file() else None
    if text.list_text:
        write_text(listed, text.list_text)
    try:
        write_text(site, whole(text))
    except PowerBudgetError:
        if was is None:
            listed.unlink(missing_ok=True)
        else:
            listed.write_bytes(was)
        raise
    if text.list_text:
        remark(f"Wrote {listed}.")
    remark(f"Wrote {site}.")
    if kept:
        write_text(kept, mapping_text(found, before))
        remark(f"Wrote {kept}.")
        if kept.resolve() != (usual := usual_path(site)).resolve():
            write_text(usual, pointer_text(site, kept))
            remark(f"Wrote {usual}.")
    return text


def _joined(old: str, text: SiteText, site: Path) -> str:
    """Return a site file with the tables added, checked before it is written."""
    import tomllib

    from powerbudget.errors import Fault, InputError
    from powerbudget.lists.site_text import without_rack
    from powerbudget.site.reader import read_site_text

    added = text.text
    had = tomllib.loads(old)
    if "rack" in had:
        added = without_rack(added)
    names = {str(item.get("name")) for item in had.get("load", [])}
    twice = sorted(
        names & {str(item.get("name")) for item in tomllib.loads(added).get("load", [])}
    )
    if twice:
        raise InputError(
            Fault(
                "load",
                "has names of the list already; it may have been imported before",
                ", ".join(twice[:5]),
                "",
                "delete the old loads, or write to a new file with -o",
                str(site),
            )
        )
    whole = old.rstrip("\n") + "\n\n" + added
    read_site_text(whole, site, may_be_open=True)
    return whole


USES = {"io": "signals", "schedule": "loads", "neither": "no list"}
MOST_LETTERS = 300
"""Row numbers of a sheet are printed up to so many letters [count]."""


def _page(found: Import, changed: Difference | None) -> None:
    """Print what was read, each row accounted for, then the questions."""
    columns = _columns(found)
    lines = [*_sums(found), *(("Columns:", *columns) if columns else ())]
    lines += ["Rows:", *_rows(found)]
    if changed is not None:
        lines += ["Since the last import:", *(f"  {line}" for line in changed.lines())]
    questions = list(found.asked)
    if questions:
        lines.append(f"Questions ({len(questions)}):")
        lines += [f"  - {question.text}" for question in questions]
    lines += [f"Note: {note}" for note in found.notes]
    typer.echo("\n".join(lines))


def _columns(found: Import) -> list[str]:
    """Return what each column was taken for, a line a sheet, and why if not by its head."""
    from powerbudget.lists.mapping import proposed

    sheets: dict[str, list[str]] = {}
    for sheet, _, column in proposed(found):
        why = "" if column.evidence.startswith("head") else f" ({column.evidence})"
        meaning = f"{column.letter} {column.head.text!r} = {column.field}{why}"
        sheets.setdefault(_name(found, sheet), []).append(meaning)
    return [f"  {sheet}: {', '.join(said)}" for sheet, said in sheets.items()]


def _rows(found: Import) -> list[str]:
    """Return the account of each sheet: rows of each class by number."""
    from powerbudget.lists.checks import tally_text

    lines = []
    for tally in found.tallies:
        place = f"{_name(found, tally.sheet)} ({USES.get(tally.use, tally.use)})"
        sums = ", ".join(f"{name} {n:,}" for name, n in tally.accounts().items() if n)
        sums = f"{place}: {count(len(tally.rows), 'row')}: {sums or 'none'}"
        where = tally_text(tally)
        if len(where) > MOST_LETTERS:
            where = f"{where[:MOST_LETTERS]} ... (all of them with --json)"
        lines.append(f"  {sums} [{where}]" if where else f"  {sums}")
    return lines


def _name(found: Import, sheet: str) -> str:
    """Return a sheet as a person calls it: a text table by its file."""
    texts = {s.name: b.path.name for b in found.books for s in b.sheets if s.text}
    return texts.get(sheet, sheet)


def _sums(found: Import) -> list[str]:
    """Return the points, watts and loads of an import as lines."""
    from powerbudget.lists.site_text import UNKNOWN

    lines = []
    for kind, word in (("point", "Points"), ("spare", "Spares")):
        if counts := sorted(found.points(kind).items()):
            said = ", ".join(f"{n:,} {k.upper()}" for k, n in counts)
            lines.append(f"{word}: {said}")
    typical_w, maximum_w = _signal_w(found)
    if maximum_w:
        lines.append(
            f"Stated by the signal list: {_number(typical_w)} W in the normal state, "
            f"{_number(maximum_w)} W with everything on"
        )
    if found.loads:
        running_w, wh = (_total(found, name) for name in ("running_w", "wh_per_day"))
        lines.append(
            f"Loads: {len(found.loads):,}; {_number(running_w)} W running, "
            f"{_number(wh)} Wh/day at the loads"
        )
        unknown = [x for x in found.loads if x.why in UNKNOWN]
        if unknown:
            lines[-1] += f"; {len(unknown):,} without a figure are assumed in the file"
    return lines


def _number(value: float) -> str:
    """Return a figure of three digits or more, never with an exponent [text]."""
    return f"{value:,.0f}" if value >= 1000 else f"{value:.3g}"


def _signal_w(found: Import) -> tuple[float, float]:
    """Return the watts that live rows state: normal state, everything on [W]."""
    live = [x for x in found.lines if x.kind == "point"]
    return sum(x.typical_w or 0.0 for x in live), sum(x.maximum_w or 0.0 for x in live)


def _total(found: Import, name: str) -> float:
    return sum(getattr(load, name) or 0.0 for load in found.loads)


def _confirm() -> None:
    """Ask on a terminal whether the meanings of the columns hold."""
    if not typer.confirm("Check the columns:", default=True):
        from powerbudget.errors import Fault, InputError

        raise InputError(
            Fault(
                "columns",
                "are not confirmed; nothing was written",
                advice="run once with --yes, correct the "
                "meanings in the mapping file, and import again with --force",
            )
        )


LOAD_KEYS = ("name", "sheet", "row", "quantity", "running_w", "maximum_w", "wh_per_day")


def result(
    found: Import, changed: Difference | None, text: SiteText | None
) -> dict[str, Any]:
    """Return an import as `--json` prints it."""
    typical_w, maximum_w = _signal_w(found)
    return {
        "rows": _account(found),
        "questions": _questions(found),
        "points": found.points(),
        "spare": found.points("spare"),
        "deleted": sum(x.kind == "deleted" for x in found.lines),
        "tags": found.tags(),
        "signal_list_typical_w": typical_w,
        "signal_list_maximum_w": maximum_w,
        "loads": [
            {**{key: getattr(load, key) for key in LOAD_KEYS}, "no_figure": load.why}
            for load in found.loads
        ],
        **{f"loads_{name}": _total(found, name) for name in LOAD_KEYS[-3:]},
        "columns": _taken(found),
        "difference": changed,
        "bus_v": text.bus_v if text else None,
        "notes": found.notes,
    }


def _account(found: Import) -> list[dict[str, Any]]:
    from powerbudget.lists.rows import ranges

    return [
        {
            "sheet": tally.sheet,
            "use": tally.use,
            "total": len(tally.rows),
            "accounts": tally.accounts(),
            "by_class": {name: len(rows) for name, rows in tally.by_class().items()},
            "where": {name: ranges(rows) for name, rows in tally.by_class().items()},
        }
        for tally in found.tallies
    ]


def _questions(found: Import) -> list[dict[str, Any]]:
    return [
        {
            "cause": q.cause,
            "text": q.text,
            "count": len(q.items),
            "action": q.action,
            "rows": [
                {"sheet": i.sheet, "row": i.row, "name": i.name} for i in q.items[:200]
            ],
        }
        for q in found.asked
    ]


def _taken(found: Import) -> list[dict[str, str]]:
    from powerbudget.lists.mapping import proposed

    return [
        {
            "sheet": sheet,
            "kind": kind,
            "column": column.letter,
            "head": column.head.text,
            "field": column.field,
            "evidence": column.evidence,
        }
        for sheet, kind, column in proposed(found)
    ]
