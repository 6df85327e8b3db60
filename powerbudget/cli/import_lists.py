"""`powerbudget import`: client's signal lists and equipment schedules to a site file."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.common import JsonOption, print_json

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
            help="Meanings of the columns; SITE-lists.toml when left out.",
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
                "has names that the list brings too: imported before?",
                ", ".join(twice[:5]),
                "",
                "delete the old loads, or write to a new file with -o",
                str(site),
            )
        )
    whole = old.rstrip("\n") + "\n\n" + added
    read_site_text(whole, site, may_be_open=True)
    return whole


def _page(found: Import, changed: Difference | None) -> None:
    """Print what was read, each row accounted for, then the questions."""
    from powerbudget.lists.checks import tally_text
    from powerbudget.lists.mapping import proposed

    lines = _sums(found)
    lines.append("Columns:")
    for sheet, _, column in proposed(found):
        place = f"{sheet} {column.letter} '{column.head.text}'"
        lines.append(f"  {place}: {column.field} ({column.evidence})")
    lines.append("Rows:")
    for tally in found.tallies:
        place = f"{tally.sheet} ({tally.use}, {len(tally.rows):,} rows)"
        sums = ", ".join(f"{name} {n:,}" for name, n in tally.accounts().items())
        lines += [f"  {place}: {sums}", f"    {_short(tally_text(tally))}"]
    if changed is not None:
        lines += ["Since the last import:", *(f"  {line}" for line in changed.lines())]
    questions = list(found.asked)
    if questions:
        lines.append(f"Questions ({len(questions)}):")
        lines += [f"  - {question.text}" for question in questions]
    lines += [f"Note: {note}" for note in found.notes]
    typer.echo("\n".join(lines))


def _sums(found: Import) -> list[str]:
    """Return the points, watts and loads of an import as lines."""
    lines = []
    for kind, word in (("point", "Points"), ("spare", "Spares")):
        counts = sorted(found.points(kind).items())
        if counts:
            lines.append(
                f"{word}: " + ", ".join(f"{n:,} {k.upper()}" for k, n in counts)
            )
    stated = [x for x in found.lines if x.kind == "point" and x.maximum_w]
    if stated:
        typical_w = sum(x.typical_w or 0.0 for x in stated)
        maximum_w = sum(x.maximum_w or 0.0 for x in stated)
        lines.append(
            f"Stated by the signal list: {typical_w:.3g} W in the normal state, "
            f"{maximum_w:.3g} W with everything on"
        )
    if found.loads:
        running_w = sum(x.running_w or 0.0 for x in found.loads)
        wh_per_day = sum(x.wh_per_day or 0.0 for x in found.loads)
        lines.append(
            f"Loads: {len(found.loads):,}; {running_w:.3g} W running, "
            f"{wh_per_day:.4g} Wh/day at the loads"
        )
    return lines


def _short(text: str) -> str:
    return text if len(text) <= 400 else text[:400] + " ... (all of them with --json)"


def _confirm() -> None:
    """Ask on a terminal whether the meanings of the columns hold."""
    if not typer.confirm("Are the columns taken right?", default=True):
        from powerbudget.errors import Fault, InputError

        raise InputError(
            Fault(
                "columns",
                "are not confirmed; nothing was written",
                advice="run once with --yes, correct the "
                "meanings in the mapping file, and import again with --force",
            )
        )


def result(
    found: Import, changed: Difference | None, text: SiteText | None
) -> dict[str, Any]:
    """Return an import as `--json` prints it."""
    from powerbudget.lists.mapping import proposed
    from powerbudget.lists.rows import ranges

    rows = [
        {
            "sheet": t.sheet,
            "use": t.use,
            "total": len(t.rows),
            "accounts": t.accounts(),
            "by_class": {k: len(v) for k, v in t.by_class().items()},
            "where": {k: ranges(v) for k, v in t.by_class().items()},
        }
        for t in found.tallies
    ]
    questions = [
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
    live = [x for x in found.lines if x.kind == "point"]
    return {
        "rows": rows,
        "questions": questions,
        "points": found.points(),
        "spare": found.points("spare"),
        "deleted": sum(x.kind == "deleted" for x in found.lines),
        "tags": found.tags(),
        "signal_list_typical_w": sum(x.typical_w or 0.0 for x in live),
        "signal_list_maximum_w": sum(x.maximum_w or 0.0 for x in live),
        "loads": [
            {
                "name": x.name,
                "sheet": x.sheet,
                "row": x.row,
                "quantity": x.quantity,
                "running_w": x.running_w,
                "maximum_w": x.maximum_w,
                "wh_per_day": x.wh_per_day,
                "no_figure": x.why,
            }
            for x in found.loads
        ],
        "loads_running_w": sum(x.running_w or 0.0 for x in found.loads),
        "loads_maximum_w": sum(x.maximum_w or 0.0 for x in found.loads),
        "loads_wh_per_day": sum(x.wh_per_day or 0.0 for x in found.loads),
        "columns": [
            {
                "sheet": s,
                "kind": k,
                "column": c.letter,
                "head": c.head.text,
                "field": c.field,
                "evidence": c.evidence,
            }
            for s, k, c in proposed(found)
        ],
        "difference": changed,
        "bus_v": text.bus_v if text else None,
        "notes": found.notes,
    }
