"""Store `--json` of every verb on every demo site, and compare two such stores.

    python tests/pinned/frozen_answers.py store FOLDER
    python tests/pinned/frozen_answers.py compare BEFORE AFTER
    python tests/pinned/frozen_answers.py table BEFORE AFTER
    python tests/pinned/frozen_answers.py short BEFORE AFTER
    python tests/pinned/frozen_answers.py pin

Not a test: proof that a change of structure leaves answers alone, or a list of what
a change of physics did to them.  Each leaf that differs by more than 1e-9 relative is
a row: verb, site, path, before, after.  `table` groups them by verb, site and family
of paths and names the correction behind each by the first rule of `corrections.toml`
that fits; a group that none fits is UNEXPLAINED.  `short` prints the figures that the
same file calls telling.  `pin` keeps anew the answers that `test_answers.py` holds.
"""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path
from typing import Any, TypeGuard

ROOT = Path(__file__).parents[2]
SITES = ROOT / "sites"
GALLERY = Path(__file__).with_name("gallery")
"""Small sites that between them hold most keys of a site file, and claims of every kind:
what carries a result to an answer is held where a demo site has no use for it."""
ANSWERS = Path(__file__).with_name("answers")
QUICK = """
    loads.built-in weather.built-in run.built-in size.built-in check.built-in
    loads.coastal-meter-run run.coastal-meter-run check.coastal-meter-run
    review.bare run.winter-hybrid check.winter-hybrid
    loads.epa-wellpad-8-1 loads.electric-wellpad check.balances-on-paper
    loads.tag-list-station check.tag-list-station parts
    check.checked-station-12v check.checked-station-24v
    review.claims-alone
    loads.relay-north check.relay-north
    loads.pump-south run.pump-south check.pump-south
    loads.tower-cold run.tower-cold size.tower-cold check.tower-cold
    size.hut-open diff.gallery
    run.hill-frozen size.hill-frozen check.hill-frozen
    run.mast-fuel check.mast-fuel review.mast-fuel
""".split()  # noqa: SIM905
"""Calls whose answers `test_answers.py` holds in the default tests."""
SLOW = """
    check.propane-relay run.relay-north size.relay-north compare.tower-cold review.hill-frozen
    size.pump-south compare.pump-south compare.relay-north
    review.coastal-meter-run review.relay-north run.propane-relay run.hot-valve-site
    weather.foggy-basin-station
    compare.dark-gas-wellpad compare.coastal-meter-run compare.propane-relay
    size.foggy-basin-station size.polar-station size.tag-list-station
    run.foggy-basin-station run.polar-station run.two-well-pad run.tag-list-station
    run.gas-well-free-gas run.epa-wellpad-20-2
    weather.northern-wellpad-no-record
""".split()  # noqa: SIM905
"""And those of the slow ones.  Not size.hot-valve-site: its array one string too small
lies on the edge of a disconnect, where two processors differ by an hour of 8,760."""
RULES = Path(__file__).with_name("corrections.toml")
RENAMED: list[list[str]] = tomllib.loads(RULES.read_text())["renamed"]
"""Words of rows as they were and as they are, so that a row is found under both."""
TIGHT = 1e-9
ABSENT = "(absent)"
# what tells the rows of a list apart, so that a new row does not move those after it
NAMED_BY = (
    *("name", "key", "symbol", "assumption", "piece", "month", "share_frac"),
    *("way", "days", "start", "array_strings", "text"),
)


def commands() -> dict[str, list[str]]:
    """Return every call by the name of its file [words of the command line]."""
    calls = {"parts": ["parts"]}
    for site in [None, *sorted(SITES.glob("*.toml"))]:
        name, where = ("built-in", []) if site is None else (site.stem, [str(site)])
        for verb in ("loads", "weather", "run", "size", "check"):
            calls[f"{verb}.{name}"] = [verb, *where]
        if site is not None:
            calls[f"compare.{name}"] = ["compare", *where]
    station = SITES / "coastal-meter-run.toml"
    claims = SITES / "claims" / "coastal-meter-run.toml"
    calls["review.coastal-meter-run"] = ["review", str(station), str(claims)]
    calls["review.bare"] = ["review", str(claims)]
    return calls | gallery()


def gallery() -> dict[str, list[str]]:
    """Return the calls on the sites of the gallery [words of the command line]."""
    where = {path.stem: str(path) for path in sorted(GALLERY.glob("*.toml"))}
    calls = {
        f"{verb}.{site}": [verb, where[site]]
        for verb in ("loads", "run", "size", "check", "compare")
        for site in (
            "relay-north",
            "pump-south",
            "tower-cold",
            "hill-frozen",
            "mast-fuel",
        )
    }
    for site in ("relay-north", "hill-frozen", "mast-fuel"):
        calls[f"review.{site}"] = ["review", where[site], where[f"{site}-claims"]]
    calls["run.relay-north"] += ["--autonomy"]
    calls["size.relay-north"] += ["--tilt", "search"]
    calls["size.pump-south"] += ["--monte-carlo", "30", "--reliability"]
    calls["size.hut-open"] = ["size", where["hut-open"]]
    north, south = where["relay-north"], where["pump-south"]
    calls["diff.gallery"] = ["diff", north, south, "--all"]
    calls["review.claims-alone"] = ["review", where["relay-north-claims"]]
    return calls


def store(folder: Path, names: Iterable[str] | None = None) -> None:
    """Run calls, all of them by default, and keep exit code and answer [files]."""
    folder.mkdir(parents=True, exist_ok=True)
    calls = commands()

    def one(name: str) -> None:
        line = [sys.executable, "-m", "powerbudget", *calls[name], "--json"]
        done = subprocess.run(
            line, capture_output=True, text=True, cwd=ROOT, check=False
        )
        try:
            answer = json.loads(done.stdout)
        except json.JSONDecodeError:
            answer = done.stdout
        kept = {"exit": done.returncode, "answer": answer}
        if names is None:
            kept["remarks"] = done.stderr.replace(str(ROOT), "")
        else:
            kept = nine_digits(kept)
        (folder / f"{name}.json").write_text(json.dumps(kept, indent=1) + "\n")

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(one, names or calls))


def nine_digits(value: Any) -> Any:
    """Return a JSON value with its floats to nine digits."""
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if isinstance(value, dict):
        return {key: nine_digits(item) for key, item in value.items()}
    return [nine_digits(item) for item in value] if isinstance(value, list) else value


def leaves(value: object, path: str = "") -> dict[str, object]:
    """Return every scalar of a JSON value by its path."""
    if isinstance(value, dict):
        pairs = [(f"{path}.{key}", item) for key, item in value.items()]
    elif isinstance(value, list):
        pairs = [(f"{path}[{row}]", item) for row, item in rows(value)]
    else:
        return {path: value}
    found: dict[str, object] = {}
    for where, item in pairs:
        found |= leaves(item, where)
    return found


def rows(items: list[object]) -> Iterator[tuple[str, object]]:
    """Yield the items of a list by what names them, else by place [(row, item)]."""
    seen: Counter[str] = Counter()
    for number, item in enumerate(items):
        row = row_name(item) or str(number)
        seen[row] += 1
        yield (row if seen[row] == 1 else f"{row} ({seen[row]})"), item


def row_name(item: object) -> str:
    """Return what names a row of a list; figures within a sentence do not count."""
    told_by = {"text": item} if isinstance(item, str) else {}
    row = item if isinstance(item, dict) else told_by
    key = next(
        (key for key in NAMED_BY if isinstance(row.get(key), str | int | float)), ""
    )
    named = row.get(key, "")
    # Kept to nine digits, found to all of them: one row all the same.
    named = f"{named:.6g}" if isinstance(named, float) else named
    told = f"{named} {row.get('subject') or ''}".strip()
    told = re.sub(r"\d[\d,.]*", "9", told) if key == "text" else told
    for old, new in RENAMED:
        told = told.replace(old, new)
    return told.translate({ord("["): "(", ord("]"): ")"})


def same(a: object, b: object) -> bool:
    """Return whether two leaves agree, numbers to 1e-9 relative."""
    plain = (int, float)
    if isinstance(a, plain) and isinstance(b, plain):
        return math.isclose(a, b, rel_tol=TIGHT, abs_tol=1e-12) or a == b
    return a == b


@dataclass(frozen=True)
class Difference:
    """One leaf that two stores do not agree on."""

    verb: str
    site: str
    path: str
    before: object
    after: object

    @property
    def family(self) -> str:
        """Return the path without rows [words]."""
        return re.sub(r"\[[^\]]*\]", "[]", self.path).removeprefix(".answer")

    @property
    def change(self) -> str:
        """Return what became of the leaf [word]."""
        if self.before == ABSENT:
            return "new"
        return "gone" if self.after == ABSENT else "moved"

    @property
    def kind(self) -> str:
        """Return what the leaf is on either side [word]."""
        ends = [end for end in (self.before, self.after) if end != ABSENT]
        return "figure" if any(map(is_number, ends)) else "text"

    @property
    def relative(self) -> float:
        """Return the change over the greater magnitude; nan where not of numbers."""
        a, b = self.before, self.after
        if not (is_number(a) and is_number(b)):
            return math.nan
        return abs(b - a) / max(abs(a), abs(b))


def is_number(value: object) -> TypeGuard[int | float]:
    """Return whether a leaf is a number and neither true nor false."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def differences(before: Path, after: Path) -> Iterator[Difference]:
    """Yield every leaf that differs between two stores."""
    names = {path.name for folder in (before, after) for path in folder.glob("*.json")}
    for name in sorted(names):
        verb, _, site = name.removesuffix(".json").partition(".")
        old, new = read(before / name), read(after / name)
        for path in dict.fromkeys([*old, *new]):
            a, b = old.get(path, ABSENT), new.get(path, ABSENT)
            if not same(a, b):
                yield Difference(verb, site, path, a, b)


def read(path: Path) -> dict[str, object]:
    """Return the leaves of one stored answer; none where there is none."""
    return leaves(json.loads(path.read_text())) if path.exists() else {}


def compare(found: list[Difference]) -> None:
    """Print every leaf that differs as a table."""
    print("| call | figure | before | after |\n| --- | --- | --- | --- |")
    for one in found:
        call = f"{one.verb} {one.site}"
        print(f"| {call} | {one.path} | {cell(one.before)} | {cell(one.after)} |")


def cell(value: object, width: int = 60) -> str:
    """Return a leaf as a cell of a table, cut to a width [text]."""
    told = f"{value:.6g}" if isinstance(value, float) else str(value)
    return re.sub(r"\s+", " ", told).replace("|", "/")[:width]


@dataclass(frozen=True)
class Rule:
    """Which differences one numbered correction explains; what is left out fits all."""

    correction: str
    cause: str
    verb: str = "*"
    site: str = "*"
    path: str = ""
    change: str = "*"
    kind: str = "*"

    def fits(self, one: Difference) -> bool:
        """Return whether a difference is of this rule."""
        names = [
            (one.verb, self.verb),
            (one.site, self.site),
            (one.change, self.change),
            (one.kind, self.kind),
        ]
        by_name = all(
            any(fnmatch(name, pattern) for pattern in patterns.split())
            for name, patterns in names
        )
        return by_name and re.search(self.path, one.path) is not None


UNEXPLAINED = Rule("0", "UNEXPLAINED")


def attributed(found: list[Difference]) -> dict[Rule, list[Difference]]:
    """Return the differences by the first rule that fits each."""
    rules = [Rule(**row) for row in tomllib.loads(RULES.read_text())["rule"]]
    by_rule: dict[Rule, list[Difference]] = {rule: [] for rule in rules}
    for one in found:
        rule = next((rule for rule in rules if rule.fits(one)), UNEXPLAINED)
        by_rule.setdefault(rule, []).append(one)
    return by_rule


def table(found: list[Difference]) -> None:
    """Print the differences by correction, verb, site and family of paths."""
    titles = tomllib.loads(RULES.read_text())["corrections"]
    by_rule = attributed(found)
    print("| correction | cause | leaves |\n| --- | --- | --- |")
    for rule in sorted(by_rule, key=lambda rule: rule.correction):
        title = f"{rule.correction} {titles.get(str(rule.correction), '')}"
        print(f"| {title} | {rule.cause} | {len(by_rule[rule])} |")
    print(
        "\n| verb | site | figure | leaves | greatest change | at | before | after "
        "| cause |"
    )
    print("| --- " * 9 + "|")
    for rule, some in by_rule.items():
        print_groups(rule, some)


def print_groups(rule: Rule, found: list[Difference]) -> None:
    """Print a row for each verb, site and family, by the leaf that moved most."""
    groups: dict[tuple[str, str, str], list[Difference]] = defaultdict(list)
    for one in found:
        groups[one.verb, one.site, one.family].append(one)
    for head, some in groups.items():
        most = max(some, key=lambda one: (one.relative == one.relative, one.relative))
        moved = "" if math.isnan(most.relative) else f"{most.relative:.2g}"
        ends = [cell(most.path), cell(most.before), cell(most.after)]
        cells = [*head, str(len(some)), moved, *ends, f"{rule.correction} {rule.cause}"]
        print("| " + " | ".join(cells) + " |")


def short(found: list[Difference]) -> None:
    """Print the figures that the rules call telling, with the cause of each."""
    known = tomllib.loads(RULES.read_text())["telling"]
    by_rule = attributed(found)
    causes = {one: rule for rule, some in by_rule.items() for one in some}
    print("| site | figure | before | after | correction |")
    print("| --- " * 5 + "|")
    for row in known:
        where = (row["verb"], row["site"], ".answer" + row["path"])
        one = next(d for d in found if (d.verb, d.site, d.path) == where)
        ends = f"{rounded(one.before)} | {rounded(one.after)}"
        rule = f"{causes[one].correction}: {row.get('cause', causes[one].cause)}"
        print(f"| {one.site} | {row['figure']} | {ends} | {rule} |")


def rounded(value: object) -> str:
    """Return a leaf for readers: four digits, thousands apart [text]."""
    if not is_number(value):
        return cell(value)
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.4g}"


if __name__ == "__main__":
    verb, *rest = sys.argv[1:]
    folders = [Path(folder) for folder in rest]
    if verb == "store":
        store(folders[0])
    elif verb == "pin":
        store(ANSWERS, [*QUICK, *SLOW])
    else:
        found = list(differences(*folders))
        {"compare": compare, "table": table, "short": short}[verb](found)
        print(f"\n{len(found)} figures differ", file=sys.stderr)
