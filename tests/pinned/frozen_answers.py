"""Store `--json` of every verb on every demo site, and compare two such stores.

    python tests/pinned/frozen_answers.py store FOLDER
    python tests/pinned/frozen_answers.py compare BEFORE AFTER

Not a test: proof that a change of structure leaves answers alone, or a list of what
a change of physics did to them.  Each leaf that differs by more than 1e-9 relative is
a row: verb, site, path, before, after.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).parents[2]
SITES = ROOT / "sites"
TIGHT = 1e-9


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
    return calls


def store(folder: Path) -> None:
    """Run every call and keep what it prints, exit code first [files]."""
    folder.mkdir(parents=True, exist_ok=True)

    def one(item: tuple[str, list[str]]) -> None:
        name, words = item
        line = [sys.executable, "-m", "powerbudget", *words, "--json"]
        done = subprocess.run(
            line, capture_output=True, text=True, cwd=ROOT, check=False
        )
        try:
            answer = json.loads(done.stdout)
        except json.JSONDecodeError:
            answer = done.stdout
        kept = {"exit": done.returncode, "answer": answer, "remarks": done.stderr}
        (folder / f"{name}.json").write_text(json.dumps(kept, indent=1))

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(one, commands().items()))


def leaves(value: object, path: str = "") -> dict[str, object]:
    """Return every scalar of a JSON value by its path."""
    if isinstance(value, dict):
        pairs = [(f"{path}.{key}", item) for key, item in value.items()]
    elif isinstance(value, list):
        pairs = [(f"{path}[{number}]", item) for number, item in enumerate(value)]
    else:
        return {path: value}
    found: dict[str, object] = {}
    for where, item in pairs:
        found |= leaves(item, where)
    return found


def same(a: object, b: object) -> bool:
    """Return whether two leaves agree, numbers to 1e-9 relative."""
    plain = (int, float)
    if isinstance(a, plain) and isinstance(b, plain):
        return math.isclose(a, b, rel_tol=TIGHT, abs_tol=1e-12) or a == b
    return a == b


def compare(before: Path, after: Path) -> int:
    """Print every leaf that differs as a table; return how many [count]."""
    count = 0
    print("| call | figure | before | after |\n| --- | --- | --- | --- |")
    for path in sorted(before.glob("*.json")):
        old = leaves(json.loads(path.read_text()))
        other = after / path.name
        new = leaves(json.loads(other.read_text())) if other.exists() else {}
        for key in dict.fromkeys([*old, *new]):
            a, b = old.get(key, "(absent)"), new.get(key, "(absent)")
            if not same(a, b):
                count += 1
                print(f"| {path.stem} | {key} | {str(a)[:60]} | {str(b)[:60]} |")
    return count


if __name__ == "__main__":
    verb, *rest = sys.argv[1:]
    if verb == "store":
        store(Path(rest[0]))
    else:
        found = compare(Path(rest[0]), Path(rest[1]))
        print(f"\n{found} figures differ", file=sys.stderr)
